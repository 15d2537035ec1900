"""How quick what is asked about a room is answered: clearance, drawing, area.

Seeded rooms; process time, so that a busy machine does not count.
"""

from collections.abc import Callable
from functools import partial
from random import Random
from statistics import median
from time import process_time

from jobs.area import heatable_room
from jobs.clearance import may_fasten, recorded
from jobs.drawing import draw
from jobs.exchange import to_dxf
from jobs.plan_picture import DrawnCable, DrawnKeepOut, PlanPicture
from tests.jobs.floors import meander

CLEARANCE_MS, DRAWING_MS = 1.0, 50.0


def rooms(count: int = 40) -> list[PlanPicture]:
    """Rooms of 2 to 60 m² with up to six keep-outs and up to 600 m of wire."""
    chance = Random(20_270_310)
    made = []
    for at in range(count):
        wide, deep = chance.uniform(1400, 9000), chance.uniform(1400, 7000)
        shapes = []
        for _ in range(chance.randint(0, 6)):
            x, y = chance.uniform(0, wide - 500), chance.uniform(0, deep - 500)
            shapes.append(
                DrawnKeepOut(outline=[(x, y), (x + 450, y), (x + 450, y + 450), (x, y + 450)])
            )
        path = meander(120, wide - 120, 120, deep - 120, chance.uniform(60, 110))
        made.append(
            PlanPicture(
                name=f"Room {at}",
                outline=[(0, 0), (wide, 0), (wide, deep), (0, deep)],
                door=((300, 0), (1100, 0)),
                keep_outs=shapes,
                cables=[DrawnCable(path=path, lead=[(0, 400), path[0]])],
                sensor=(wide / 2, 150),
                sensor_route=[(0, 400), (wide / 2, 150)],
                control=(0, 400),
                tolerance_mm=30,
            )
        )
    return made


def timed(what: Callable[[], object], repeat: int = 5) -> float:
    """The best of several runs, in milliseconds of process time."""
    best = float("inf")
    for _ in range(repeat):
        start = process_time()
        what()
        best = min(best, process_time() - start)
    return best * 1e3


def line(name: str, found: list[float], limit_ms: float | None = None) -> str:
    found = sorted(found)
    said = f"{name}: median {median(found):.3f} ms, worst {found[-1]:.3f} ms of {len(found)}"
    return said if limit_ms is None else f"{said} (at most {limit_ms:g} ms)"


def main() -> list[str]:
    """Measure all; a limit that is not met is an assertion."""
    pictures = rooms()
    hole = {"depth_mm": 40, "drill_mm": 6}
    points, lines, whole, drawn, printed, areas = ([] for _ in range(6))
    for shown in pictures:
        record = recorded(shown)
        far = shown.outline[2]
        where = (far[0] / 3, far[1] / 3)
        keep_outs = [{"outline": one.outline, "kind": "fixture"} for one in shown.keep_outs]
        points.append(timed(partial(may_fasten, record, where, **hole)))
        lines.append(timed(partial(may_fasten, record, (where, far), **hole)))
        whole.append(timed(lambda: may_fasten(recorded(shown), where, **hole)))  # noqa: B023
        drawn.append(timed(partial(draw, shown), 3))
        printed.append(timed(partial(draw, shown, scale=20), 3))
        areas.append(timed(partial(heatable_room, shown.outline, keep_outs)))
    dxf = [timed(partial(to_dxf, shown), 1) for shown in pictures[:10]]
    assert max(points) < CLEARANCE_MS, max(points)
    assert median(lines) < CLEARANCE_MS, median(lines)
    assert max(drawn + printed) < DRAWING_MS, max(drawn + printed)
    return [
        line("clearance of a point", points, CLEARANCE_MS),
        line("clearance of a line", lines, CLEARANCE_MS),
        line("clearance of a point, with reading the record", whole),
        line("drawing", drawn, DRAWING_MS),
        line("drawing to scale", printed, DRAWING_MS),
        line("drawing as DXF", dxf),
        line("heatable area", areas),
    ]


if __name__ == "__main__":
    print("\n".join(main()))
