"""What is put into a room: elements, floor sensors, controls."""

from collections.abc import Mapping
from contextlib import AbstractContextManager
from typing import Any, TypeVar

from django.db import transaction

from config.errors import DomainError
from config.etags import change_row
from config.tenancy import told
from jobs.actions.refreshing import refresh_room
from jobs.models import Control, Element, FloorSensor, InstalledModel, Material, Member, Room

Installed = TypeVar("Installed", bound=InstalledModel)


class InstalledAlready(DomainError):
    slug = "already-there"


class WrongMaterial(DomainError):
    slug = "material-not-fit"


class WrongVoltage(DomainError):
    slug = "voltage-not-fit"


# A nominal supply and the voltages that are sold for it lie this close (230/240, 110/120);
# common practice, no source.
SAME_NOMINAL = 0.1


def install(
    model: type[Installed], *, by: Member, room: Room, material: Material, fields: Mapping[str, Any]
) -> Installed:
    """Put a thing of the catalogue into a room.

    Raises WrongMaterial, WrongVoltage or InstalledAlready.
    """
    kind = {Element: "element", FloorSensor: "sensor", Control: "control"}[model]
    if material.kind != kind:
        raise WrongMaterial(
            f"{material.name} is a {material.kind}, not a {kind}. Choose another entry.",
            pointer="#/material",
        )
    if kind != "sensor":
        _check_voltage(material, kind, room.job.supply_volts)
    with _in_words(fields), transaction.atomic():
        row: Installed = model._default_manager.create(  # type: ignore[assignment]
            contractor_id=by.contractor_id, room=room, material=material, **fields
        )
        refresh_room(room.pk)
        return row


def change_installed(row: Installed, *, version: int, fields: Mapping[str, Any]) -> Installed:
    """Change what is given; raises Stale or InstalledAlready."""
    with _in_words(fields), transaction.atomic():
        changed = change_row(row, version=version, fields=dict(fields))
        refresh_room(row.room_id)
        return changed


def _check_voltage(material: Material, kind: str, supply_volts: float) -> None:
    made_for = (material.element or material.control or {})["volts"]
    if abs(made_for - supply_volts) > SAME_NOMINAL * supply_volts:
        raise WrongVoltage(
            f"{material.name} is made for {made_for:g} V; this job's supply has "
            f"{supply_volts:g} V. Do not unpack it; get the {kind} for this supply.",
            pointer="#/material",
        )


def _in_words(fields: Mapping[str, Any]) -> AbstractContextManager[None]:
    label = InstalledAlready(
        f"This room has one called {fields.get('label')} already.", pointer="#/label"
    )
    serial = InstalledAlready(
        f"The serial {fields.get('serial')} is installed already. Read it off the tag again.",
        pointer="#/serial",
    )
    return told(
        {
            "element_label_once_per_room": label,
            "floorsensor_label_once_per_room": label,
            "control_label_once_per_room": label,
            "element_serial_once_per_contractor": serial,
        }
    )
