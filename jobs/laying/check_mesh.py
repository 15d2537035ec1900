"""The rules of a mat's mesh: strips that were cut and turned, and the wire that lies on them."""

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import substring

from jobs.laying.plan import LaidElement
from jobs.laying.problem import MESH_EDGE_MM, Element
from jobs.outline import Point

FloatArray = NDArray[np.float64]

TOLERANCE_MM = 1.0
OVER_EDGE_MM = 25.0
LOOSE_ON_STRIP_MM = 30.0
PITCH_TOLERANCE_MM = 2.0
MOST_LOOSE = 0.5


def mesh_faults(
    area: BaseGeometry,
    chosen: Sequence[Element],
    names: Sequence[str],
    laid: Sequence[LaidElement],
) -> Iterator[str]:
    """Return what is wrong with the strips of every element, and with those of one on another's."""
    every = [
        (name, Polygon(strip))
        for name, element in zip(names, laid, strict=True)
        for strip in element.mesh
    ]
    for entry, name, element in zip(chosen, names, laid, strict=True):
        if entry.kind == "cable":
            if element.mesh:
                yield f"mesh: {name} is a cable and has no mesh."
            continue
        yield from _mat(area, entry, name, element)
    for at, (one, strip) in enumerate(every):
        for another, other in every[:at]:
            if strip.buffer(-TOLERANCE_MM).intersects(other.buffer(-TOLERANCE_MM)):
                yield f"mesh: strips of {another} and {one} overlap."


def _mat(area: BaseGeometry, entry: Element, name: str, laid: LaidElement) -> Iterator[str]:
    path = LineString(laid.path)
    stretches = on_mesh(laid.loose_from_mm, path.length)
    loose = sum(b - a for a, b in laid.loose_from_mm)
    if loose > MOST_LOOSE * path.length + TOLERANCE_MM:
        yield f"mesh: {loose:.0f} mm of the {path.length:.0f} mm of {name} lie off the mesh."
    if len(stretches) != len(laid.mesh):
        yield f"mesh: {name} has {len(laid.mesh)} strips and {len(stretches)} stretches on mesh."
        return
    lengths = 0.0
    limit = area.buffer(OVER_EDGE_MM + TOLERANCE_MM)
    off_mesh = [substring(path, a, b) for a, b in laid.loose_from_mm]
    for number, (corners, (start, end)) in enumerate(zip(laid.mesh, stretches, strict=True), 1):
        strip, wire = Polygon(corners), LineString(substring(path, start, end).coords)
        frame = strip_frame(corners, entry.width_mm, wire)
        if frame is None:
            yield f"mesh: strip {number} of {name} is no rectangle {entry.width_mm:g} mm wide."
            continue
        lengths += frame[2]
        if not limit.covers(strip):
            yield f"mesh: strip {number} of {name} reaches over the heatable area."
        if not strip.buffer(TOLERANCE_MM).covers(wire):
            yield f"mesh: wire of strip {number} of {name} leaves it."
        inner = strip.buffer(-LOOSE_ON_STRIP_MM - TOLERANCE_MM, join_style="mitre")
        if any(inner.intersects(part) for part in off_mesh):
            yield f"mesh: loose wire of {name} lies on strip {number}."
        yield from _passes(entry, name, number, wire, frame)
    if lengths > entry.length_mm + TOLERANCE_MM:
        yield (
            f"mesh: the strips of {name} are {lengths:.0f} mm together, "
            f"the mat {entry.length_mm:g} mm."
        )


def on_mesh(loose: Sequence[tuple[float, float]], length_mm: float) -> list[tuple[float, float]]:
    """Return the stretches of chainage that lie on the mesh: what the loose ones leave."""
    stretches, since = [], 0.0
    for start, end in (*loose, (length_mm, length_mm)):
        if start - since > TOLERANCE_MM:
            stretches.append((since, start))
        since = end
    return stretches


def strip_frame(
    corners: Sequence[Point], width_mm: float, wire: LineString
) -> tuple[FloatArray, FloatArray, float] | None:
    """Return (origin, unit vector along the strip, length) of a strip, None if it is no rectangle.

    Of a square, the side that the wire's longest pass runs across is its length.
    """
    ring = list(corners[:-1]) if corners[0] == corners[-1] else list(corners)
    if len(ring) != 4:
        return None
    points = np.asarray(ring, dtype=np.float64)
    sides = np.roll(points, -1, axis=0) - points
    lengths = np.hypot(sides[:, 0], sides[:, 1])
    if lengths.min() < TOLERANCE_MM or np.abs(sides[0] + sides[2]).max() > 2 * TOLERANCE_MM:
        return None
    if abs(float(np.dot(sides[0], sides[1]))) > 2 * TOLERANCE_MM * lengths.max():
        return None
    steps = np.diff(np.asarray(wire.coords), axis=0)
    longest = steps[int(np.argmax(np.hypot(steps[:, 0], steps[:, 1])))]
    fits = [at for at in (0, 1) if abs(lengths[1 - at] - width_mm) <= TOLERANCE_MM]
    if not fits:
        return None
    at = min(fits, key=lambda side: abs(float(np.dot(sides[side], longest))) / lengths[side])
    return points[at], sides[at] / lengths[at], float(lengths[at])


def _passes(
    entry: Element,
    name: str,
    number: int,
    wire: LineString,
    frame: tuple[FloatArray, FloatArray, float],
) -> Iterator[str]:
    origin, forward, length = frame
    pitch, q = entry.spacing_mm, entry.pass_mm
    n = length / pitch
    if not (n - 2.05) * q - TOLERANCE_MM <= wire.length <= (n + 0.05) * q + TOLERANCE_MM:
        yield (
            f"mesh: {wire.length:.0f} mm of wire on strip {number} of {name}, "
            f"which has {n:.1f} passes of {q:.0f} mm."
        )
    places = _across(np.asarray(wire.coords), origin, forward, entry)
    if not places:
        yield f"mesh: no pass runs across strip {number} of {name}."
        return
    step = np.diff(places)
    if len(step) and (
        np.abs(np.abs(step) - pitch).max() > PITCH_TOLERANCE_MM
        or not (np.all(step > 0) or np.all(step < 0))
    ):
        yield f"mesh: the passes on strip {number} of {name} are not one pitch apart in order."


def _across(
    points: FloatArray, origin: FloatArray, forward: FloatArray, entry: Element
) -> list[float]:
    """Places along the strip, in the order of the wire, of its straight runs across it.

    A run counts when it spans half of what a pass does; the half-turns between do not.
    """
    steps = np.diff(points, axis=0)
    lengths = np.hypot(steps[:, 0], steps[:, 1])
    along = steps @ forward
    straight = np.abs(along) <= 0.02 * np.maximum(lengths, 1e-9) + 0.02
    least = (entry.width_mm - 2 * MESH_EDGE_MM - entry.spacing_mm) / 2
    places: list[float] = []
    run, place = 0.0, 0.0
    for at in range(len(steps) + 1):
        if at < len(steps) and straight[at]:
            run += float(lengths[at])
            place += float(lengths[at] * ((points[at] + points[at + 1]) / 2 - origin) @ forward)
            continue
        if run >= least:
            places.append(place / run)
        run = place = 0.0
    return places
