"""Floors for tests of what is drawn and asked about: plain data, no solver."""

from math import cos, pi, sin

from jobs.plan_picture import DrawnCable, DrawnKeepOut, PlanPicture


def meander(left, right, low, high, spacing, chords=12):
    """Passes from left to right and back, joined by half-turns of chords on the arc."""
    points, y, way = [], low, 1
    while y <= high:
        start, end = (left, right) if way > 0 else (right, left)
        points += [(start, y), (end, y)]
        if y + spacing <= high:
            for at in range(1, chords):
                angle = -pi / 2 + at * pi / chords
                points.append(
                    (end + way * cos(angle) * spacing / 2, y + spacing / 2 * (1 + sin(angle)))
                )
        y, way = y + spacing, -way
    return points


CABLE = meander(600, 2850, 150, 1500, 75)

BATHROOM = PlanPicture(
    name="Bathroom",
    outline=[(0, 0), (3000, 0), (3000, 2400), (0, 2400)],
    door=((1950, 0), (2750, 0)),
    keep_outs=[
        DrawnKeepOut(
            outline=[(0, 1650), (1700, 1650), (1700, 2400), (0, 2400)],
            kind="fixture",
            name="Bathtub",
        ),
        DrawnKeepOut(
            outline=[(2400, 1700), (3000, 1700), (3000, 2100), (2400, 2100)], kind="toilet"
        ),
    ],
    cables=[DrawnCable(path=CABLE, lead=[(3000, 472), (2950, 100), (600, 100), CABLE[0]])],
    sensor=(1500, 487),
    sensor_route=[(3000, 472), (2900, 487), (1500, 487)],
    control=(3000, 472),
    tolerance_mm=30,
)
