"""Materials, and what of them is built in: elements, floor sensors, controls."""

from typing import ClassVar

from django.db import models
from django.db.models import Q

from config.tenancy import EITHER, SameContractor, VersionedModel
from jobs.models.rooms import Room
from jobs.models.search import looked_for_in


class Material(VersionedModel):
    """An entry of the contractor's catalogue: one product, or a generic one marked as such.

    Exactly the specifications that its kind asks for are set (see `jobs.materials`):
    `element`, `sensor`, `control`, `curing` (what hardens), `package` (what is bought by area).
    """

    name = models.CharField(max_length=120)
    kind = models.CharField(max_length=24)
    # Where its figures come from. A generic entry rests on assumptions and says so everywhere.
    sheet = models.CharField(max_length=200, blank=True)
    generic = models.BooleanField(default=False)
    element = models.JSONField(null=True)
    sensor = models.JSONField(null=True)
    control = models.JSONField(null=True)
    curing = models.JSONField(null=True)
    package = models.JSONField(null=True)
    retired_at = models.DateTimeField(null=True)

    class Meta(VersionedModel.Meta):
        constraints: ClassVar = [
            *VersionedModel.Meta.constraints,
            models.UniqueConstraint(
                fields=["contractor", "name"],
                condition=Q(retired_at__isnull=True),
                name="material_name_once_per_contractor",
            ),
            models.CheckConstraint(
                condition=Q(generic=True) | ~Q(sheet=""), name="material_has_sheet_or_is_generic"
            ),
        ]


class InstalledModel(VersionedModel):
    """Something of the catalogue that is put into a room."""

    written_by: ClassVar[frozenset[str]] = EITHER

    room = models.ForeignKey(Room, on_delete=models.CASCADE, related_name="%(class)ss")
    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="+")
    label = models.CharField(max_length=40)
    serial = models.CharField(max_length=60, blank=True)
    removed_at = models.DateTimeField(null=True)

    class Meta(VersionedModel.Meta):
        abstract = True


class Element(InstalledModel):
    """One heating mat or cable, with its serial and what its tag says."""

    tag_ohms = models.FloatField()
    # Fractions of the tag: 0.1 and 0.05 mean +10 % and −5 %.
    tolerance_above = models.FloatField(default=0.1)
    tolerance_below = models.FloatField(default=0.05)
    tag_c = models.FloatField(default=20.0)
    alpha_per_k = models.FloatField(default=0.0)
    lead_ohms = models.FloatField(default=0.0)
    # A repair joint is a new thing on the element's record: [{chainage_mm, joined_at, note}].
    joints = models.JSONField(default=list)

    class Meta(InstalledModel.Meta):
        constraints: ClassVar = [
            *VersionedModel.Meta.constraints,
            SameContractor(field="room", name="element_room_same_contractor"),
            SameContractor(field="material", name="element_material_same_contractor"),
            models.UniqueConstraint(
                fields=["room", "label"],
                condition=Q(removed_at__isnull=True),
                name="element_label_once_per_room",
            ),
            models.UniqueConstraint(
                fields=["contractor", "serial"],
                condition=~Q(serial=""),
                name="element_serial_once_per_contractor",
            ),
            models.CheckConstraint(condition=Q(tag_ohms__gt=0), name="element_tag_above_zero"),
            models.CheckConstraint(
                condition=Q(tolerance_above__gt=0)
                & Q(tolerance_below__gt=0)
                & Q(tolerance_below__lt=1),
                name="element_tolerance_plausible",
            ),
        ]
        indexes: ClassVar = [looked_for_in("serial", name="element_by_part_of_serial")]


class FloorSensor(InstalledModel):
    """The NTC probe in the floor; a second one may lie beside it as a spare."""

    spare = models.BooleanField(default=False)

    class Meta(InstalledModel.Meta):
        constraints: ClassVar = [
            *VersionedModel.Meta.constraints,
            SameContractor(field="room", name="floorsensor_room_same_contractor"),
            SameContractor(field="material", name="floorsensor_material_same_contractor"),
            models.UniqueConstraint(
                fields=["room", "label"],
                condition=Q(removed_at__isnull=True),
                name="floorsensor_label_once_per_room",
            ),
        ]


class Control(InstalledModel):
    """The thermostat of a room."""

    class Meta(InstalledModel.Meta):
        constraints: ClassVar = [
            *VersionedModel.Meta.constraints,
            SameContractor(field="room", name="control_room_same_contractor"),
            SameContractor(field="material", name="control_material_same_contractor"),
            models.UniqueConstraint(
                fields=["room", "label"],
                condition=Q(removed_at__isnull=True),
                name="control_label_once_per_room",
            ),
        ]
