"""Laying plans of a room: sought by a worker, stored if the rules allow, changed on site."""

from typing import Any

from django.urls import reverse
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from config.fields import Input, Instant, Number, Output, Whole
from config.idempotency import idempotent
from config.paging import ListView, chosen
from config.tenancy import may_write, referred, visible
from jobs.actions import laying
from jobs.api.shapes import PointField
from jobs.asbuilt import (
    LEAST_TOLERANCE_MM,
    TAPE_TOLERANCE_MM,
    MovedPart,
    MovedRun,
    UnusableChange,
    on_floor,
    photo_scale,
    scale_pairs,
)
from jobs.models import LayingPlan, LayingSearch, Material, PhotoScale, Room
from jobs.requests import MemberRequest

MOST_ELEMENTS = 3
MOST_CHANGES = 500
PARTS = ("splice", "end", "sensor", "control", "joint")


class SearchInput(Input):
    may_use = Whole(min_value=1, max_value=MOST_ELEMENTS, required=False)
    materials = serializers.ListField(
        child=serializers.UUIDField(),
        required=False,
        min_length=1,
        max_length=60,
        help_text="Elements to choose from; all of the catalogue that fit the supply if left out.",
    )


class MeasuresOutput(Output):
    heatable_m2 = serializers.FloatField()
    covered_m2 = serializers.FloatField()
    turns_per_m2 = serializers.FloatField()
    mesh_share = serializers.FloatField()
    wire_m = serializers.FloatField()


class FoundOutput(Output):
    measures = MeasuresOutput()
    plan = serializers.DictField()


class SearchOutput(Output):
    id = serializers.UUIDField()
    room = serializers.UUIDField(source="room_id")
    state = serializers.SerializerMethodField()
    asked_at = Instant()
    finished_at = Instant(allow_null=True)
    found = FoundOutput(many=True)
    refused = serializers.CharField()

    def get_state(self, search: LayingSearch) -> str:
        """waiting, working, done or refused"""
        if search.finished_at is None:
            return "waiting" if search.claimed_at is None else "working"
        return "refused" if search.refused else "done"


class LayingPlanInput(Input):
    """A plan of one's own, or alternative `choice` (from 0) of a search."""

    plan = serializers.DictField(required=False)
    search = serializers.UUIDField(required=False)
    choice = Whole(min_value=0, max_value=10, required=False)

    def validate(self, attrs: Any) -> Any:
        if ("plan" in attrs) == ("search" in attrs):
            raise serializers.ValidationError("Give either a plan or a search.")
        return attrs


class LayingPlanOutput(Output):
    id = serializers.UUIDField()
    room = serializers.UUIDField(source="room_id")
    basis = serializers.CharField()
    plan = serializers.DictField()
    tolerance_mm = serializers.FloatField()
    room_version = serializers.IntegerField()
    drawn_at = Instant()
    drawn_by = serializers.UUIDField(source="drawn_by_id")
    scale = serializers.UUIDField(
        source="scale_id",
        allow_null=True,
        help_text="The photo's points that places were read from.",
    )


class PlanFilters(Input):
    basis = serializers.ChoiceField(choices=LayingPlan.BASES, required=False)


class ChangeInput(Input):
    """A run by its number that lies elsewhere, or a part at a place in mm or on the photo."""

    part = serializers.ChoiceField(choices=[(part, part) for part in ("run", *PARTS)])
    element = Whole(min_value=0, max_value=MOST_ELEMENTS, required=False)
    run = Whole(min_value=1, max_value=10_000, required=False)
    by_mm = PointField(required=False)
    at_mm = PointField(required=False)
    at_pixel = PointField(required=False)

    def validate(self, attrs: Any) -> Any:
        needed = [{"run", "by_mm"}] if attrs["part"] == "run" else [{"at_mm"}, {"at_pixel"}]
        if set(attrs) - {"part", "element"} not in needed:
            ways = " or ".join(" and ".join(sorted(way)) for way in needed)
            raise serializers.ValidationError(f"A {attrs['part']} takes {ways}.")
        return attrs


class ScalePointInput(Input):
    pixel = PointField()
    floor_mm = PointField()


class PhotoInput(Input):
    """Points of known place, or a photo's own `scale` that was set before."""

    scale_points = serializers.ListField(
        child=ScalePointInput(), min_length=4, max_length=100, required=False
    )
    scale = serializers.UUIDField(required=False)

    def validate(self, attrs: Any) -> Any:
        if ("scale" in attrs) == ("scale_points" in attrs):
            raise serializers.ValidationError("Give either scale_points or a scale.")
        return attrs


class AsLaidInput(Input):
    changes = serializers.ListField(child=ChangeInput(), max_length=MOST_CHANGES)
    tolerance_mm = Number(
        min_value=LEAST_TOLERANCE_MM,
        max_value=1000,
        required=False,
        help_text="How true the record is; of the photo if there is one, else of a tape.",
    )
    photo = PhotoInput(required=False)


class DifferenceOutput(Output):
    what = serializers.CharField()
    mm = serializers.FloatField()
    says = serializers.CharField()


class AsLaidOutput(LayingPlanOutput):
    differences = serializers.SerializerMethodField()
    because = serializers.SerializerMethodField()

    def get_differences(self, row: LayingPlan) -> list[dict[str, Any]]:
        return [
            {"what": one.what, "mm": round(one.mm, 1), "says": one.says}
            for one in self.context["differences"]
        ]

    def get_because(self, row: LayingPlan) -> str:
        """What the tolerance comes from."""
        return str(self.context["because"])


