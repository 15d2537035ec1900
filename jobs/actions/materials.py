"""The catalogue."""

from collections.abc import Iterable, Mapping
from contextlib import AbstractContextManager
from typing import Any

from django.db import transaction

from config.errors import DomainError
from config.etags import require_version
from config.tenancy import told
from jobs.catalogue import GENERIC
from jobs.materials import SPECIFICATIONS, check_material
from jobs.models import Material, Member


class MaterialNameTaken(DomainError):
    slug = "already-there"


class SheetMissing(DomainError):
    slug = "not-acceptable"


def add_material(*, by: Member, fields: Mapping[str, Any]) -> Material:
    """Add an entry; raises MaterialContradicts, MaterialNameTaken or SheetMissing."""
    check_material(fields["kind"], {name: fields.get(name) for name in SPECIFICATIONS})
    with _in_words(fields["name"]):
        return Material.objects.create(contractor_id=by.contractor_id, **fields)


@transaction.atomic
def add_generic_materials(*, by: Member, keys: Iterable[str]) -> list[Material]:
    """Add entries of the generic catalogue, marked as such; those there already stay."""
    found = []
    for key in dict.fromkeys(keys):
        entry = GENERIC[key]
        found.append(
            Material.objects.get_or_create(
                contractor_id=by.contractor_id,
                name=entry.name,
                retired_at=None,
                defaults={
                    "kind": entry.kind,
                    "generic": True,
                    "sheet": entry.note,
                    "curing": entry.curing,
                    "package": entry.package,
                },
            )[0]
        )
    return found


@transaction.atomic
def change_material(*, material: Material, version: int, fields: Mapping[str, Any]) -> Material:
    """Change what is given; what was built with it keeps its figures. Raises Stale too."""
    locked = Material.objects.select_for_update().get(pk=material.pk)
    require_version(locked, version)
    for name, value in fields.items():
        setattr(locked, name, value)
    check_material(locked.kind, {name: getattr(locked, name) for name in SPECIFICATIONS})
    locked.version += 1
    with _in_words(locked.name):
        locked.save()
    return locked


def _in_words(name: str) -> AbstractContextManager[None]:
    return told(
        {
            "material_name_once_per_contractor": MaterialNameTaken(
                f"The catalogue has {name} already. Change that entry, or choose another name.",
                pointer="#/name",
            ),
            "material_has_sheet_or_is_generic": SheetMissing(
                "Name the data sheet that prints these figures, or mark the entry as generic.",
                pointer="#/sheet",
            ),
        }
    )
