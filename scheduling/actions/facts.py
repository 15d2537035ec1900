"""Rows as the energize decision takes them: the facts of rooms, in so many queries for all."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime, timedelta
from functools import reduce
from itertools import chain
from operator import or_
from typing import Any
from uuid import UUID

from django.contrib.postgres.expressions import ArraySubquery
from django.db.models import Exists, Max, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import JSONObject
from django.utils.translation import gettext

from jobs.materials import drying_hours, heat_after_hours
from jobs.models import Control, Element, FloorSensor, Material, Room
from jobs.rooms import PROOFS
from readings.models import Check, SiteTemperature
from scheduling import models
from scheduling.drying import HumidityRecord
from scheduling.facts import material_from_tree
from scheduling.floor import CuringMaterial, Evidence, Facts, Layer
from scheduling.forecast import RECENT_HOURS, Promise
from scheduling.halfday import zone_named
from scheduling.temperatures import TemperatureRecord

MAX_GAP_HOURS = 6.0  # a house does not cool down and warm up again unseen; no source
WATCH_HOURS = 24.0  # of frost, where the sheet prints none; common practice, no source
# Terms of a law that an entry leaves open: of Portland cement, from memory.
LAW_TERMS: Mapping[str, Mapping[str, float]] = {
    "arrhenius": {"activation_k": 5000.0, "reference_c": 20.0},
    "nurse-saul": {"datum_c": 0.0, "reference_c": 20.0},
    "ec2": {},
}

LayersOf = dict[UUID, list[models.Layer]]
Readings = dict[UUID, list[tuple[datetime, float, str]]]


def layers_of(rooms: Sequence[Room]) -> LayersOf:
    """The layers of rooms with their materials, placed or to come, from the bottom up."""
    found: LayersOf = {room.pk: [] for room in rooms}
    rows = models.Layer.objects.filter(room__in=rooms, removed_at=None)
    for row in rows.select_related("material").order_by("position", "pk"):
        found[row.room_id].append(row)
    return found


def facts_of(
    rooms: Sequence[Room], *, at: datetime, layers: LayersOf | None = None
) -> dict[UUID, Facts]:
    """The facts of rooms as they were at `at`, by room; jobs are read with the rooms.

    What came in later counts if it tells of `at` or before: a phone that was offline. `layers` are
    those of `layers_of`, where they are read already.
    """
    layers = {
        room_id: [row for row in rows if row.placed_at and row.placed_at <= at]
        for room_id, rows in (layers_of(rooms) if layers is None else layers).items()
    }
    records = _recorded(rooms, at)
    proof = {room.pk: _proof(records[room.pk], layers[room.pk], at) for room in rooms}
    _add_notices(proof, rooms, at)
    temperatures, humidities = _climate(rooms, layers, at)
    return {
        room.pk: Facts(
            now=at,
            zone=zone_named(room.job.time_zone),
            assume_c=room.job.assume_c,
            max_gap_hours=MAX_GAP_HOURS,
            layers=[layer_facts(row) for row in layers[room.pk]],
            temperatures=TemperatureRecord.of(temperatures[room.pk], not_after=at),
            promises=[_promise(row) for row in records[room.pk]["promised"]],
            evidence=proof[room.pk],
            required=room.required or PROOFS,
            humidities=HumidityRecord.of(humidities[room.pk], not_after=at),
        )
        for room in rooms
    }


def layer_facts(row: models.Layer) -> Layer:
    """A placed layer as the rules take it, by the material's figures of the day it was placed."""
    assert row.placed_at is not None
    return Layer(
        id=layer_name(row),
        placed_at=row.placed_at,
        material=material_facts(row.material, row.curing, thickness_mm=row.thickness_mm),
    )


def material_facts(
    material: Material,
    curing: Mapping[str, Any] | None = None,
    *,
    thickness_mm: float | None,
) -> CuringMaterial:
    """A catalogue entry's curing figures (or those kept of it) as the rules take them."""
    curing = curing or material.curing or {}
    law = curing.get("law", {})
    terms = LAW_TERMS.get(law.get("kind", ""), {})
    tree = {
        "frost_watch_hours": WATCH_HOURS,
        **curing,
        "name": material.name,
        "law": {**terms, **law},
        "heat_after_hours": heat_after_hours(curing, thickness_mm),
        "drying": _drying(curing, thickness_mm),
        "assumed": is_assumed(material, curing),
    }
    return material_from_tree(tree, pointer="#/curing")


def is_assumed(material: Material, curing: Mapping[str, Any] | None) -> bool:
    """Whether no data sheet stands behind a layer's figures, or did when it was placed."""
    return bool(material.generic or (curing or {}).get("assumed"))


