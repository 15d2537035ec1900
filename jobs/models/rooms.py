"""Rooms: what stands in them, and photographs with their scale."""

from typing import ClassVar

from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models import Q

from config.tenancy import EITHER, SameContractor, TenantModel, VersionedModel
from jobs.models.people import Member
from jobs.models.work import Job


class Room(VersionedModel):
    """One heated room: outline in millimetres, x right, y up, counter-clockwise."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="rooms")
    name = models.CharField(max_length=80)
    outline = models.JSONField()
    joints = models.JSONField(default=list)
    # Overrides of the margins of common practice, by kind of edge; see jobs.area.
    margins_mm = models.JSONField(default=dict)
    # Where the control sits on a wall, and the two ends of the door's gap.
    control_mm = models.JSONField(null=True)
    door_mm = models.JSONField(null=True)
    # Stretches of wall that stand open to a heated neighbour: pairs of ends.
    doorways = models.JSONField(default=list, db_default=models.Value([], models.JSONField()))
    max_w_per_m2 = models.FloatField(default=160.0)
    covering = models.CharField(max_length=40, blank=True)
    # The survey's facts (substrate, heights, recess, box, who supplies what); see jobs.survey.
    survey = models.JSONField(default=dict)
    # What the energize decision must see proven in this room; see scheduling.energize.
    required = ArrayField(models.CharField(max_length=40), default=list)
    note = models.TextField(blank=True)

    class Meta(VersionedModel.Meta):
        constraints: ClassVar = [
            *VersionedModel.Meta.constraints,
            SameContractor(field="job", name="room_job_same_contractor"),
            models.UniqueConstraint(fields=["job", "name"], name="room_name_once_per_job"),
            models.CheckConstraint(
                condition=Q(max_w_per_m2__gt=0), name="room_power_limit_above_zero"
            ),
        ]


class KeepOut(TenantModel):
    """A shape in a room where no heat may go."""

    KINDS: ClassVar = [
        (kind, kind) for kind in ("fixture", "toilet", "drain", "vent", "built_in", "door_swing")
    ]

    room = models.ForeignKey(Room, on_delete=models.CASCADE, related_name="keep_outs")
    kind = models.CharField(max_length=12, choices=KINDS)
    name = models.CharField(max_length=80, blank=True)
    outline = models.JSONField()
    margin_mm = models.FloatField(null=True)
    position = models.PositiveSmallIntegerField()

    class Meta(TenantModel.Meta):
        constraints: ClassVar = [
            *TenantModel.Meta.constraints,
            SameContractor(field="room", name="keepout_room_same_contractor"),
            models.UniqueConstraint(fields=["room", "position"], name="keepout_once_per_position"),
            models.CheckConstraint(
                condition=Q(margin_mm__isnull=True) | Q(margin_mm__gte=0),
                name="keepout_margin_not_negative",
            ),
        ]


class RoomPhoto(TenantModel):
    """A photograph of a floor before it is covered, without place or camera in it.

    Never edited: the picture lies in its row, so that the trigger holds it too. The same picture
    sent twice is one row.
    """

    written_by: ClassVar[frozenset[str]] = EITHER

    room = models.ForeignKey(Room, on_delete=models.CASCADE, related_name="photos")
    jpeg = models.BinaryField()
    digest = models.CharField(max_length=64)
    width_px = models.PositiveIntegerField()
    height_px = models.PositiveIntegerField()
    size_bytes = models.PositiveIntegerField()
    received_at = models.DateTimeField()
    taken_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")

    class Meta(TenantModel.Meta):
        constraints: ClassVar = [
            *TenantModel.Meta.constraints,
            SameContractor(field="room", name="roomphoto_room_same_contractor"),
            SameContractor(field="taken_by", name="roomphoto_member_same_contractor"),
            models.UniqueConstraint(fields=["room", "digest"], name="roomphoto_once_per_room"),
        ]


class PhotoScale(TenantModel):
    """Points of a photograph whose place on the floor is known; the newest of a photo counts.

    Never edited. `points` are `{"pixel", "floor_mm"}`; `matrix` maps pixels to the floor.
    """

    written_by: ClassVar[frozenset[str]] = EITHER

    photo = models.ForeignKey(RoomPhoto, on_delete=models.CASCADE, related_name="scales")
    points = models.JSONField()
    matrix = models.JSONField()
    tolerance_mm = models.FloatField()
    because = models.CharField(max_length=200)
    set_at = models.DateTimeField()
    set_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")

    class Meta(TenantModel.Meta):
        constraints: ClassVar = [
            *TenantModel.Meta.constraints,
            SameContractor(field="photo", name="photoscale_photo_same_contractor"),
            SameContractor(field="set_by", name="photoscale_member_same_contractor"),
        ]
