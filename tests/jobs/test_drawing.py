import re
from dataclasses import replace
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, Polygon

from jobs import svg as svg_parts
from jobs.drawing import draw, largest_scale, room_point, touch_u_mm
from jobs.plan_picture import (
    DrawnCable,
    PlanPicture,
    cable_runs,
    caption,
    marks,
    measured_from,
    points,
    size_mm,
    title,
    view,
    walls,
)
from jobs.wire import fault_spots, wire
from tests.jobs.floors import BATHROOM, CABLE, meander

SVG = "{http://www.w3.org/2000/svg}"
FAULTY = replace(BATHROOM, faults=fault_spots(wire(CABLE), [(0.4, 0.02), (0.6, 0.02)]))
SIDEWAYS = PlanPicture(
    name="Hall",
    outline=[(0, 0), (0, -3600), (5200, -3600), (5200, -1800), (2000, -1800), (1600, 0)],
    door=((0, -1000), (0, -1900)),
    expansion_joints=[[(2000, -1800), (2000, -3600)]],
    control=(0, -800),
    basis="planned",
    cables=[DrawnCable(path=meander(150, 1400, -3400, -1900, 100))],
)


def svg(picture, **asked):
    return ElementTree.fromstring(draw(picture, **asked))


def of(drawing, css, tag="*"):
    return drawing.findall(f".//{SVG}{tag}[@class='{css}']")


def test_the_drawing_is_well_formed_titled_and_a_thousand_wide():
    drawing = svg(BATHROOM, key="p7")
    assert drawing.get("viewBox").split()[:3] == ["0", "0", "1000"]
    assert drawing[0].tag == f"{SVG}title"
    assert drawing.get("role") == "img"
    assert drawing.get("aria-labelledby") == drawing[0].get("id") == "p7-title"
    assert drawing[0].text == (
        "Bathroom, 3.00\N{NO-BREAK SPACE}m × 2.40\N{NO-BREAK SPACE}m. "
        "Heating cable as laid, true to ±30\N{NO-BREAK SPACE}mm. 2 without heat."
    )


@pytest.mark.parametrize("picture", [BATHROOM, FAULTY, SIDEWAYS], ids=lambda one: one.name)
def test_a_strict_policy_and_a_pdf_maker_can_take_it(picture):
    drawing = svg(replace(picture, asked=(1200, 900)), scale=20)
    for part in drawing.iter():
        assert part.get("style") is None
        assert part.tag not in (f"{SVG}script", f"{SVG}style", f"{SVG}foreignObject")
        assert not [name for name in part.attrib if name.startswith("on")]
    shapes = [part for part in drawing.iter() if part.tag in {SVG + s for s in
              ("path", "polygon", "circle", "rect", "ellipse", "use", "text")}]  # fmt: skip
    in_defs = set(drawing.findall(f"{SVG}defs/{SVG}path"))
    assert all(part.get("fill") for part in shapes if part not in in_defs)


def test_ids_of_two_drawings_on_a_page_differ():
    first, second = draw(BATHROOM, key="a"), draw(BATHROOM, key="b")
    ids = [set(re.findall(r'id="([^"]+)"', one)) for one in (first, second)]
    assert ids[0]
    assert not ids[0] & ids[1]


def test_a_name_cannot_break_out():
    nasty = replace(BATHROOM, name='<script>"&')
    assert svg(nasty, key='"><script>')[0].text.startswith('<script>"&')


def test_words_in_a_drawing_are_only_words():
    drawn = svg_parts.text("words", "<b>&", (0, 0), halo=True)
    assert drawn.count("&lt;b&gt;&amp;") == 2
    assert "<b>" not in drawn


def test_at_a_scale_it_measures_true_on_paper():
    drawing = svg(BATHROOM, scale=20)
    paper_mm = float(drawing.get("width").removesuffix("mm"))
    floor = [tuple(map(float, pair.split(","))) for pair in
             of(drawing, "floor")[0].get("points").split()]  # fmt: skip
    across = max(x for x, _ in floor) - min(x for x, _ in floor)
    assert across / 1000 * paper_mm * 20 == pytest.approx(3000, abs=1)


@given(st.floats(900, 12_000), st.floats(900, 12_000), st.sampled_from([20, 25, 50, 100]))
def test_print_is_never_smaller_than_seven_and_a_half_point(wide, deep, scale):
    picture = PlanPicture(name="x", outline=[(0, 0), (wide, 0), (wide, deep), (0, deep)])
    drawing = svg(picture, scale=scale)
    per_unit = float(drawing.get("width").removesuffix("mm")) / 1000
    assert float(drawing.get("font-size")) * per_unit >= 2.64


