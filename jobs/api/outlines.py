"""An outline from what a person has: points, walls off a tape, sides, a drawing, two rooms."""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from config.fields import Input, Number, Output, Text
from config.idempotency import idempotent
from jobs.api.shapes import MOST_CORNERS, Length, OutlineField, PointField
from jobs.exchange import LARGEST_DXF_BYTES, DrawnRoom, from_dxf
from jobs.outline import (
    Outline,
    UnusableOutline,
    checked,
    from_walls,
    joined,
    l_shape,
    rectangle,
    unit_doubt,
)
from jobs.requests import MemberRequest

CORNERS = ("upper right", "upper left", "lower left", "lower right")
WAYS = ("points", "walls", "rectangle", "l_shape", "dxf", "joined")


class WallInput(Input):
    length = Length()
    turn_degrees = Number(
        min_value=-360, max_value=360, help_text="At its end, to the left positive."
    )


class RectangleInput(Input):
    width = Length()
    depth = Length()


class LShapeInput(RectangleInput):
    cut_width = Length()
    cut_depth = Length()
    corner = serializers.ChoiceField(
        choices=[(corner, corner) for corner in CORNERS], required=False
    )


class JoinedInput(Input):
    """Two heated rooms, and the floor of the open doorway between them."""

    outline = OutlineField()
    neighbour = OutlineField()
    threshold = OutlineField()


class TypedPointField(PointField):
    """A corner whose lengths may have units."""

    child = Length()


class TypedOutlineField(OutlineField):
    child = TypedPointField()


class OutlineInput(Input):
    """One of these ways. Lengths are millimetres, or texts such as `1.2 m` or `5' 3 1/2"`."""

    points = TypedOutlineField(required=False)
    walls = serializers.ListField(child=WallInput(), required=False, max_length=MOST_CORNERS)
    rectangle = RectangleInput(required=False)
    l_shape = LShapeInput(required=False)
    dxf = Text(required=False, max_length=LARGEST_DXF_BYTES, trim_whitespace=False)
    joined = JoinedInput(required=False)

    def validate(self, attrs: Any) -> Any:
        if len(attrs) != 1:
            raise serializers.ValidationError(f"Give one of {', '.join(WAYS)}.")
        return attrs


class OutlineOutput(Output):
    outline = OutlineField()
    keep_outs = serializers.ListField(
        child=OutlineField(), help_text="Closed shapes inside the room, of a drawing."
    )
    area_m2 = serializers.FloatField()
    notes = serializers.ListField(
        child=serializers.CharField(), help_text="What was put right on the way."
    )
    question = serializers.CharField(allow_null=True, help_text="Asked where units look mixed up.")


class OutlineFrom(APIView):
    @extend_schema(request=OutlineInput, responses=OutlineOutput)
    @idempotent
    def post(self, request: MemberRequest) -> Response:
        """Work out a clean outline; nothing is stored."""
        sent = OutlineInput(data=request.data)
        sent.is_valid(raise_exception=True)
        drawn = _drawn(sent.validated_data)
        body = {
            "outline": drawn.outline.points,
            "keep_outs": [shape.points for shape in drawn.keep_outs],
            "area_m2": round(drawn.outline.area_m2, 4),
            "notes": drawn.notes,
            "question": unit_doubt(drawn.outline),
        }
        return Response(OutlineOutput(body).data)


def _drawn(given: Mapping[str, Any]) -> DrawnRoom:
    match given:
        case {"dxf": text}:
            return from_dxf(text)
        case {"points": points}:
            outline = checked(points, pointer="#/points")
        case {"walls": walls}:
            outline = from_walls([(wall["length"], wall["turn_degrees"]) for wall in walls])
        case {"rectangle": sides}:
            with _pointing_into("rectangle"):
                outline = rectangle(sides["width"], sides["depth"])
        case {"joined": rooms}:
            with _pointing_into("joined"):
                outline = joined(
                    checked(rooms["outline"]),
                    checked(rooms["neighbour"], pointer="#/neighbour"),
                    rooms["threshold"],
                )
        case _:
            with _pointing_into("l_shape"):
                outline = _l_shape(**given["l_shape"])
    return DrawnRoom(outline=outline, keep_outs=(), notes=outline.notes)


@contextmanager
def _pointing_into(way: str) -> Iterator[None]:
    """Rules point to what they were given; a client reads where that was in its body."""
    try:
        yield
    except UnusableOutline as refused:
        field = refused.pointer.removeprefix("#/").removesuffix("_mm")
        raise UnusableOutline(refused.detail, pointer=f"#/{way}/{field}") from refused


def _l_shape(
    *, width: float, depth: float, cut_width: float, cut_depth: float, corner: Any = CORNERS[0]
) -> Outline:
    return l_shape(width, depth, cut_width_mm=cut_width, cut_depth_mm=cut_depth, corner=corner)
