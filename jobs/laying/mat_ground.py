"""The lattices that a room offers to mats of one make: turned, shifted, wider or tighter."""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import atan2, dist, pi

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from jobs.laying.check import SQUARE_FACTOR
from jobs.laying.judge import CAREFUL
from jobs.laying.mat_lattice import SLACK_MM, Frame, Lattice, lattice_over
from jobs.laying.mat_lines import Lines, Sections, placed
from jobs.laying.mat_walk import joined
from jobs.laying.measures import COVER_TOLERANCE_MM
from jobs.laying.problem import MESH_EDGE_MM, Element, Room

SAME_DIRECTION_RAD = 0.01
GAP_SPARE_MM = 0.5
MOST_PATTERNS = 8
GAPS = 4
WIDEST = 1.08
"""Columns over a mat's pitch, at most: of the floor between them a few per cent stay cold."""

CHOICES = 2
FILLED = (0.8, 1.05)
"""Wire over what a lattice holds, by estimate, for the lattice to be worth building."""

WHOLE = 0.97
"""Share of a piece's nodes that must be left connected when it is cut up between mats."""


@dataclass(frozen=True, slots=True)
class Ground:
    """A lattice over the heatable area, for passes that span `span` columns.

    `area` is the heatable area in the frame, `wire_floor` where wire may lie and `mesh_floor`
    where mesh may; `lefts` are the columns that a pass may begin at; `reached` is the share of the
    area that the lines reach; `pieces` are the nodes of each connected piece, largest first;
    `cell_mm` is wire for a node.
    """

    frame: Frame
    lattice: Lattice
    area: BaseGeometry
    wire_floor: BaseGeometry
    mesh_floor: BaseGeometry
    span: int
    lefts: tuple[int, ...]
    reached: float
    pieces: tuple[tuple[int, ...], ...]
    cell_mm: float


def grounds(
    room: Room, area: Polygon | MultiPolygon, choices: Sequence[Sequence[Element]]
) -> list[Ground]:
    """Build lattices over `area` for mats of one make, along most of the wall and across it.

    Only those are built that some of the `choices` would fill, if any would.
    """
    wires = [sum(mat.wire_mm for mat in mats) for mats in choices]
    return _grounds(room, area, choices[0][0], wires, FILLED) or _grounds(
        room, area, choices[0][0], wires, (0.0, FILLED[1])
    )


def _grounds(
    room: Room,
    area: Polygon | MultiPolygon,
    element: Element,
    wires: Sequence[float],
    filled: tuple[float, float],
) -> list[Ground]:
    found = []
    reach = element.spacing_mm / 2 + COVER_TOLERANCE_MM
    most_mm = CAREFUL * SQUARE_FACTOR * room.max_w_per_m2 / 1e6 / element.watts_per_mm
    for angle in _directions(room):
        frame = Frame(angle)
        turned = frame.into(area)
        wire_floor = turned.buffer(SLACK_MM, join_style="mitre")
        mesh_floor = turned.buffer(MESH_EDGE_MM)
        shapely.prepare([wire_floor, mesh_floor])
        box = frame.into(room.floor).bounds
        across, along = Sections(turned, 0, box), Sections(turned, 1, box)
        rows = _distinct(placed(along, [element.spacing_mm], reach, most_mm))
        for span, steps in _patterns(element):
            cell_mm = element.pass_mm / (span + 1)
            for xs in _distinct(placed(across, steps, reach)):
                for ys in rows:
                    holds_mm = xs.wire_mm / element.spacing_mm * cell_mm
                    if all(not filled[0] < wire / holds_mm < filled[1] for wire in wires):
                        continue
                    lattice = lattice_over(turned, xs.at, ys.at)
                    found.append(
                        Ground(
                            frame=frame,
                            lattice=lattice,
                            area=turned,
                            wire_floor=wire_floor,
                            mesh_floor=mesh_floor,
                            span=span,
                            lefts=_lefts(lattice, span, element),
                            reached=1 - (xs.unreached_mm2 + ys.unreached_mm2) / area.area,
                            pieces=pieces(lattice, lattice.inside),
                            cell_mm=cell_mm,
                        )
                    )
    return found


