import json
from io import StringIO

import numpy as np
import pytest
from ezdxf.filemanagement import new, read

from jobs.exchange import LARGEST_DXF_BYTES, UnusableDrawing, from_dxf, to_dxf, to_geojson
from tests.jobs.floors import BATHROOM, CABLE


def drawn(units, *shapes, close=True):
    """A DXF as text, of polylines in its own units; a third number bulges into an arc."""
    drawing = new("R2010", units=units)
    for points in shapes:
        form = "xyb" if len(points[0]) == 3 else "xy"
        drawing.modelspace().add_lwpolyline(points, close=close, format=form)
    text = StringIO()
    drawing.write(text)
    return text.getvalue()


def box(left, low, right, high):
    return [(left, low), (right, low), (right, high), (left, high)]


MM, INCHES, METRES, NO_UNIT = 4, 1, 6, 0


def test_what_we_draw_we_can_read():
    room = from_dxf(to_dxf(BATHROOM))
    assert list(room.outline) == BATHROOM.outline
    assert [sorted(shape) for shape in room.keep_outs] == [
        sorted(keep_out.outline) for keep_out in BATHROOM.keep_outs
    ]
    assert room.notes == ()


def test_each_kind_of_thing_has_its_layer():
    space = read(StringIO(to_dxf(BATHROOM))).modelspace()
    layers = [entity.dxf.layer for entity in space.query("LWPOLYLINE")]
    assert sorted(layers) == sorted(
        ["WALLS", "NO_HEAT", "NO_HEAT", "HEATING_CABLE", "COLD_LEADS", "SENSOR_TUBE"]
    )
    (cable,) = space.query("LWPOLYLINE[layer=='HEATING_CABLE']")
    assert np.array(cable.get_points("xy")) == pytest.approx(np.array(CABLE))
    assert {text.dxf.text for text in space.query("TEXT")} == {"A", "B", "C", "D"}


@pytest.mark.parametrize(
    ("units", "per_mm", "told"),
    [
        (MM, 1, ()),
        (METRES, 0.001, ("The drawing is in Meters; it was converted.",)),
        (INCHES, 1 / 25.4, ("The drawing is in Inches; it was converted.",)),
    ],
)
def test_the_drawings_own_unit_is_used(units, per_mm, told):
    points = [(x * per_mm, y * per_mm) for x, y in box(500, 700, 3500, 3100)]
    room = from_dxf(drawn(units, points))
    assert np.array(room.outline) == pytest.approx(np.array(box(0, 0, 3000, 2400)), abs=0.01)
    assert room.notes == told


def test_without_a_unit_millimetres_are_taken_and_asked_about():
    room = from_dxf(drawn(NO_UNIT, box(0, 0, 118.11, 94.488)))
    assert room.notes[0] == "The drawing names no unit; millimetres were taken."
    assert "Were inches meant? Then it is 2.40 m by 3.00 m." in room.notes[1]


def test_the_largest_is_the_room_and_what_is_outside_is_left_out():
    room = from_dxf(
        drawn(MM, box(200, 200, 700, 700), box(0, 0, 3000, 2400), box(4000, 0, 4500, 500))
    )
    assert room.outline.area_m2 == pytest.approx(7.2)
    assert [shape.area_m2 for shape in room.keep_outs] == pytest.approx([0.25])
    assert room.notes == ("Left out 1 closed shapes that are not in the room.",)


def test_an_arc_comes_in_as_chords_a_millimetre_off_at_most():
    bay = [(0, 0, 0), (3000, 0, 0.5), (3000, 2400, 0), (0, 2400, 0)]
    room = from_dxf(drawn(MM, bay))
    # A bulge of 0.5 is a rise of 0.5 x 1200 mm: circular segment of radius 1500 over 2400 mm.
    assert room.outline.area_m2 == pytest.approx(7.2 + 1.00637, abs=0.003)


def test_a_polyline_drawn_back_to_its_start_is_closed():
    ring = [*box(0, 0, 3000, 2400), (0, 0.4)]
    assert from_dxf(drawn(MM, ring, close=False)).outline.area_m2 == pytest.approx(7.2, abs=0.01)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (drawn(MM, box(0, 0, 3000, 2400), close=False), "Nothing is closed in this drawing"),
        (drawn(MM), "Nothing is closed in this drawing"),
        (drawn(MM, [(0, 0), (3000, 0)]), "Nothing is closed in this drawing"),
        (drawn(MM, [(0, 0), (3000, 2400), (3000, 0), (0, 2400)]), "cross or touch"),
        ("", "no DXF that can be read"),
        ("<svg/>", "no DXF that can be read"),
        ("\0" * 100, "no DXF that can be read"),
        (drawn(MM, box(0, 0, 3000, 2400))[:9000], "no DXF that can be read"),
        (" " * (LARGEST_DXF_BYTES + 1), "too large"),
    ],
    ids=["open", "empty", "line", "crossed", "nothing", "svg", "zeros", "cut", "large"],
)
def test_a_drawing_without_a_room_is_refused_in_words(text, says):
    with pytest.raises(UnusableDrawing) as refused:
        from_dxf(text)
    assert says in refused.value.detail
    assert refused.value.pointer == "#/dxf"


def test_geojson_has_every_part_in_the_rooms_millimetres():
    found = json.loads(json.dumps(to_geojson(BATHROOM)))
    assert found["type"] == "FeatureCollection"
    assert "millimetres" in found["coordinates_in"]
    parts = [feature["properties"]["part"] for feature in found["features"]]
    assert parts == ["outline", "keep_out", "keep_out", "cable", "cold_lead", "sensor_tube",
                     "splice", "end", "sensor", "control"]  # fmt: skip
    ring = found["features"][0]["geometry"]["coordinates"][0]
    assert ring[0] == ring[-1]  # RFC 7946, 3.1.6: a linear ring is closed
    assert ring[:-1] == [list(corner) for corner in BATHROOM.outline]
    assert found["features"][1]["properties"] == {
        "part": "keep_out", "kind": "fixture", "name": "Bathtub", "number": 1,
    }  # fmt: skip
    assert (found["basis"], found["tolerance_mm"]) == ("as_laid", 30)