# The same of rows of layers, for a query over many.
ASSUMED = Q(material__generic=True) | Q(curing__assumed=True)


def assumed_materials(rooms: Sequence[Room]) -> dict[UUID, list[str]]:
    """Materials of placed layers whose figures are assumptions, by room, in one query."""
    return {room_id: assumed_in(rows) for room_id, rows in layers_of(rooms).items()}


def assumed_in(layers: Iterable[models.Layer]) -> list[str]:
    """The same of layers that are read with their materials: what is said of times rests on it."""
    assumed = (row for row in layers if row.placed_at and is_assumed(row.material, row.curing))
    return list(dict.fromkeys(row.material.name for row in assumed))


def assumed_among(rooms: Sequence[Room]) -> list[str]:
    """The same of several rooms together, in one query."""
    return assumed_in(chain(*layers_of(rooms).values()))


def assumed_words(names: Iterable[str]) -> str:
    """What is said wherever a date rests on such materials."""
    said = gettext("The figures of %(name)s are assumptions; no data sheet is at hand.")
    return " ".join(said % {"name": name} for name in names)


def _drying(curing: Mapping[str, Any], thickness_mm: float | None) -> dict[str, Any] | None:
    if not (rule := curing.get("drying")):
        return None
    return {
        "hours": drying_hours(curing, thickness_mm),
        "reference_c": rule["reference_c"],
        "reference_rh_percent": rule["reference_rh_percent"],
    }


def layer_name(row: models.Layer) -> str:
    """How a layer is called in facts, decisions and sentences."""
    return f"layer {row.position}"


def _climate(rooms: Sequence[Room], layers: LayersOf, at: datetime) -> tuple[Readings, Readings]:
    """Temperatures and humidities of a room and of its whole site since its first layer, or for a
    week.

    A temperature counts as the coldest that its thermometer allows.
    """
    margin = timedelta(hours=MAX_GAP_HOURS)
    since = {
        room.pk: min(
            [
                at - timedelta(hours=RECENT_HOURS),
                *(row.placed_at for row in layers[room.pk] if row.placed_at),
            ]
        )
        - margin
        for room in rooms
    }
    wanted = reduce(
        or_,
        (
            Q(job=room.job_id, at__gte=since[room.pk]) & (Q(room=room.pk) | Q(room=None))
            for room in rooms
        ),
        Q(pk=None),
    )
    rows = SiteTemperature.objects.filter(wanted, at__lte=at).values_list(
        "job_id",
        "room_id",
        "at",
        "celsius",
        "uncertainty_k",
        "source",
        "source_name",
        "humidity_percent",
    )
    of_job: dict[UUID, list[UUID]] = defaultdict(list)
    for room in rooms:
        of_job[room.job_id].append(room.pk)
    found: Readings = defaultdict(list)
    damp: Readings = defaultdict(list)
    for job_id, room_id, read_at, celsius, uncertainty_k, source, name, percent in rows:
        reading = (read_at, max(celsius - uncertainty_k, -40.0), name or source)
        for of_room in [room_id] if room_id else of_job[job_id]:
            if read_at >= since[of_room]:
                found[of_room].append(reading)
                if percent is not None:
                    damp[of_room].append((read_at, percent, name or source))
    return found, damp


def _recorded(rooms: Sequence[Room], at: datetime) -> dict[UUID, dict[str, Any]]:
    """What is recorded of each room, in one query: a table is one column, in JSON if it has many
    rows. An electrician's signature for the whole job is one for each of its rooms."""
    here = {"room": OuterRef("pk")}
    here_now = {**here, "removed_at": None}
    checks = Check.objects.filter(**here, taken_at__lte=at, superseded_by=None)
    newest = Max("faults__found_at", filter=Q(faults__voided_at=None, faults__found_at__lte=at))
    elements = Element.objects.filter(**here_now).annotate(fault_at=newest)
    signed = models.SignOff.objects.filter(
        job=OuterRef("job"), kind="electrician", signed_at__lte=at
    )
    evidence = models.Evidence.objects.filter(**here, at__lte=at)
    promises = models.Promise.objects.filter(**here, withdrawn_at=None)
    rows = Room.objects.filter(pk__in=[room.pk for room in rooms]).values(
        "pk",
        sensor=Exists(FloorSensor.objects.filter(**here_now)),
        control=Exists(Control.objects.filter(**here_now)),
        signed_at=Subquery(signed.order_by("-signed_at").values("signed_at")[:1]),
        measured=_rows(checks.order_by("sequence"), "stage", "outcome", "taken_at"),
        fitted=_rows(elements.order_by("label", "pk"), "label", "joints", "fault_at"),
        shown=_rows(
            evidence.order_by("at", "pk"),
            *("kind", "at", "outcome", "layer_id", "value", "method", "note"),
        ),
        promised=_rows(promises.order_by("pk"), "starts_at", "ends_at", "celsius"),
    )
    return {row["pk"]: dict(row) for row in rows}