def test_the_largest_scale_that_fits_the_paper():
    assert largest_scale(BATHROOM, width_mm=182, height_mm=140) == 25
    assert largest_scale(BATHROOM, width_mm=190, height_mm=180) == 20
    assert largest_scale(BATHROOM, width_mm=20, height_mm=20) is None


def test_what_is_drawn_is_what_lies_there():
    drawing = svg(BATHROOM)
    assert len(of(drawing, "keep")) == len(of(drawing, "hatch")) == 2
    assert len(of(drawing, "pass")) == len(of(drawing, "band")) == 1
    assert len(of(drawing, "lead")) == len(of(drawing, "tube")) == 1
    assert len(of(drawing, "mark")) == 4
    assert {text.text for text in of(drawing, "letter")} == {"A", "B", "C", "D", "1", "2"}
    band = float(of(drawing, "band")[0].get("stroke-width"))
    assert band == pytest.approx(60 * 800 / 3000, abs=0.1)


def test_both_candidates_of_a_fault_are_marked():
    drawing = svg(FAULTY)
    assert len(of(drawing, "fault")) == 4  # a band and a cross each
    assert {"F1", "F2"} <= {text.text for text in of(drawing, "letter")}
    assert "F1: Fault likely" in drawing[0].text


def test_the_drawn_wire_leaves_the_recorded_one_by_a_millimetre_at_most():
    drawing = svg(BATHROOM)
    d = drawing.find(f"{SVG}defs/{SVG}path").get("d")
    numbers = [tuple(map(float, pair.split())) for pair in re.split("[Ml]", d)[1:]]
    path, (x, y) = [], (0.0, 0.0)
    for step in numbers:
        x, y = x + step[0], y + step[1]
        path.append((x, y))
    per_mm = 800 / 3000
    recorded = LineString([(100 + px * per_mm, 100 + (2400 - py) * per_mm) for px, py in CABLE])
    assert LineString(path).hausdorff_distance(recorded) < 1.2 * per_mm + 0.1


def test_hatching_stays_inside_its_shape():
    drawing = svg(BATHROOM)
    for hatch, keep in zip(of(drawing, "hatch"), of(drawing, "keep"), strict=True):
        shape = Polygon([tuple(map(float, pair.split(","))) for pair in keep.get("points").split()])
        for line in hatch.get("d").split("M")[1:]:
            start, step = (tuple(map(float, part.split())) for part in line.split("l"))
            end = (start[0] + step[0], start[1] + step[1])
            assert shape.buffer(0.2).contains(LineString([start, end]))


@pytest.mark.parametrize("picture", [BATHROOM, SIDEWAYS], ids=lambda one: one.name)
def test_the_door_is_at_the_bottom(picture):
    seen = view(picture)
    doors = [seen.seen(end) for end in picture.door]
    assert [y for _, y in doors] == pytest.approx([0, 0], abs=1e-6)
    assert all(seen.seen(corner)[1] >= -1e-6 for corner in picture.outline)
    assert seen.seen(seen.origin) == (0, 0)


def test_a_turned_room_measures_as_seen_from_its_door():
    assert size_mm(SIDEWAYS) == pytest.approx((3600, 5200))
    (control,) = [row for row in points(SIDEWAYS) if row.mark == "D"]
    assert (control.right, control.into) == ("800", "0")


@given(st.tuples(st.floats(-500, 5500), st.floats(-4000, 500)))
def test_seen_and_stored_are_each_others_way_back(point):
    seen = view(SIDEWAYS)
    assert seen.stored(seen.seen(point)) == pytest.approx(point, abs=1e-6)


@given(st.floats(0, 360), st.floats(0, 300))
def test_a_touch_on_the_picture_is_a_place_in_the_room(x, y):
    place = room_point(SIDEWAYS, x, y, width=360)
    drawing = svg(replace(SIDEWAYS, asked=place))
    circle = of(drawing, "asked", "circle")[0]
    assert float(circle.get("cx")) == pytest.approx(x * 1000 / 360, abs=0.06)
    assert float(circle.get("cy")) == pytest.approx(y * 1000 / 360, abs=0.06)


def test_a_fingertip_is_some_fifty_millimetres():
    assert touch_u_mm(BATHROOM, width=288) == pytest.approx(65, abs=1)


