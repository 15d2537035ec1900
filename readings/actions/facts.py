"""Rows as the rules take them: elements, sensors, ranges of meters."""

from collections import defaultdict
from collections.abc import Iterable
from uuid import UUID

from jobs.models import Element, FloorSensor, Member
from readings.assess import ElementFacts, Meter, SensorFacts
from readings.element import Tag
from readings.instruments import Range
from readings.models import InstrumentRange
from readings.thermistor import from_points


def element_facts(row: Element) -> ElementFacts:
    """An element's row as the rules take it."""
    spec = row.material.element or {}
    return ElementFacts(
        label=row.label,
        tag=Tag(
            ohms=row.tag_ohms,
            below=row.tolerance_below,
            above=row.tolerance_above,
            celsius=row.tag_c,
            alpha_per_k=row.alpha_per_k,
            lead_ohms=row.lead_ohms,
        ),
        volts=spec["volts"],
        watts=spec["watts"],
    )


def sensor_facts(row: FloorSensor) -> SensorFacts:
    """A floor sensor's row as the rules take it."""
    spec = row.material.sensor or {}
    return SensorFacts(label=row.label, curve=from_points(spec["points"]))


def meter_of(row: InstrumentRange, siblings: Iterable[InstrumentRange] = ()) -> Meter:
    """A range's row as the rules take it, with the others of its instrument."""
    return Meter(
        name=row.name,
        quantity=row.quantity,
        range=range_of(row),
        test_volts=row.test_volts,
        leads_ohms=row.instrument.lead_ohms,
        calibration_due_on=row.instrument.calibration_due_on,
        other_ranges=tuple(
            range_of(other)
            for other in siblings
            if other.quantity == row.quantity and other.pk != row.pk
        ),
    )


def range_of(row: InstrumentRange) -> Range:
    return Range(row.full_scale, row.resolution, row.percent_of_reading, row.digits)


def meters_of(by: Member, ids: Iterable[UUID]) -> dict[UUID, Meter]:
    """The ranges that were used, each with the others of its instrument."""
    wanted = set(ids)
    if not wanted:
        return {}
    used = InstrumentRange.objects.visible_to(by).filter(pk__in=wanted).values("instrument")
    rows = list(
        InstrumentRange.objects.visible_to(by)
        .filter(instrument__in=used)
        .select_related("instrument")
        .order_by("full_scale", "pk")
    )
    siblings = defaultdict(list)
    for row in rows:
        siblings[row.instrument_id].append(row)
    return {row.pk: meter_of(row, siblings[row.instrument_id]) for row in rows if row.pk in wanted}
