"""One pose for a room, however it was measured in: turned, mirrored and moved to a normal place.

A search for a plan is a long chain of small choices. Made in the room's own coordinates, each
would hang on how the room lies to the axes; made in this pose, they are the same for a room that
is turned or mirrored, and the plan is then carried back. Lengths are millimetres.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from math import atan2, cos, dist, pi, sin

import numpy as np
from shapely import LineString, Polygon

from jobs.laying.plan import FloatArray, LaidElement, LayingPlan, as_points, rounded
from jobs.laying.problem import Room
from jobs.outline import Point

SAME_DIRECTION_RAD = 0.01
TIED_MM = 0.97
"""Walls or features that differ by less count as equal: more than rounding, less than a choice.

No difference of whole millimetres or fractions of an inch, which turning would tip either way.
"""

GRID_MM = 0.1
"""Corners are moved to this grid, so that what turning did to the last digits is forgotten."""

HALF = 0.47
"""The part of a step that is rounded down is a little over a half: a quarter inch is 63.5 steps."""


@dataclass(frozen=True, slots=True)
class Pose:
    """A turn by `-angle` (radians), a mirror in the y axis if `mirrored`, then a shift."""

    angle: float
    mirrored: bool
    shift: Point = (0.0, 0.0)

    def into(self, points: Iterable[Sequence[float]]) -> FloatArray:
        """Carry points of the room, (n, 2), into the pose."""
        c, s = cos(self.angle), sin(self.angle)
        turned = np.asarray([tuple(point) for point in points]) @ np.array([[c, -s], [s, c]])
        if self.mirrored:
            turned[:, 0] *= -1
        moved: FloatArray = turned + self.shift
        return moved

    def back(self, points: FloatArray) -> FloatArray:
        """Carry an (n, 2) array of points in the pose back into the room."""
        turned = points - np.asarray(self.shift)
        if self.mirrored:
            turned = turned * (-1, 1)
        c, s = cos(self.angle), sin(self.angle)
        found: FloatArray = turned @ np.array([[c, s], [-s, c]])
        return found


def posed(room: Room) -> tuple[Room, Pose]:
    """Return the room in its normal pose, and the pose by which a plan is carried back.

    Most of the wall runs along the axes, the longer side along x, the corner of its box at the
    origin; of the poses that are left, the control's place, then the shape, decide.
    """
    poses = [
        _moved_to_origin(room, Pose(angle + turn * pi / 2, mirrored))
        for angle in main_directions(room.outline)
        for turn in range(4)
        for mirrored in (False, True)
    ]
    features = [_features(room, pose) for pose in poses]
    left = list(range(len(poses)))
    for feature in range(len(features[0])):
        least = min(features[at][feature] for at in left)
        left = [at for at in left if features[at][feature] < least + TIED_MM]
    pose = poses[left[0]]
    return _in_pose(room, pose), pose


def carried_back(plan: LayingPlan, pose: Pose, room: Room) -> LayingPlan:
    """Return a plan of the posed room as a plan of the room itself.

    Leads and tube begin just at its control, from which the grid moved them by less than 0.1 mm.
    """
    return replace(
        plan,
        elements=tuple(_laid_back(laid, pose, room) for laid in plan.elements),
        sensor=_points(pose, [plan.sensor])[0],
        sensor_route=_from_control(pose, plan.sensor_route, room),
        heatable_m2=room.area.area / 1e6,
        unreached=tuple(ring for each in plan.unreached if (ring := _ring(pose, each))),
    )


def main_directions(outline: Sequence[Point]) -> list[float]:
    """Directions in radians, from 0 to below a quarter turn, along or across which most wall runs.

    More than one only where they tie.
    """
    walls = [
        (atan2(b[1] - a[1], b[0] - a[0]) % (pi / 2), dist(a, b))
        for a, b in zip(outline, (*outline[1:], outline[0]), strict=True)
    ]
    walls.sort(key=lambda wall: -wall[1])
    total: dict[float, float] = {}
    for angle, length in walls:
        known = next((other for other in total if _same(other, angle)), angle)
        total[known] = total.get(known, 0.0) + length
    most = max(total.values())
    return [angle for angle, length in total.items() if length > most - TIED_MM]


def _same(one: float, other: float) -> bool:
    apart = abs(one - other) % (pi / 2)
    return min(apart, pi / 2 - apart) < SAME_DIRECTION_RAD


def _moved_to_origin(room: Room, pose: Pose) -> Pose:
    low = pose.into(room.outline).min(axis=0)
    return replace(pose, shift=(-float(low[0]), -float(low[1])))


def _features(room: Room, pose: Pose) -> list[float]:
    """Numbers in mm that tell one pose of a room from another, and do not hang on its corners'
    order."""
    outline = pose.into(room.outline)
    size = outline.max(axis=0)
    middle = Polygon(outline).centroid
    found = [size[1], *pose.into([room.control])[0], middle.x, middle.y]
    for keep_out in room.keep_outs:
        middle = Polygon(pose.into(keep_out.outline)).centroid
        found += [middle.x, middle.y]
    for line in (*room.joints, *room.doorways):
        middle = LineString(pose.into(line)).centroid
        found += [middle.x, middle.y]
    from_left = np.sort(np.round(outline[:, 0], 1))
    from_low = np.sort(np.round(outline[:, 1], 1))
    return [float(number) for number in (*found, *from_left, *from_low)]


def _in_pose(room: Room, pose: Pose) -> Room:
    return replace(
        room,
        outline=_shape(pose, room.outline),
        keep_outs=tuple(
            replace(keep_out, outline=_shape(pose, keep_out.outline)) for keep_out in room.keep_outs
        ),
        joints=tuple(_snapped(pose, joint) for joint in room.joints),
        doorways=tuple(_snapped(pose, doorway) for doorway in room.doorways),
        control=_snapped(pose, [room.control])[0],
    )


def _snapped(pose: Pose, points: Iterable[Sequence[float]]) -> tuple[Point, ...]:
    return as_points(np.floor(pose.into(points) / GRID_MM + HALF) * GRID_MM)


def _shape(pose: Pose, outline: Iterable[Sequence[float]]) -> tuple[Point, ...]:
    """A counter-clockwise outline that begins at its corner nearest to the origin."""
    points = _snapped(pose, outline)
    if pose.mirrored:
        points = points[::-1]
    first = min(range(len(points)), key=lambda at: (sum(points[at]), points[at]))
    return points[first:] + points[:first]


def _laid_back(laid: LaidElement, pose: Pose, room: Room) -> LaidElement:
    path = as_points(rounded(pose.back(np.asarray(laid.path))))
    return replace(
        laid,
        path=path,
        mesh=tuple(_points(pose, strip) for strip in laid.mesh),
        splice=path[0],
        end=path[-1],
        lead=_from_control(pose, laid.lead, room),
        lead_end=_from_control(pose, laid.lead_end, room),
    )


def _from_control(pose: Pose, way: Sequence[Point], room: Room) -> tuple[Point, ...]:
    return (*as_points(np.asarray([room.control])), *_points(pose, way[1:])) if way else ()


def _points(pose: Pose, points: Sequence[Point]) -> tuple[Point, ...]:
    return as_points(pose.back(np.asarray(points))) if points else ()


def _ring(pose: Pose, ring: Sequence[Point]) -> tuple[Point, ...]:
    """An outline of cold floor; () if it touches itself after rounding."""
    points = _points(pose, ring)
    return points if Polygon(points).is_valid else ()
