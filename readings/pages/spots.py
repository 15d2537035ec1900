"""Where the floor may have to be opened: candidates in words, and crosses with bands on a plan."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _

from jobs.forms.saying import in_words
from jobs.units import System, in_units
from jobs.wire import FaultSpot, labels_of
from readings.actions.faults import Spot


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """One place of a fault: its label on the plan, where it is and why, and the others."""

    label: str
    says: str
    because: str
    spot: Spot
    others: tuple[str, ...] = ()


def candidates(faults: Sequence[Sequence[Spot]], system: System) -> list[list[Candidate]]:
    """The places of each fault, labelled as they stand on one plan."""
    return [
        [
            Candidate(
                label=label,
                says=in_units(_where(spot), system),
                because=in_words(spot.because, system),
                spot=spot,
                others=tuple(other for other in labels if other != label),
            )
            for label, spot in zip(labels, places, strict=True)
        ]
        for labels, places in zip(labels_of([len(one) for one in faults]), faults, strict=True)
    ]


def on_plan(found: Sequence[Sequence[Candidate]]) -> list[FaultSpot]:
    """Cross and band for each candidate that a drawing tells the place of."""
    return [
        FaultSpot(
            label=one.label,
            at=one.spot.spot_mm,
            chainage_mm=one.spot.metres * 1000,
            from_mm=one.spot.from_m * 1000,
            to_mm=one.spot.to_m * 1000,
            band=one.spot.path_mm,
            others=one.others,
        )
        for each in found
        for one in each
        if one.spot.spot_mm is not None and one.spot.part == "heating"
    ]


def _where(spot: Spot) -> str:
    if spot.part == "cold-lead":
        return _("In the cold lead, outside the heated floor.")
    if spot.to_m == spot.from_m:
        return _(
            "%(at)s\N{NO-BREAK SPACE}m from the splice. How true that is cannot be told: choose "
            "the range of the meter."
        ) % {"at": f"{spot.metres:.1f}"}
    return _(
        "%(at)s\N{NO-BREAK SPACE}m from the splice, between %(low)s and "
        "%(high)s\N{NO-BREAK SPACE}m, 19 times in 20."
    ) % {
        "at": f"{spot.metres:.1f}",
        "low": f"{spot.from_m:.1f}",
        "high": f"{spot.to_m:.1f}",
    }
