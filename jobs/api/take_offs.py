"""What to order for a room, as data and as a list to order by."""

import csv
from io import StringIO
from uuid import UUID

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from config.fields import Input, Output, Text
from config.paging import chosen
from config.tenancy import UnknownId, visible
from jobs.api.shapes import AsCsv
from jobs.api.surveys import facts_of
from jobs.laying_room import CONTROL_HEIGHT_MM
from jobs.models import Control, FloorSensor, KeepOut, LayingPlan, Material, Room
from jobs.ordering import measures, package
from jobs.quantities import Package, TakeOff, take_off
from jobs.requests import MemberRequest
from jobs.survey import read_facts

MOST_MATERIALS = 100


class TakeOffFilters(Input):
    materials = Text(
        max_length=40 * MOST_MATERIALS,
        required=False,
        help_text="Ids with commas between them; without it the only one of each kind.",
    )

    def validate_materials(self, value: str) -> list[UUID]:
        try:
            return [UUID(part.strip()) for part in value.split(",")]
        except ValueError as refused:
            raise serializers.ValidationError("Give ids with commas between them.") from refused


class LineOutput(Output):
    use = serializers.CharField()
    name = serializers.CharField()
    needed = serializers.FloatField()
    unit = serializers.CharField()
    waste_fraction = serializers.FloatField()
    holds = serializers.FloatField()
    exact = serializers.FloatField()
    packages = serializers.IntegerField()
    package = serializers.CharField()
    left_over = serializers.FloatField()
    because = serializers.CharField()


class TakeOffOutput(Output):
    lines = LineOutput(many=True)
    not_counted = serializers.ListField(child=serializers.CharField())


class RoomTakeOff(APIView):
    @extend_schema(parameters=[TakeOffFilters], responses=TakeOffOutput)
    def get(self, request: MemberRequest, room_id: str) -> Response:
        return Response(TakeOffOutput(_order(request, room_id)).data)


class RoomTakeOffCsv(APIView):
    renderer_classes = (AsCsv,)

    @extend_schema(parameters=[TakeOffFilters], responses={(200, "text/csv"): OpenApiTypes.STR})
    def get(self, request: MemberRequest, room_id: str) -> Response:
        name = 'attachment; filename="order.csv"'
        order = _csv(_order(request, room_id))
        return Response(order, headers={"Content-Disposition": name})


def _order(request: MemberRequest, room_id: str) -> TakeOff:
    room = visible(Room.objects.all(), request.user, pk=room_id)
    by_id = {
        row.pk: row
        for row in Material.objects.visible_to(request.user).filter(retired_at=None).order_by("pk")
    }
    packages, unclear = _chosen(by_id, chosen(request, TakeOffFilters).get("materials"))
    rows = {"room": room, "removed_at": None}
    plan = LayingPlan.objects.visible_to(request.user).counting(room)
    used = [by_id[UUID(one["element"])] for one in _elements(plan) if _known(one, by_id)]
    leads = [(row.element or {}).get("cold_lead_mm") for row in used]
    room_measures = measures(
        outline=room.outline,
        keep_outs=list(
            KeepOut.objects.visible_to(request.user)
            .filter(room=room)
            .order_by("position")
            .values("kind", "outline")
        ),
        plan=plan.plan if plan else None,
        facts=read_facts(facts_of(room.survey)),
        control_height_mm=room.survey.get("control_height_mm", CONTROL_HEIGHT_MM),
        element_names={str(row.pk): row.name for row in used},
        shortest_lead_mm=min((mm for mm in leads if mm), default=None),
        controls=Control.objects.visible_to(request.user).filter(**rows).count(),
        sensors=FloorSensor.objects.visible_to(request.user).filter(**rows).count(),
    )
    found = take_off(room_measures, packages)
    return TakeOff(lines=found.lines, not_counted=(*unclear, *found.not_counted))


def _elements(plan: LayingPlan | None) -> list[dict[str, str]]:
    return list(plan.plan["elements"]) if plan else []


def _known(one: dict[str, str], by_id: dict[UUID, Material]) -> bool:
    try:
        return UUID(one["element"]) in by_id
    except ValueError:
        return False


def _chosen(
    by_id: dict[UUID, Material], asked: list[UUID] | None
) -> tuple[list[Package], tuple[str, ...]]:
    """The materials to reckon with, and which kinds leave a choice open."""
    rows, unclear = _only_ones(list(by_id.values()))
    if asked is not None:
        if missing := [one for one in asked if one not in by_id]:
            raise UnknownId(f"You have no material {missing[0]}.", pointer="#/materials")
        rows, unclear = [by_id[one] for one in asked], ()
    packages = [package(row.name, row.kind, row.package) for row in rows]
    return [one for one in packages if one is not None], unclear


def _only_ones(rows: list[Material]) -> tuple[list[Material], tuple[str, ...]]:
    """All elements (the plan says which), and of each other kind the only one there is."""
    kinds: dict[str, list[Material]] = {}
    for row in rows:
        kinds.setdefault(row.kind, []).append(row)
    alone = [
        row for kind, some in kinds.items() for row in some if kind == "element" or len(some) == 1
    ]
    unclear = tuple(
        f"{kind.capitalize()}: {len(some)} in the catalogue; say which one."
        for kind, some in kinds.items()
        if kind != "element" and len(some) > 1
    )
    return alone, unclear


def _csv(order: TakeOff) -> str:
    """A list to order by; the first column is what to put into the basket."""
    text = StringIO()
    sheet = csv.writer(text)
    sheet.writerow(["order", "package", "material", "use", "needed", "unit", "waste", "because"])
    for line in order.lines:
        sheet.writerow(
            [line.packages, line.package, _plain(line.name), line.use, line.needed, line.unit,
             f"{line.waste_fraction:%}", line.because]
        )  # fmt: skip
    for sentence in order.not_counted:
        sheet.writerow(["", "", "", "not counted", "", "", "", _plain(sentence)])
    return text.getvalue()


def _plain(words: str) -> str:
    """A name that begins like a formula is kept from being one in a spreadsheet."""
    return f"'{words}" if words[:1] in "=+-@\t\r" else words
