"""Layers of a floor: planned, placed, taken out."""

from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import Max

from config.errors import DomainError
from config.etags import require_version
from config.tenancy import told
from jobs.actions.refreshing import refresh_room
from jobs.materials import CURING_KINDS
from jobs.models import Material, Member, Room
from readings.flags import CLOCK_WRONG
from readings.models import Check
from scheduling.actions.facts import facts_of, layer_facts, layer_name
from scheduling.floor import room_course
from scheduling.models import Layer
from scheduling.progress import progress


class NotALayer(DomainError):
    slug = "material-not-fit"


class LayerSentOtherwise(DomainError):
    slug = "sent-otherwise"


class PositionTaken(DomainError):
    slug = "already-there"


class LayerInFuture(DomainError):
    slug = "not-yet"


class LayerTooSoon(DomainError):
    """A layer before something that has to come first."""

    slug = "layer-too-soon"


@transaction.atomic
def add_layer(
    *,
    by: Member,
    room: Room,
    material: Material,
    position: int | None,
    embeds: bool,
    thickness_mm: float | None,
    at: datetime,
    client_id: UUID | None = None,
    placed_at: datetime | None = None,
) -> Layer:
    """Add a layer on top of (or at a free position in) a room's floor, placed if `placed_at` is.

    Sent again under its id, it is the same layer. Raises NotALayer, LayerSentOtherwise,
    PositionTaken, and what `place_layer` raises.
    """
    if material.kind not in CURING_KINDS:
        raise NotALayer(f"{material.name} does not cure, so it is no layer.", pointer="#/material")
    _check_thickness(material, thickness_mm)
    Room.objects.select_for_update(no_key=True).get(pk=room.pk)
    if sent := client_id and Layer.objects.visible_to(by).filter(client_id=client_id).first():
        same = (sent.room_id, sent.material_id, sent.placed_at, sent.embeds, sent.thickness_mm) == (
            room.pk, material.pk, placed_at, embeds, thickness_mm,
        )  # fmt: skip
        if not same:
            raise LayerSentOtherwise("Another layer was sent under this id.", pointer="#/client_id")
        return sent
    if position is None:
        last = _standing(room).aggregate(last=Max("position"))["last"]
        position = (last or 0) + 1
    taken = PositionTaken(
        f"There is a layer {position} in this room already.", pointer="#/position"
    )
    with told({"layer_once_per_position": taken}):
        layer = Layer.objects.create(
            contractor_id=by.contractor_id,
            room=room,
            material=material,
            position=position,
            embeds=embeds,
            thickness_mm=thickness_mm,
            client_id=client_id,
        )
    return _place(layer, by=by, placed_at=placed_at, at=at) if placed_at else layer


@transaction.atomic
def place_layer(
    *, by: Member, layer: Layer, version: int, placed_at: datetime, at: datetime
) -> Layer:
    """Record that a planned layer was placed.

    Raises Stale, LayerInFuture, or LayerTooSoon: before the check that must precede it, on a layer
    that is not placed or did not bear it yet.
    """
    Room.objects.select_for_update(no_key=True).get(pk=layer.room_id)
    locked = Layer.objects.select_for_update().select_related("material", "room").get(pk=layer.pk)
    require_version(locked, version)
    if locked.placed_at is not None:
        raise LayerSentOtherwise(f"{layer_name(locked)} was placed already.", pointer="#/placed_at")
    locked.version += 1
    return _place(locked, by=by, placed_at=placed_at, at=at)


@transaction.atomic
def remove_layer(*, layer: Layer, version: int, at: datetime) -> Layer:
    """Take a layer out of the floor: it stays in the record as removed."""
    locked = Layer.objects.select_for_update().get(pk=layer.pk)
    require_version(locked, version)
    locked.removed_at = at
    locked.version += 1
    locked.save()
    refresh_room(locked.room_id)
    return locked


def _place(layer: Layer, *, by: Member, placed_at: datetime, at: datetime) -> Layer:
    if placed_at - at > CLOCK_WRONG:
        raise LayerInFuture("This time is still to come.", pointer="#/placed_at")
    if layer.embeds:
        _require_laid_check(layer, placed_at)
    _require_bearing(layer, placed_at, at)
    layer.placed_at = min(placed_at, at)
    layer.placed_by = by
    layer.curing = layer.material.curing
    if layer.material.generic:  # assumptions stay so, though the entry gets a sheet later
        layer.curing = {**(layer.curing or {}), "assumed": True}
    layer.save()
    refresh_room(layer.room_id)
    return layer


def _require_laid_check(layer: Layer, placed_at: datetime) -> None:
    """What covers the cable comes after its check: afterwards the bare cable cannot be measured."""
    newest = (
        Check.objects.filter(
            room=layer.room_id, stage="laid", superseded_by=None, taken_at__lte=placed_at
        )
        .order_by("-taken_at", "-sequence")
        .first()
    )
    if newest is None:
        raise LayerTooSoon(
            "The cable was not checked before this layer. Send the check “laid” first.",
            pointer="#/placed_at",
        )
    if newest.outcome != "pass":
        raise LayerTooSoon(
            f"The check “laid” is “{newest.outcome}”. Nothing covers the cable before it passes.",
            pointer="#/placed_at",
        )


def _require_bearing(layer: Layer, placed_at: datetime, at: datetime) -> None:
    """Every layer below is placed and bears another, by what the temperatures tell."""
    below = _standing(layer.room).filter(position__lt=layer.position).select_related("material")
    facts = None
    for row in below.order_by("position"):
        if row.placed_at is None or row.placed_at > placed_at:
            raise LayerTooSoon(f"{layer_name(row)} below it is not placed.", pointer="#/placed_at")
        if facts is None:
            facts = facts_of([layer.room], at=at)[layer.room_id]
        hours = _bears_after_hours(row)
        reached = progress(layer_facts(row), room_course(facts), facts, hours=hours)
        if reached.ready is None or reached.ready > placed_at:
            raise LayerTooSoon(
                f"{layer_name(row)} ({row.material.name}) bears another layer after {hours:g} h at "
                f"its reference temperature; {_when(reached.ready)}.",
                pointer="#/placed_at",
            )


def _bears_after_hours(row: Layer) -> float:
    """Printed hours to the next layer, else to foot traffic, else to heat."""
    curing = row.curing or {}
    for name in ("next_layer_after_hours", "walk_after_hours", "heat_after_hours"):
        if (hours := curing.get(name)) is not None:
            return float(hours)
    return 0.0


def _when(ready: datetime | None) -> str:
    return f"that was reached on {ready:%Y-%m-%d at %H:%M}Z" if ready else "that is not reached yet"


def _check_thickness(material: Material, thickness_mm: float | None) -> None:
    curing: dict[str, Any] = material.curing or {}
    least, most = curing.get("least_mm"), curing.get("most_mm")
    if thickness_mm is None:
        return
    if (least is not None and thickness_mm < least) or (most is not None and thickness_mm > most):
        raise NotALayer(
            f"{material.name} is laid {least or 0:g} to {most or least or 0:g} mm thick.",
            pointer="#/thickness_mm",
        )


def _standing(room: Room) -> Any:
    return Layer.objects.filter(room=room, removed_at=None)
