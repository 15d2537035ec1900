"""Draw a course out on the floor: even spacing, the wire's whole length, no bend too tight.

A polyline moves in small steps. Each point is pushed from the passes beside it and pulled by the
cold floor nearest to it; where the line bends it gives or takes length until the wire is used up.
After each step the hard rules are put right: the floor's edge, the bend, the straight splice.
All in millimetres; kernels are compiled and work in place on arrays of shape (n, 2).
"""

import numpy as np
from numpy.typing import NDArray

from jobs.laying.compiled import compiled
from jobs.laying.field import edge_distance, pull_of_cold_floor

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

STRAIGHT_MM = 165.0
"""The first stretch is kept straight: the stiff splice and a little more."""


@compiled
def resampled(path: FloatArray, step: float) -> FloatArray:
    """Return the polyline at even steps of about `step`, ends kept."""
    n = len(path)
    at = np.zeros(n)
    for i in range(1, n):
        at[i] = at[i - 1] + np.hypot(path[i, 0] - path[i - 1, 0], path[i, 1] - path[i - 1, 1])
    count = max(2, round(at[-1] / step) + 1)
    out = np.empty((count, 2))
    j = 0
    for k in range(count):
        c = at[-1] * k / (count - 1)
        while j < n - 2 and at[j + 1] < c:
            j += 1
        run = at[j + 1] - at[j]
        f = min(1.0, max(0.0, (c - at[j]) / run)) if run > 0 else 0.0
        out[k, 0] = path[j, 0] + f * (path[j + 1, 0] - path[j, 0])
        out[k, 1] = path[j, 1] + f * (path[j + 1, 1] - path[j, 1])
    return out


@compiled
def length_of(path: FloatArray) -> float:
    """Length of a polyline."""
    total = 0.0
    for i in range(1, len(path)):
        total += np.hypot(path[i, 0] - path[i - 1, 0], path[i, 1] - path[i - 1, 1])
    return total