def pieces(lattice: Lattice, free: Sequence[bool]) -> tuple[tuple[int, ...], ...]:
    """The connected pieces of free nodes, largest first."""
    nodes, begins = joined(lattice.steps, np.asarray(free, dtype=np.bool_), lattice.rows)
    found = [tuple(nodes[a:b].tolist()) for a, b in pairwise(begins)]
    return tuple(sorted(found, key=lambda piece: -len(piece)))


def shares(
    lattice: Lattice, piece: Sequence[int], parts: Sequence[float]
) -> Iterator[list[frozenset[int]]]:
    """Cut a piece into one connected share of nodes for each part, along columns, rows or both.

    `parts` are proportions. The order of the shares is that of the parts; cuts begin at either end.
    """
    if len(parts) == 1:
        yield [frozenset(piece)]
        return
    rows = lattice.rows
    first = round(len(piece) * parts[0] / sum(parts))
    for order in (
        sorted(piece),
        sorted(piece, key=lambda node: (node % rows, node // rows)),
        sorted(piece, reverse=True),
        sorted(piece, key=lambda node: (-(node % rows), node // rows)),
    ):
        taken = set(order[:first])
        mine = _largest(lattice, taken)
        rest = _largest(lattice, set(piece) - mine)
        if len(mine) + len(rest) < WHOLE * len(piece):
            continue
        for others in shares(lattice, sorted(rest), parts[1:]):
            yield [frozenset(mine), *others]


def _largest(lattice: Lattice, nodes: Collection[int]) -> set[int]:
    free = [False] * len(lattice.inside)
    for node in nodes:
        free[node] = True
    found = pieces(lattice, free)
    return set(found[0]) if found else set()


def _directions(room: Room) -> list[float]:
    """The direction of most wall, in radians, and the one across it."""
    walls: dict[float, float] = {}
    for a, b in zip(room.outline, (*room.outline[1:], room.outline[0]), strict=True):
        angle = atan2(b[1] - a[1], b[0] - a[0]) % (pi / 2)
        known = next(
            (
                other
                for other in walls
                if min(abs(other - angle), pi / 2 - abs(other - angle)) < SAME_DIRECTION_RAD
            ),
            angle,
        )
        walls[known] = walls.get(known, 0.0) + dist(a, b)
    main = max(walls, key=lambda angle: walls[angle])
    return [main, main + pi / 2]


def _patterns(element: Element) -> list[tuple[int, list[float]]]:
    """Steps between columns: evenly a part of a pass, or with narrower gaps between strips."""
    wide = element.width_mm - 2 * MESH_EDGE_MM
    least = element.gap_mm + GAP_SPARE_MM
    found: list[tuple[int, list[float]]] = []
    for span in range(1, int(wide / least) + 1):
        step = wide / span
        if step > min(WIDEST * element.spacing_mm, element.most_spacing_mm):
            continue
        found.append((span, [step]))
        found += [
            (span, [step] * span + [gap])
            for gap in np.linspace(least, step, GAPS, endpoint=False).tolist()
            if gap < step - COVER_TOLERANCE_MM
        ]
    return found[:MOST_PATTERNS]


def _lefts(lattice: Lattice, span: int, element: Element) -> tuple[int, ...]:
    """Columns from which a pass spans just `span` columns."""
    wide, xs = element.width_mm - 2 * MESH_EDGE_MM, lattice.xs
    return tuple(
        left
        for left in range(1, len(xs) - span - 1)
        if abs(xs[left + span] - xs[left] - wide) < 0.5
    )


def _distinct(lines: Sequence[Lines]) -> list[Lines]:
    """The best lines, and the best of those that differ by a hundredth in the wire they hold."""
    found: list[Lines] = []
    for entry in lines:
        if len(found) < CHOICES and all(
            abs(entry.wire_mm - known.wire_mm) > 0.01 * known.wire_mm for known in found
        ):
            found.append(entry)
    return found
