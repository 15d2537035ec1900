"""The energize decision as a file: facts from JSON, decisions to JSON, and the digest of both.

Times are RFC 3339 with zone, hours are elapsed hours, temperatures are °C. A stored decision
keeps its facts in this format, so that it can be derived again.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

from config.instants import rfc3339
from readings.air import require_plausible
from scheduling.cure import Arrhenius, Eurocode2, Law, NurseSaul
from scheduling.drying import HumidityRecord
from scheduling.energize import Decision, decide
from scheduling.floor import (
    DAMP_PERCENT,
    CuringMaterial,
    Evidence,
    Facts,
    ImplausibleFacts,
    Layer,
)
from scheduling.forecast import Promise
from scheduling.halfday import zone_named
from scheduling.holds import REQUIRED, STANDING
from scheduling.moisture import Drying, MoistureLimit
from scheduling.progress import CureProgress
from scheduling.temperatures import TemperatureRecord

EVIDENCE_KINDS = (REQUIRED.keys() | STANDING.keys() | {"moisture", "frost-cleared"}) - {
    "temperatures"
}
STAGES = ("arrival", "laid", "covered", "handover", "service")
OUTCOMES = ("pass", "fail", "undecided")
SHOWN_DECIMALS = 1000  # hours are rounded down to thousandths, so that none look reached too soon


def facts_from_json(text: str | bytes) -> Facts:
    """Read a facts file; raises ImplausibleFacts (or another DomainError) with the field."""
    try:
        tree = json.loads(text, object_pairs_hook=_unique_names)
    except ImplausibleFacts:
        raise
    except (ValueError, RecursionError) as error:
        raise ImplausibleFacts(f"This is not JSON: {error}.", pointer="#") from error
    return facts_from_tree(tree)


def facts_from_tree(tree: Any) -> Facts:
    """Facts from parsed JSON; raises like `facts_from_json`."""
    top = _Node(tree, "#")
    now = top.instant("now")
    return Facts(
        now=now,
        zone=zone_named(top.text("zone")),
        assume_c=top.number("assume_c"),
        max_gap_hours=top.number("max_gap_hours"),
        layers=tuple(_layer(node) for node in top.items("layers")),
        temperatures=TemperatureRecord.of(
            [_temperature(node) for node in top.items("temperatures", optional=True)],
            not_after=now,
        ),
        promises=tuple(_promise(node) for node in top.items("promises", optional=True)),
        evidence=tuple(_evidence(node) for node in top.items("evidence", optional=True)),
        required=tuple(top.texts("required")),
        humidities=HumidityRecord.of(
            [
                (node.instant("at"), node.number("percent"), node.optional_text("source"))
                for node in top.items("humidities", optional=True)
            ],
            not_after=now,
        ),
        assume_rh_percent=_or(top.optional_number("assume_rh_percent"), DAMP_PERCENT),
    )


def _or(number: float | None, default: float) -> float:
    return default if number is None else number


def material_from_tree(tree: Any, *, pointer: str) -> CuringMaterial:
    """A layer's material alone from parsed JSON; raises like `facts_from_json`."""
    return _material(_Node(tree, pointer))


def facts_to_tree(facts: Facts) -> dict[str, Any]:
    """Facts as JSON values, from which `facts_from_tree` makes the same facts again."""
    record = facts.temperatures
    return {
        "now": rfc3339(facts.now),
        "zone": facts.zone.key,
        "assume_c": facts.assume_c,
        "max_gap_hours": facts.max_gap_hours,
        "layers": [_layer_tree(layer) for layer in facts.layers],
        "temperatures": [
            {"at": rfc3339(at), "celsius": celsius, "source": source}
            for at, celsius, source in record.readings()
        ],
        "promises": [
            {"from": rfc3339(each.starts_at), "to": rfc3339(each.ends_at), "celsius": each.celsius}
            for each in facts.promises
        ],
        "evidence": [_evidence_tree(each) for each in facts.evidence],
        "required": list(facts.required),
        **_humidity_tree(facts),
    }


def decision_to_tree(decision: Decision) -> dict[str, Any]:
    """A decision as JSON values, names in the order in which people read them."""
    return {
        "may_energize": decision.may_energize,
        "earliest": _shown(decision.earliest),
        "likely": _shown(decision.likely),
        "latest": _shown(decision.latest),
        "governed_by": decision.governed_by,
        "layers": [_progress_tree(layer) for layer in decision.layers],
        "holds": [
            {
                "code": hold.code,
                "subject": hold.subject,
                "text": hold.text,
                "cleared_by": hold.cleared_by,
            }
            for hold in decision.holds
        ],
        "because": list(decision.because),
        "caution": decision.caution,
    }


def decision_to_json(decision: Decision) -> str:
    """A decision as text; the same decision gives the same bytes."""
    return json.dumps(decision_to_tree(decision), indent=2, ensure_ascii=False) + "\n"


