"""Laying plans, and the searches that find them."""

from datetime import datetime, timedelta
from typing import ClassVar, Self
from uuid import UUID

from django.db import models
from django.db.models import Q

from config.tenancy import EITHER, SameContractor, TenantModel, TenantQuerySet
from jobs.models.people import Member
from jobs.models.rooms import Room


class LayingPlanQuerySet(TenantQuerySet["LayingPlan"]):
    def by_weight(self) -> Self:
        """The drawing that counts first: the newest as laid, else the newest plan."""
        return self.order_by("basis", "-drawn_at", "-pk")

    def counting(self, room: Room) -> "LayingPlan | None":
        return self.filter(room=room).by_weight().first()


class LayingPlan(TenantModel):
    """Where the elements lie or are to lie, in the plan format of `jobs.laying`.

    Never changed: another drawing is another row, and the newest of a basis counts.
    """

    written_by: ClassVar[frozenset[str]] = EITHER
    BASES: ClassVar = [("planned", "Planned"), ("as_laid", "As laid")]

    room = models.ForeignKey(Room, on_delete=models.CASCADE, related_name="laying_plans")
    basis = models.CharField(max_length=8, choices=BASES)
    plan = models.JSONField()
    tolerance_mm = models.FloatField()
    # The photograph with its points that places were read from, if they were.
    scale = models.ForeignKey("PhotoScale", on_delete=models.PROTECT, null=True, related_name="+")
    room_version = models.PositiveIntegerField()
    drawn_at = models.DateTimeField()
    drawn_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")

    objects = LayingPlanQuerySet.as_manager()  # type: ignore[misc]

    class Meta(TenantModel.Meta):
        constraints: ClassVar = [
            *TenantModel.Meta.constraints,
            SameContractor(field="room", name="layingplan_room_same_contractor"),
            SameContractor(field="drawn_by", name="layingplan_member_same_contractor"),
            SameContractor(field="scale", name="layingplan_scale_same_contractor"),
            models.CheckConstraint(
                condition=Q(tolerance_mm__gt=0), name="layingplan_tolerance_above_zero"
            ),
        ]


class LayingSearchQuerySet(TenantQuerySet["LayingSearch"]):
    def waiting(self, *, at: datetime) -> Self:
        """Searches that nobody works on, or whose worker is gone."""
        gone = at - LayingSearch.CLAIM_LASTS
        return self.filter(finished_at=None).filter(Q(claimed_at=None) | Q(claimed_at__lt=gone))

    def claim(self, search_id: UUID | str, *, at: datetime) -> bool:
        """Take a search to work on it; False means that another worker was first."""
        return self.waiting(at=at).filter(pk=search_id).update(claimed_at=at) == 1


class LayingSearch(TenantModel):
    """A search for ways to lay a room: asked for, worked on by a worker, then a few alternatives.

    `found` are `{"name", "plan", "measures"}`, the best first; `refused` says why there are none.
    """

    CLAIM_LASTS: ClassVar = timedelta(minutes=3)

    room = models.ForeignKey(Room, on_delete=models.CASCADE, related_name="laying_searches")
    room_version = models.PositiveIntegerField()
    # What to lay, frozen as it was asked: the room and the catalogue's elements as plain data.
    problem = models.JSONField()
    asked_at = models.DateTimeField()
    asked_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")
    claimed_at = models.DateTimeField(null=True)
    stop_asked_at = models.DateTimeField(null=True)
    finished_at = models.DateTimeField(null=True)
    found = models.JSONField(default=list)
    refused = models.TextField(blank=True)

    objects = LayingSearchQuerySet.as_manager()  # type: ignore[misc]

    class Meta(TenantModel.Meta):
        constraints: ClassVar = [
            *TenantModel.Meta.constraints,
            SameContractor(field="room", name="layingsearch_room_same_contractor"),
            SameContractor(field="asked_by", name="layingsearch_member_same_contractor"),
        ]
        indexes: ClassVar = [
            models.Index(
                fields=["asked_at"],
                condition=Q(finished_at__isnull=True),
                name="layingsearch_waiting",
            )
        ]
