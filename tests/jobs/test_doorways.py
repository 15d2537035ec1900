"""A wall that stands open to a heated neighbour: kept, drawn, and warm up to its line."""

import pytest

from jobs.actions.laying import problem_of
from jobs.laying.problem import parse_room
from jobs.models import Room
from tests.factories import JobFactory, MaterialFactory
from tests.jobs.test_api_room_plans import CABLE_SPEC

SQUARE = [[0, 0], [3000, 0], [3000, 2400], [0, 2400]]
IN_THE_RIGHT_WALL = [[3020, 1000], [2990, 1900]]


@pytest.fixture
def added(api, olive, alder):
    """A room with one doorway, drawn 20 mm off its wall."""
    job = JobFactory(contractor=alder)
    body = {
        "job": str(job.pk),
        "name": "Hall",
        "outline": SQUARE,
        "control_mm": [0, 300],
        "doorways": [IN_THE_RIGHT_WALL],
    }
    answer = api(olive).post("/api/v1/rooms/", body)
    assert answer.status_code == 201, answer.content
    return answer.json()


def test_a_doorway_is_moved_onto_its_wall(added):
    assert added["doorways"] == [[[3000, 1000], [3000, 1900]]]


def test_the_floor_counts_up_to_the_line_of_a_doorway(api, olive, added):
    at = f"/api/v1/rooms/{added['id']}/heatable-area/"
    with_it = api(olive).get(at).json()["area_m2"]
    closed = Room.objects.get()
    closed.doorways = []
    closed.save()
    without = api(olive).get(at).json()["area_m2"]
    # 100 mm of margin over the opening, less the quarter discs about both jambs.
    disc = 3.14159265 * 0.1**2 / 4
    assert without == pytest.approx(2.8 * 2.2)
    assert with_it - without == pytest.approx(0.9 * 0.1 - 2 * disc, abs=2e-4)


def test_what_is_laid_is_judged_by_the_same_floor(added, alder):
    MaterialFactory(contractor=alder, kind="element", element=CABLE_SPEC)
    room = parse_room(problem_of(Room.objects.get(), may_use=1))
    assert room.area.bounds[2] == 3000


def test_the_drawing_leaves_a_gap_and_says_so(api, olive, added):
    at = f"/api/v1/rooms/{added['id']}/"
    table = api(olive).get(f"{at}plan/?language=en&units=metric").json()
    (row,) = [row for row in table["points"] if row["what"] == "Open doorway to a heated room"]
    assert row["into_mm"] == [1000, 1900]
    assert "open doorway to a heated room" in table["caption"]
    svg = api(olive).get(f"{at}plan.svg").content.decode()
    assert '<polygon class="wall"' not in svg
    assert svg.count('class="expansion"') == 1


@pytest.mark.parametrize(
    ("doorway", "says"),
    [
        ([[3000, 1000], [3200, 1900]], "both its ends belong on one wall"),
        ([[3000, 2000], [2500, 2400]], "both its ends belong on one wall"),
        ([[3000, 1000], [3000, 1200]], "at least 300 mm wide"),
    ],
)
def test_a_doorway_belongs_on_one_wall(api, olive, added, problem, doorway, says):
    refused = api(olive).patch(
        f"/api/v1/rooms/{added['id']}/", {"doorways": [doorway]}, HTTP_IF_MATCH='"1"'
    )
    body = problem(refused)
    assert (refused.status_code, body["errors"][0]["pointer"]) == (422, "#/doorways/0")
    assert says in body["detail"]