@compiled
def _cells(
    path: FloatArray, left: float, low: float, size: float, nx: int, ny: int
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Sort points into cells: `first[c]:first[c + 1]` of `order` are those in cell c."""
    n = len(path)
    first = np.zeros(nx * ny + 1, dtype=np.int64)
    cell = np.empty(n, dtype=np.int64)
    for i in range(n):
        cx = min(nx - 1, max(0, int((path[i, 0] - left) / size)))
        cy = min(ny - 1, max(0, int((path[i, 1] - low) / size)))
        cell[i] = cx * ny + cy
        first[cell[i] + 1] += 1
    for c in range(nx * ny):
        first[c + 1] += first[c]
    order = np.empty(n, dtype=np.int64)
    fill = first[:-1].copy()
    for i in range(n):
        order[fill[cell[i]]] = i
        fill[cell[i]] += 1
    return first, order


@compiled
def _push_of_passes(
    path: FloatArray,
    move: FloatArray,
    left: float,
    low: float,
    nx: int,
    ny: int,
    keep: float,
    least: float,
    window: int,
    soft: float,
) -> None:
    """Add to `move` the push of the nearest pass on either side, if nearer than `keep`.

    Nearer than `least` pushes fully, up to `keep` by the share `soft`.
    """
    first, order = _cells(path, left, low, keep, nx, ny)
    n = len(path)
    for i in range(n):
        a, b = max(0, i - 1), min(n - 1, i + 1)
        tx, ty = path[b, 0] - path[a, 0], path[b, 1] - path[a, 1]
        run = np.hypot(tx, ty)
        if run == 0:
            continue
        tx, ty = tx / run, ty / run
        x, y = path[i, 0], path[i, 1]
        cx = min(nx - 1, max(0, int((x - left) / keep)))
        cy = min(ny - 1, max(0, int((y - low) / keep)))
        d_left, d_right = keep * keep, keep * keep
        lx = ly = rx = ry = 0.0
        for gx in range(max(0, cx - 1), min(nx, cx + 2)):
            for gy in range(max(0, cy - 1), min(ny, cy + 2)):
                c = gx * ny + gy
                for k in range(first[c], first[c + 1]):
                    j = order[k]
                    if abs(i - j) < window:
                        continue
                    dx, dy = path[j, 0] - x, path[j, 1] - y
                    d = dx * dx + dy * dy
                    if tx * dy - ty * dx > 0:
                        if d < d_left:
                            d_left, lx, ly = d, dx, dy
                    elif d < d_right:
                        d_right, rx, ry = d, dx, dy
        d_left, d_right = np.sqrt(d_left), np.sqrt(d_right)
        if d_left < keep and d_left > 0:
            p = soft * (keep - d_left) + (1 - soft) * max(0.0, least - d_left)
            move[i, 0] -= 0.5 * p * lx / d_left
            move[i, 1] -= 0.5 * p * ly / d_left
        if d_right < keep and d_right > 0:
            p = soft * (keep - d_right) + (1 - soft) * max(0.0, least - d_right)
            move[i, 0] -= 0.5 * p * rx / d_right
            move[i, 1] -= 0.5 * p * ry / d_right


@compiled
def _unbend(path: FloatArray, radius: float, sweeps: int) -> None:
    """Open every vertex that turns more than an arc of `radius` would over its step."""
    n = len(path)
    for _ in range(sweeps):
        for i in range(1, n - 1):
            ax, ay = path[i, 0] - path[i - 1, 0], path[i, 1] - path[i - 1, 1]
            bx, by = path[i + 1, 0] - path[i, 0], path[i + 1, 1] - path[i, 1]
            la, lb = np.hypot(ax, ay), np.hypot(bx, by)
            if la == 0 or lb == 0:
                continue
            cross, dot = ax * by - ay * bx, ax * bx + ay * by
            most = 0.5 * (la + lb) / radius
            if dot > 0 and abs(cross) < 0.9 * most * dot:  # a tangent is more than its angle
                continue
            turn = abs(np.arctan2(cross, dot))
            if turn <= most:
                continue
            mx = 0.5 * (path[i - 1, 0] + path[i + 1, 0]) - path[i, 0]
            my = 0.5 * (path[i - 1, 1] + path[i + 1, 1]) - path[i, 1]
            f = min(1.0, (turn - most) / turn) * 0.5
            path[i, 0] += f * mx
            path[i, 1] += f * my
            path[i - 1, 0] -= 0.5 * f * mx
            path[i - 1, 1] -= 0.5 * f * my
            path[i + 1, 0] -= 0.5 * f * mx
            path[i + 1, 1] -= 0.5 * f * my


@compiled
def _hold_inside(
    path: FloatArray,
    edges: FloatArray,
    grid: FloatArray,
    left: float,
    low: float,
    cell: float,
    inset: float,
) -> None:
    """Move what is outside, or within `inset` of the edge, to `inset` inside it.

    Points are moved onto the line; where the middle between two points is out (a corner of the
    floor reaches between them), both are moved by what is missing there.
    """
    nx, ny = grid.shape
    n = len(path)
    for k in range(2 * n - 1):
        i = k // 2
        if k % 2 == 0:
            x, y = path[i, 0], path[i, 1]
        else:
            x, y = 0.5 * (path[i, 0] + path[i + 1, 0]), 0.5 * (path[i, 1] + path[i + 1, 1])
        a = min(nx - 1, max(0, int((x - left) / cell)))
        b = min(ny - 1, max(0, int((y - low) / cell)))
        if grid[a, b] > cell + inset:
            continue
        d, px, py = edge_distance(edges, x, y)
        run = abs(d)
        if d >= inset or run < 1e-6:
            continue
        f = (inset - d) / d if d > 0 else -(inset - d) / run
        dx, dy = f * (x - px), f * (y - py)
        path[i, 0] += dx
        path[i, 1] += dy
        if k % 2:
            path[i + 1, 0] += dx
            path[i + 1, 1] += dy


@compiled
def _straighten(path: FloatArray, step: float, reverse: bool) -> None:
    """Draw the first (last, `reverse`) stretch onto its chord."""
    n = len(path)
    m = min(n - 1, int(STRAIGHT_MM / step) + 1)
    s, e = (n - 1, n - 1 - m) if reverse else (0, m)
    cx, cy = path[e, 0] - path[s, 0], path[e, 1] - path[s, 1]
    run = cx * cx + cy * cy
    if run == 0:
        return
    for k in range(1, m):
        i = n - 1 - k if reverse else k
        f = ((path[i, 0] - path[s, 0]) * cx + (path[i, 1] - path[s, 1]) * cy) / run
        path[i, 0] += 0.5 * (path[s, 0] + f * cx - path[i, 0])
        path[i, 1] += 0.5 * (path[s, 1] + f * cy - path[i, 1])


@compiled
def relaxed(
    path: FloatArray,
    edges: FloatArray,
    grid: FloatArray,
    left: float,
    low: float,
    cell: float,
    wire: float,
    spacing: float,
    gap: float,
    bend: float,
    step: float,
    rounds: int,
    both: bool,
    settle: int,
) -> FloatArray:
    """Return the path after `rounds` steps, of length `wire`; the last `settle` only obey rules.

    `grid` is `distance_grid` at (left, low) with `cell`; `both` keeps the last stretch straight
    too. `gap` and `bend` are the least spacing and radius to keep (give a little more than due).
    """
    path = resampled(path, step)
    nx = int(grid.shape[0] * cell / gap) + 2
    ny = int(grid.shape[1] * cell / gap) + 2
    window = int(1.6 * gap / step) + 1
    span = max(1, round(24.0 / step))
    stride = span
    pull = np.zeros((len(path), 2))
    speed = np.zeros((len(path), 2))
    tension = 0.0
    for it in range(rounds):
        last = it >= rounds - settle
        if it % 6 == 0:
            path = resampled(path, step)
            speed = np.zeros((len(path), 2))
        n = len(path)
        if not last and (it % 3 == 0 or len(pull) != n):
            pull = pull_of_cold_floor(
                path, grid, left, low, cell, spacing / 2, 1.3 * spacing, stride
            )
        move = np.zeros((n, 2))
        keep = max(gap, spacing + 3.0)
        _push_of_passes(path, move, left, low, nx, ny, keep, gap, window, 0.0 if last else 0.25)
        off = length_of(path) / wire - 1
        tension += 0.4 * off
        tension = min(0.5, max(-0.5, tension))
        give = (tension + 6 * off) * 60.0
        weight = cell * cell / (step * 60.0)
        for i in range(1, n - 1):
            a, b = max(0, i - span), min(n - 1, i + span)
            w = (b - a) * step * 0.5
            kx = (path[a, 0] + path[b, 0] - 2 * path[i, 0]) / (w * w)
            ky = (path[a, 1] + path[b, 1] - 2 * path[i, 1]) / (w * w)
            move[i, 0] += give * kx * 30.0
            move[i, 1] += give * ky * 30.0
        if not last:
            for i in range(n):
                move[i, 0] += weight * pull[i, 0]
                move[i, 1] += weight * pull[i, 1]
        # a force on one point alone would kink the wire: spread it over its neighbours
        for _ in range(2):
            px, py = move[0, 0], move[0, 1]
            for i in range(1, n - 1):
                qx, qy = move[i, 0], move[i, 1]
                move[i, 0] = 0.25 * px + 0.5 * qx + 0.25 * move[i + 1, 0]
                move[i, 1] = 0.25 * py + 0.5 * qy + 0.25 * move[i + 1, 1]
                px, py = qx, qy
        for i in range(n):
            speed[i, 0] = 0.6 * speed[i, 0] + move[i, 0]
            speed[i, 1] = 0.6 * speed[i, 1] + move[i, 1]
            v = np.hypot(speed[i, 0], speed[i, 1])
            f = min(1.0, 3.0 / v) if v > 0 else 0.0
            path[i, 0] += f * speed[i, 0]
            path[i, 1] += f * speed[i, 1]
        _fair(path, 0.12)
        _unbend(path, bend, 3)
        _straighten(path, step, False)
        if both:
            _straighten(path, step, True)
        _hold_inside(path, edges, grid, left, low, cell, 0.3)
    return path


@compiled
def _fair(path: FloatArray, share: float) -> None:
    """Take out waves shorter than a few steps without shortening what is evenly bent."""
    n = len(path)
    bx = np.zeros(n)
    by = np.zeros(n)
    for i in range(1, n - 1):
        bx[i] = path[i - 1, 0] + path[i + 1, 0] - 2 * path[i, 0]
        by[i] = path[i - 1, 1] + path[i + 1, 1] - 2 * path[i, 1]
    for i in range(2, n - 2):
        path[i, 0] -= share * 0.5 * (bx[i - 1] + bx[i + 1] - 2 * bx[i])
        path[i, 1] -= share * 0.5 * (by[i - 1] + by[i + 1] - 2 * by[i])