class LayingSearches(APIView):
    @extend_schema(request=SearchInput, responses={202: SearchOutput})
    @idempotent
    def post(self, request: MemberRequest, room_id: str) -> Response:
        """Have ways to lay the room sought; ask again at `Location` until it is done."""
        may_write(LayingPlan, request.user)
        room = visible(Room.objects.select_related("job"), request.user, pk=room_id)
        sent = SearchInput(data=request.data)
        sent.is_valid(raise_exception=True)
        ids = sent.validated_data.get("materials")
        search = laying.ask_for_ways(
            by=request.user,
            room=room,
            may_use=sent.validated_data.get("may_use", 1),
            materials=ids
            and [
                referred(Material.objects.all(), request.user, one, pointer="#/materials")
                for one in ids
            ],
            at=timezone.now(),
        )
        at = reverse("api-laying-search", kwargs={"search_id": search.pk})
        return Response(SearchOutput(search).data, status=202, headers={"Location": at})


class LayingSearchDetail(APIView):
    @extend_schema(responses=SearchOutput)
    def get(self, request: MemberRequest, search_id: str) -> Response:
        search = visible(LayingSearch.objects.all(), request.user, pk=search_id)
        return Response(SearchOutput(search).data)


class LayingSearchStop(APIView):
    @extend_schema(request=None, responses=SearchOutput)
    @idempotent
    def post(self, request: MemberRequest, search_id: str) -> Response:
        """End a search with the best that it has found so far."""
        may_write(LayingPlan, request.user)
        search = visible(LayingSearch.objects.all(), request.user, pk=search_id)
        ended = laying.stop_looking(search=search, at=timezone.now())
        return Response(SearchOutput(ended).data)


class LayingPlans(ListView):
    @extend_schema(parameters=[PlanFilters], responses=LayingPlanOutput(many=True))
    def get(self, request: MemberRequest, room_id: str) -> Response:
        room = visible(Room.objects.all(), request.user, pk=room_id)
        rows = LayingPlan.objects.visible_to(request.user).filter(room=room)
        if basis := chosen(request, PlanFilters).get("basis"):
            rows = rows.filter(basis=basis)
        return self.listing(request, rows, LayingPlanOutput)

    @extend_schema(request=LayingPlanInput, responses={201: LayingPlanOutput})
    @idempotent
    def post(self, request: MemberRequest, room_id: str) -> Response:
        """Keep a plan; one that breaks a rule of laying is refused with the rule."""
        may_write(LayingPlan, request.user)
        room = visible(Room.objects.select_related("job"), request.user, pk=room_id)
        sent = LayingPlanInput(data=request.data)
        sent.is_valid(raise_exception=True)
        row = laying.store_plan(
            by=request.user,
            room=room,
            plan=_plan(request, room, sent.validated_data),
            at=timezone.now(),
        )
        return Response(LayingPlanOutput(row).data, status=201)


class AsLaid(APIView):
    @extend_schema(request=AsLaidInput, responses={201: AsLaidOutput})
    @idempotent
    def post(self, request: MemberRequest, room_id: str) -> Response:
        """Record the changes on site against the drawing that counts."""
        may_write(LayingPlan, request.user)
        room = visible(Room.objects.all(), request.user, pk=room_id)
        sent = AsLaidInput(data=request.data)
        sent.is_valid(raise_exception=True)
        given, scale = sent.validated_data, None
        if scale_id := given.get("photo", {}).get("scale"):
            scales = PhotoScale.objects.filter(photo__room=room)
            scale = referred(scales, request.user, scale_id, pointer="#/photo/scale")
            given["photo"]["scale_points"] = scale.points
        changes, tolerance_mm, because = _changes(given)
        row, found = laying.record_as_laid(
            by=request.user,
            room=room,
            changes=changes,
            tolerance_mm=tolerance_mm,
            at=timezone.now(),
            scale=scale,
        )
        context = {"differences": found, "because": because}
        return Response(AsLaidOutput(row, context=context).data, status=201)


def _plan(request: MemberRequest, room: Room, given: dict[str, Any]) -> dict[str, Any]:
    if "plan" in given:
        return dict(given["plan"])
    searches = LayingSearch.objects.visible_to(request.user).filter(room=room)
    search = referred(searches, request.user, given["search"], pointer="#/search")
    number = given.get("choice", 0)
    if number >= len(search.found):
        raise serializers.ValidationError(
            {"choice": [f"This search has found {len(search.found)} ways so far."]}
        )
    return dict(search.found[number]["plan"])


def _changes(given: dict[str, Any]) -> tuple[list[MovedRun | MovedPart], float, str]:
    """The changes in mm, how true they are, and what that comes from."""
    scale = None
    tolerance, because = TAPE_TOLERANCE_MM, "Measured with a tape by hand; common practice."
    if "photo" in given:
        scale = photo_scale(scale_pairs(given["photo"]["scale_points"]))
        tolerance, because = scale.tolerance_mm, scale.because
    if "tolerance_mm" in given:
        tolerance, because = given["tolerance_mm"], "As stated by whoever measured."
    changes: list[MovedRun | MovedPart] = []
    for at, one in enumerate(given["changes"]):
        element = one.get("element", 0)
        if one["part"] == "run":
            x, y = one["by_mm"]
            changes.append(MovedRun(element=element, number=one["run"], by_mm=(x, y)))
            continue
        if "at_mm" in one:
            x, y = one["at_mm"]
        elif scale is not None:
            x, y = on_floor(scale.matrix, one["at_pixel"])
        else:
            raise UnusableChange(
                "A place on a photo needs the photo's scale points.",
                pointer=f"#/changes/{at}/at_pixel",
            )
        changes.append(MovedPart(kind=one["part"], at=(x, y), element=element))
    return changes, tolerance, because