def digest_of(tree: Mapping[str, Any]) -> str:
    """SHA-256 of JSON values, whatever the order of names, as 64 hex digits."""
    canonical = json.dumps(tree, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(canonical.encode()).hexdigest()


def derive(facts_tree: Any) -> dict[str, Any]:
    """The decision, as JSON values, that these facts lead to."""
    return decision_to_tree(decide(facts_from_tree(facts_tree)))


@dataclass(frozen=True, slots=True)
class _Node:
    """A JSON value and where it stands; every getter refuses what is not of its kind."""

    value: Any
    at: str

    def get(self, name: str) -> Any:
        if not isinstance(self.value, dict):
            raise ImplausibleFacts("Here an object is needed.", pointer=self.at)
        return self.value.get(name)

    def items(self, name: str, *, optional: bool = False) -> list[_Node]:
        found = self.get(name)
        if found is None and optional and name not in self.value:
            return []
        if not isinstance(found, list):
            raise self._wrong(name, "a list")
        return [_Node(item, f"{self.at}/{name}/{index}") for index, item in enumerate(found)]

    def node(self, name: str) -> _Node:
        return _Node(self.get(name), f"{self.at}/{name}")

    def text(self, name: str, *, of: Sequence[str] | frozenset[str] | set[str] = ()) -> str:
        found = self.get(name)
        if not isinstance(found, str) or not found:
            raise self._wrong(name, "a text")
        if of and found not in of:
            raise self._wrong(name, f"one of {', '.join(sorted(of))}")
        return found

    def texts(self, name: str) -> list[str]:
        nodes = self.items(name)
        for node in nodes:
            if not isinstance(node.value, str) or not node.value:
                raise ImplausibleFacts("Here a text is needed.", pointer=node.at)
        return [node.value for node in nodes]

    def optional_text(self, name: str) -> str:
        return "" if self.get(name) is None else self.text(name)

    def number(self, name: str) -> float:
        found = self.get(name)
        if isinstance(found, bool) or not isinstance(found, int | float):
            raise self._wrong(name, "a number")
        try:
            number = float(found)
        except OverflowError:
            number = math.inf
        if not math.isfinite(number):
            raise self._wrong(name, "a finite number")
        return number

    def optional_number(self, name: str) -> float | None:
        return None if self.get(name) is None else self.number(name)

    def optional_flag(self, name: str) -> bool:
        found = self.get(name)
        if not (found is None or isinstance(found, bool)):
            raise self._wrong(name, "true or false")
        return bool(found)

    def instant(self, name: str) -> datetime:
        found = self.get(name)
        if not isinstance(found, str):
            raise self._wrong(name, "a time such as 2027-03-10T07:00:00Z")
        try:
            at = datetime.fromisoformat(found)
        except ValueError:
            raise self._wrong(name, "a time such as 2027-03-10T07:00:00Z") from None
        if at.tzinfo is None:
            raise ImplausibleFacts(
                f"{found} has no zone; write Z or an offset such as +02:00.",
                pointer=f"{self.at}/{name}",
            )
        return at

    def _wrong(self, name: str, wanted: str) -> ImplausibleFacts:
        missing = name not in self.value
        shown = "It is missing" if missing else f"{json.dumps(self.value[name])[:60]} is not"
        return ImplausibleFacts(
            f"{shown}; {wanted} is needed." if missing else f"{shown} {wanted}.",
            pointer=f"{self.at}/{name}",
        )


def _unique_names(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise ImplausibleFacts(f"{twice!r} is written twice in one object.", pointer=f"#/{twice}")
    return found


def _humidity_tree(facts: Facts) -> dict[str, Any]:
    """Humidity only where it is known or counts: files without it stay as they are."""
    readings = [
        {"at": rfc3339(at), "percent": percent, "source": source}
        for at, percent, source in facts.humidities.readings()
    ]
    if not readings and not any(layer.material.drying for layer in facts.layers):
        return {}
    return {"humidities": readings, "assume_rh_percent": facts.assume_rh_percent}


def _layer(node: _Node) -> Layer:
    return Layer(
        id=node.text("id"),
        placed_at=node.instant("placed_at"),
        material=_material(node.node("material")),
    )


def _material(node: _Node) -> CuringMaterial:
    return CuringMaterial(
        name=node.text("name"),
        law=_law(node.node("law")),
        lowest_c=node.number("lowest_c"),
        heat_after_hours=node.number("heat_after_hours"),
        walk_after_hours=node.optional_number("walk_after_hours"),
        frost_watch_hours=node.number("frost_watch_hours"),
        moisture=_moisture(node.node("moisture")),
        drying=_drying(node.node("drying")),
        assumed=node.optional_flag("assumed"),
    )


def _law(node: _Node) -> Law:
    kind = node.text("kind", of=("arrhenius", "ec2", "nurse-saul"))
    if kind == "ec2":
        return Eurocode2()
    reference_c = node.number("reference_c")
    require_plausible(reference_c, pointer=f"{node.at}/reference_c")
    field = "activation_k" if kind == "arrhenius" else "datum_c"
    term = node.number(field)
    try:
        return (
            Arrhenius(activation_k=term, reference_c=reference_c)
            if kind == "arrhenius"
            else NurseSaul(datum_c=term, reference_c=reference_c)
        )
    except ValueError as error:
        raise ImplausibleFacts(str(error), pointer=f"{node.at}/{field}") from error


def _moisture(node: _Node) -> MoistureLimit | None:
    if node.value is None:
        return None
    return MoistureLimit(
        method=node.text("method"), limit=node.number("limit"), unit=node.text("unit")
    )


def _drying(node: _Node) -> Drying | None:
    if node.value is None:
        return None
    return Drying(
        hours=node.number("hours"),
        reference_c=node.number("reference_c"),
        reference_rh_percent=node.number("reference_rh_percent"),
    )


def _temperature(node: _Node) -> tuple[datetime, float, str]:
    """A reading as the coldest that its thermometer allows: value less uncertainty."""
    celsius = node.number("celsius")
    require_plausible(celsius, pointer=f"{node.at}/celsius")
    uncertainty_k = node.optional_number("uncertainty_k") or 0.0
    if uncertainty_k < 0:
        raise ImplausibleFacts(
            "An uncertainty is not below zero.", pointer=f"{node.at}/uncertainty_k"
        )
    return node.instant("at"), celsius - uncertainty_k, node.optional_text("source")


def _promise(node: _Node) -> Promise:
    return Promise(
        starts_at=node.instant("from"), ends_at=node.instant("to"), celsius=node.number("celsius")
    )


def _evidence(node: _Node) -> Evidence:
    kind = node.text("kind", of=EVIDENCE_KINDS)
    is_check, is_moisture = kind == "check", kind == "moisture"
    told = is_check or node.get("outcome") is not None
    return Evidence(
        kind=kind,
        at=node.instant("at"),
        outcome=node.text("outcome", of=OUTCOMES) if told else "pass",
        stage=node.text("stage", of=STAGES) if is_check else "",
        layer=node.text("layer") if kind in ("moisture", "frost-cleared") else "",
        value=node.number("value") if is_moisture else None,
        method=node.optional_text("method") if is_moisture else "",
        unit=node.optional_text("unit") if is_moisture else "",
        subject=node.optional_text("subject") if kind in STANDING else "",
    )


def _layer_tree(layer: Layer) -> dict[str, Any]:
    material = layer.material
    limit = material.moisture
    return {
        "id": layer.id,
        "placed_at": rfc3339(layer.placed_at),
        "material": {
            "name": material.name,
            "law": law_tree(material.law),
            "lowest_c": material.lowest_c,
            "heat_after_hours": material.heat_after_hours,
            "walk_after_hours": material.walk_after_hours,
            "frost_watch_hours": material.frost_watch_hours,
            "moisture": limit
            and {"method": limit.method, "limit": limit.limit, "unit": limit.unit},
            **({"drying": asdict(material.drying)} if material.drying else {}),
            **({"assumed": True} if material.assumed else {}),
        },
    }


def law_tree(law: Law) -> dict[str, Any]:
    """A law as JSON values."""
    match law:
        case Arrhenius():
            return {
                "kind": "arrhenius",
                "activation_k": law.activation_k,
                "reference_c": law.reference_c,
            }
        case NurseSaul():
            return {"kind": "nurse-saul", "datum_c": law.datum_c, "reference_c": law.reference_c}
    return {"kind": "ec2"}


def _evidence_tree(each: Evidence) -> dict[str, Any]:
    told = {
        "stage": each.stage,
        "layer": each.layer,
        "value": each.value,
        "method": each.method,
        "unit": each.unit,
        "subject": each.subject,
    }
    return {
        "kind": each.kind,
        "at": rfc3339(each.at),
        "outcome": each.outcome,
        **{name: value for name, value in told.items() if value not in ("", None)},
    }


def _progress_tree(progress: CureProgress) -> dict[str, Any]:
    return {
        "id": progress.id,
        "equivalent_hours": _thousandths(progress.equivalent_hours),
        "required_hours": _plain(progress.required_hours),
        "unknown_hours": _thousandths(progress.unknown_hours),
        "ready": _shown(progress.ready),
        **({"drying": _drying_tree(progress.drying)} if progress.drying else {}),
    }


def _drying_tree(drying: CureProgress) -> dict[str, Any]:
    return {
        "hours": _thousandths(drying.equivalent_hours),
        "required_hours": _plain(drying.required_hours),
        "unknown_hours": _thousandths(drying.unknown_hours),
        "ready": _shown(drying.ready),
    }


def _thousandths(hours: float) -> float | int:
    return _plain(math.floor(hours * SHOWN_DECIMALS + 1e-4) / SHOWN_DECIMALS)


def _plain(number: float) -> float | int:
    return int(number) if number == int(number) else number


def _shown(at: datetime | None) -> str | None:
    return at.strftime("%Y-%m-%dT%H:%M:%SZ") if at else None