def test_without_a_door_the_walls_are_whole_and_the_corner_is_named():
    doorless = replace(BATHROOM, door=None)
    assert measured_from(doorless) == "from the lower left corner: to the right, up"
    assert measured_from(BATHROOM).startswith("from the corner left of the door")
    assert "door" not in [text.text for text in of(svg(doorless), "words")]
    assert len(of(svg(doorless), "wall")) == 1


def test_the_table_says_everything_that_is_drawn():
    cold, crumb = [(0, 0), (500, 0), (500, 500)], [(0, 0), (100, 0), (100, 100)]
    rows = points(replace(FAULTY, asked=(1200, 900), unreached=[cold, crumb]))
    assert [row.mark for row in rows] == ["A", "B", "C", "D", "1", "2", "F1", "F2", "", "+"]
    said = {row.mark: (row.what, row.right, row.into) for row in rows}
    assert said["A"] == ("Splice, start of heat", "600", "150")
    assert said["1"] == ("Bathtub, no heat", "0 – 1\N{NO-BREAK SPACE}700",
                         "1\N{NO-BREAK SPACE}650 – 2\N{NO-BREAK SPACE}400")  # fmt: skip
    assert said["2"][0] == "Toilet, no heat"
    assert said["F1"][0].replace("\N{NO-BREAK SPACE}", " ") == (
        "Fault likely 17.9 m from the splice (17.0 to 18.8 m); or at F2"
    )
    assert said["+"][0] == "The place asked about"
    assert said[""][0] == "Floor that stays cold, 0.12\N{NO-BREAK SPACE}m²"


def test_each_run_and_wall_has_its_row():
    runs = cable_runs(BATHROOM)
    assert len(runs) == 19
    assert runs[0].what == "Run 1, 0.00 – 2.25\N{NO-BREAK SPACE}m"
    assert [row.what for row in walls(BATHROOM)] == [
        f"Wall {number}, {mm}\N{NO-BREAK SPACE}mm"
        for number, mm in enumerate(("3\N{NO-BREAK SPACE}000", "2\N{NO-BREAK SPACE}400") * 2, 1)
    ]


def test_two_elements_are_told_apart():
    two = replace(
        BATHROOM,
        cables=[
            DrawnCable(path=meander(100, 900, 150, 600, 75), name="M-10"),
            DrawnCable(path=meander(1100, 1900, 150, 600, 75), name="M-12", joints=[(1200, 150)]),
        ],
    )
    found = {mark.letter: mark.what for mark in marks(two)}
    assert found["A1"] == "Splice of M-10, start of heat"
    assert found["B2"] == "End of M-12"
    assert found["J"] == "Joint in the cable"
    assert cable_runs(two)[-1].mark.startswith("2.")


def test_the_legend_is_in_words_and_of_what_is_there():
    assert caption(BATHROOM, scale=20) == (
        "Thick line: cable, with its tolerance. Dashes: cold lead. Dots: sensor tube. "
        "Hatch: no heat under here. Scale 1:20."
    )
    assert caption(replace(BATHROOM, cables=(), sensor_route=(), keep_outs=())) == ""
    assert "expansion joint" in caption(SIDEWAYS)


def test_spanish_and_inches():
    spanish = draw(FAULTY, language="es", system="imperial")
    assert ">puerta<" in spanish
    assert "Falla probable" in title(FAULTY, language="es")
    assert "9′\N{NO-BREAK SPACE}10″" in spanish
    assert "inglés" not in caption(FAULTY, language="es")
    english = set(" ".join(row.what for row in points(FAULTY)).split())
    assert not {"Splice,", "heat", "likely"} & set(
        " ".join(row.what for row in points(FAULTY, language="es")).split()
    )
    assert {"Splice,", "heat", "likely"} <= english
    imperial = points(BATHROOM, system="imperial")[0]
    assert imperial.right == "1′\N{NO-BREAK SPACE}11\N{NO-BREAK SPACE}5/8″"


def test_a_plan_is_not_said_to_be_laid():
    planned = replace(BATHROOM, basis="planned", tolerance_mm=None)
    assert "Heating cable as planned" in title(planned)
    assert of(svg(planned), "band") == []
    assert "No cable drawn" in title(replace(BATHROOM, cables=()))


def test_letters_do_not_stand_on_each_other():
    crowded = replace(
        BATHROOM, cables=[DrawnCable(path=CABLE)], sensor=(640, 190), control=(560, 140)
    )
    at = [
        (float(text.get("x")), float(text.get("y")))
        for text in of(svg(crowded), "letter")
        if text.text in "ACD"
    ]
    assert len(at) == 3
    for one in at:
        others = [other for other in at if other != one]
        assert min(abs(one[0] - x) + abs(one[1] - y) for x, y in others) > 30