def _rows(rows: QuerySet[Any], *names: str) -> ArraySubquery:
    return ArraySubquery(rows.values(json=JSONObject(**{name: name for name in names})))


def _promise(row: Mapping[str, Any]) -> Promise:
    return Promise(
        starts_at=datetime.fromisoformat(row["starts_at"]),
        ends_at=datetime.fromisoformat(row["ends_at"]),
        celsius=float(row["celsius"]),
    )


def _proof(
    record: Mapping[str, Any], layers: Sequence[models.Layer], at: datetime
) -> list[Evidence]:
    """What is proven of a room, or found wrong with it, but for warnings of visits."""
    found, joined_at = _faults_found(record["fitted"])
    for check in record["measured"]:
        taken_at = datetime.fromisoformat(check["taken_at"])
        if _still_proves(check["stage"], taken_at, joined_at, layers):
            found.append(
                Evidence(kind="check", stage=check["stage"], outcome=check["outcome"], at=taken_at)
            )
    for kind in ("sensor", "control"):
        if record[kind]:
            # What is in the room now was put there by somebody; the row has no time of its own.
            found.append(Evidence(kind=kind, at=at))
    found += _evidence(record["shown"], layers)
    if signed_at := record["signed_at"]:
        found.append(Evidence(kind="electrician", at=signed_at))
    return found


def _faults_found(
    elements: Iterable[Mapping[str, Any]],
) -> tuple[list[Evidence], datetime | None]:
    """Faults on the record that stand, and when an element of the room was last joined.

    A joint repairs what was found before it, so of an element the newest fault tells.
    """
    found, last = [], None
    for element in elements:
        times = [datetime.fromisoformat(joint["joined_at"]) for joint in element["joints"]]
        if element["fault_at"]:
            fault_at = datetime.fromisoformat(element["fault_at"])
            if not any(joined_at >= fault_at for joined_at in times):
                found.append(Evidence(kind="open-fault", at=fault_at, subject=element["label"]))
        last = max([*times, *([last] if last else [])], default=None)
    return found, last


def _still_proves(
    stage: str,
    taken_at: datetime,
    joined_at: datetime | None,
    layers: Sequence[models.Layer],
) -> bool:
    """Whether a check still counts although the element was repaired since.

    After a repair the newest stage is measured again: the covered floor, or the bare cable while
    nothing covers it.
    """
    if joined_at is None or taken_at >= joined_at:
        return True
    covered = any(row.embeds and row.placed_at <= joined_at for row in layers if row.placed_at)
    return stage != ("covered" if covered else "laid")


def _evidence(rows: Iterable[Mapping[str, Any]], layers: Sequence[models.Layer]) -> list[Evidence]:
    """What was proven beside readings; of faults the newest tells whether one stands."""
    names = {str(row.pk): layer_name(row) for row in layers}
    found, fault = [], None
    for row in rows:
        if row["kind"] == "open-fault":
            fault = row
        elif row["layer_id"] is None or row["layer_id"] in names:
            found.append(
                Evidence(
                    kind=row["kind"],
                    at=datetime.fromisoformat(row["at"]),
                    outcome=row["outcome"],
                    layer=names.get(row["layer_id"], ""),
                    value=None if row["value"] is None else float(row["value"]),
                    method=row["method"],
                )
            )
    if fault and fault["outcome"] != "pass":
        at = datetime.fromisoformat(fault["at"])
        found.append(Evidence(kind="open-fault", at=at, subject=fault["note"][:80]))
    return found


def _add_notices(found: dict[UUID, list[Evidence]], rooms: Sequence[Room], at: datetime) -> None:
    """Warnings about visits still to come that nobody has acknowledged."""
    rows = models.Notice.objects.filter(
        visit__job__in={room.job_id for room in rooms},
        visit__ends_at__gt=at,
        visit__cancelled_at=None,
        made_at__lte=at,
        acknowledged_at=None,
        withdrawn_at=None,
        replaced_by=None,
    ).values_list("visit__job_id", "visit__room_id", "visit__company", "made_at")
    for job_id, room_id, company, made_at in rows:
        for room in rooms:
            if room.job_id == job_id and room_id in (None, room.pk):
                found[room.pk].append(Evidence(kind="open-notice", at=made_at, subject=company))
