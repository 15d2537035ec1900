"""Outlines from what a person has; nothing is stored."""

import pytest

from jobs.exchange import to_dxf
from jobs.models import Room
from tests.jobs.floors import BATHROOM

URL = "/api/v1/outlines/"
RECTANGLE = [[0, 0], [3000, 0], [3000, 2400], [0, 2400]]
FAR = [[x + 9000, y] for x, y in RECTANGLE]


@pytest.mark.parametrize(
    "way",
    [
        {"points": RECTANGLE},
        {"points": [["0", "0"], ["3 m", "0"], ["3 m", "2.4 m"], [0, "240 cm"]]},
        {"walls": [{"length": mm, "turn_degrees": 90} for mm in (3000, 2400) * 2]},
        {"rectangle": {"width": 3000, "depth": "2,4 m"}},
    ],
)
def test_each_way_leads_to_the_same_outline(api, olive, way):
    body = api(olive).post(URL, way).json()
    assert body["outline"] == RECTANGLE
    assert body["area_m2"] == 7.2
    assert (body["notes"], body["question"], body["keep_outs"]) == ([], None, [])
    assert not Room.objects.exists()


def test_feet_and_inches_with_fractions(api, olive):
    sides = {"width": "9' 10 1/8\"", "depth": "7 ft 10-1/2"}
    body = api(olive).post(URL, {"rectangle": sides}).json()
    assert body["outline"][2] == pytest.approx([3000.375, 2400.3])


def test_an_l_by_its_sides(api, olive):
    sides = {"width": 3600, "depth": 3000, "cut_width": 1800, "cut_depth": 1500}
    body = api(olive).post(URL, {"l_shape": {**sides, "corner": "lower left"}}).json()
    assert body["area_m2"] == 8.1
    assert [0, 0] not in body["outline"]


def test_a_dxf_comes_with_its_keep_outs(api, olive):
    body = api(olive).post(URL, {"dxf": to_dxf(BATHROOM)}).json()
    assert body["outline"] == RECTANGLE
    assert len(body["keep_outs"]) == 2


def test_two_rooms_through_an_open_doorway(api, olive, problem):
    doorway = [[3000, 500], [3100, 500], [3100, 1400], [3000, 1400]]
    beside = [[x + 3100, y] for x, y in RECTANGLE]
    body = {"joined": {"outline": RECTANGLE, "neighbour": beside, "threshold": doorway}}
    assert api(olive).post(URL, body).json()["area_m2"] == pytest.approx(7.2 + 7.2 + 0.09)
    body["joined"]["neighbour"] = RECTANGLE
    refused = api(olive).post(URL, body)
    assert problem(refused)["detail"] == "The two rooms lie over each other."


def test_a_small_closing_error_is_told(api, olive):
    walls = [{"length": mm, "turn_degrees": 90} for mm in (3000, 2400, 3000, 2366)]
    (note,) = api(olive).post(URL, {"walls": walls}).json()["notes"]
    assert note.startswith("The last wall misses the start by 34 mm")


def test_mixed_up_units_are_asked_about(api, olive):
    body = api(olive).post(URL, {"rectangle": {"width": 118, "depth": 94}}).json()
    assert "Were inches meant?" in body["question"]


@pytest.mark.parametrize(
    ("way", "pointer", "says"),
    [
        ({}, "#", "Give one of points, walls"),
        ({"points": RECTANGLE, "rectangle": {"width": 1, "depth": 1}}, "#", "Give one of"),
        ({"points": [[0, 0], [2, 2], [2, 0], [0, 2]]}, "#/points", "cross or touch"),
        ({"points": [[0, 0], [1, "x"], [1, 1]]}, "#/points/1/1", "not one length"),
        ({"points": [[0, 0], [1, True], [1, 1]]}, "#/points/1/1", "Give millimetres or a text"),
        ({"rectangle": {"width": "1e3", "depth": 1}}, "#/rectangle/width", "not one length"),
        ({"rectangle": {"width": 2e6, "depth": 1}}, "#/rectangle/width", "kilometre"),
        ({"rectangle": {"width": -5, "depth": 1}}, "#/rectangle/width", "encloses no floor"),
        (
            {"l_shape": {"width": 9, "depth": 9, "cut_width": 9, "cut_depth": 1}},
            "#/l_shape/cut_width",
            "as wide as the room",
        ),
        (
            {"joined": {"outline": RECTANGLE, "neighbour": FAR, "threshold": RECTANGLE}},
            "#/joined/threshold",
            "does not reach both rooms",
        ),
        (
            {"joined": {"outline": FAR[:2], "neighbour": FAR, "threshold": RECTANGLE}},
            "#/joined/outline",
            "three different points",
        ),
        (
            {"walls": [{"length": 3000, "turn_degrees": 90}, [2400, 90]]},
            "#/walls/1",
            "Give an object that has “length”, “turn_degrees”.",
        ),
        ({"rectangle": [3000, 2400]}, "#/rectangle", "Give an object that has “width”, “depth”."),
        ({"l_shape": 5}, "#/l_shape", "“cut_depth” and may have “corner”."),
        (RECTANGLE, "#", "Give an object that may have “points”, “walls”"),
        (
            {"points": [[0, 0], {"x": 1, "y": 2}]},
            "#/points/1",
            "two numbers in millimetres: [x, y]",
        ),
        ({"points": [[0, 0], [1, 2, 3]]}, "#/points/1", "two numbers in millimetres: [x, y]"),
        ({"points": "0 0, 1 0"}, "#/points", "list of points in millimetres: [[x, y], [x, y]"),
        ({"walls": [{"length": 3000, "turn_degrees": 90}] * 3}, "#/walls", "add up to 270"),
        (
            {"walls": [{"length": mm, "turn_degrees": 90} for mm in (3000, 2400, 3000, 2000)]},
            "#/walls",
            "misses the start by 400 mm",
        ),
        ({"dxf": "0\nEOF\n"}, "#/dxf", "Nothing is closed in this drawing"),
        ({"dxf": "<svg/>"}, "#/dxf", "no DXF"),
    ],
)
def test_what_is_no_outline_is_told_by_field(api, olive, problem, way, pointer, says):
    refused = api(olive).post(URL, way)
    assert refused.status_code == 422
    (told,) = problem(refused)["errors"]
    assert told["pointer"] == pointer
    assert says in told["detail"]
