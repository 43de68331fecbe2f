"""Closed meshes of any shape: prisms, lofts and tubes, their triangles facing outward."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Body:
    """A closed body: (n, 3, 3) triangles, facing outward."""

    name: str
    triangles: Floats


def volume(triangles: Floats) -> float:
    """Volume of a closed mesh, positive where its triangles face outward [m3]."""
    a, b, c = triangles[:, 0], triangles[:, 1], triangles[:, 2]
    return float((a * np.cross(b, c)).sum() / 6.0)


def loft(name: str, rings: Floats | Sequence[Sequence[Sequence[float]]]) -> Body:
    """A body through (m, n, 3) rings of n corners each, closed by flat caps at both ends."""
    net = np.asarray(rings, dtype=np.float64)
    after = np.roll(net, -1, axis=1)
    a, b, c, d = net[:-1], after[:-1], after[1:], net[1:]
    sides = np.concatenate([np.stack([a, b, c], axis=2), np.stack([a, c, d], axis=2)])
    parts = [sides.reshape(-1, 3, 3)]
    for ring, flip in ((net[0], True), (net[-1], False)):
        cap = ring[np.array(_ears(_flat(ring)))]
        parts.append(cap[:, ::-1] if flip else cap)
    triangles = np.concatenate(parts)
    if volume(triangles) < 0.0:
        triangles = triangles[:, ::-1]
    return Body(name, np.ascontiguousarray(triangles))


def prism(
    name: str, outline: Sequence[Sequence[float]], axis: int, low: float, high: float
) -> Body:
    """A flat outline drawn out along an axis; its two coordinates are the other axes in order."""
    flat = np.asarray(outline, dtype=np.float64)
    return loft(name, np.stack([np.insert(flat, axis, at, axis=1) for at in (low, high)]))


def block(name: str, low: Sequence[float], high: Sequence[float]) -> Body:
    """An upright box."""
    (x0, y0, z0), (x1, y1, z1) = low, high
    return prism(name, [(x0, y0), (x1, y0), (x1, y1), (x0, y1)], 2, z0, z1)


def tube(name: str, path: Sequence[Sequence[float]], radius: float, sides: int = 12) -> Body:
    """A pipe along an (m, 3) path; its corners lie on the round pipe."""
    points = np.asarray(path, dtype=np.float64)
    steps = np.diff(points, axis=0)
    steps /= np.linalg.norm(steps, axis=1)[:, None]
    side = np.cross(steps[0], np.eye(3)[int(np.abs(steps[0]).argmin())])
    side /= np.linalg.norm(side)
    turn = (np.arange(sides) + 0.5) * 2.0 * np.pi / sides
    over = np.cross(steps[0], side)
    ring = points[0] + radius * (np.cos(turn)[:, None] * side + np.sin(turn)[:, None] * over)
    rings = [ring]
    for at, along in enumerate(steps):
        # Drawn on to where it meets the next length, half way round the bend.
        plane = along + steps[min(at + 1, len(steps) - 1)]
        ring = ring + ((points[at + 1] - ring) @ plane / (along @ plane))[:, None] * along
        rings.append(ring)
    return loft(name, np.stack(rings))


def walled(
    name: str,
    axis: int,
    thick: tuple[float, float],
    opening: Sequence[tuple[float, float]],
    whole: Sequence[tuple[float, float]],
) -> list[Body]:
    """Four slabs across an axis that leave an opening: its reach along the other two in order."""
    (a0, a1), (b0, b1) = opening
    (c0, c1), (d0, d1) = whole
    parts = [
        ((c0, d0), (a0, d1)),
        ((a1, d0), (c1, d1)),
        ((a0, d0), (a1, b0)),
        ((a0, b1), (a1, d1)),
    ]
    return [
        block(name, np.insert(low, axis, thick[0]), np.insert(high, axis, thick[1]))
        for low, high in parts
    ]


def _flat(ring: Floats) -> Floats:
    """A ring in the plane of its two longer axes."""
    normal = np.abs(np.cross(ring, np.roll(ring, -1, axis=0)).sum(axis=0))
    if normal.max() < 1e-15:
        raise ValueError("a ring without area")
    return np.delete(ring, int(normal.argmax()), axis=1)


def _ears(outline: Floats) -> list[tuple[int, int, int]]:
    """Triangles of a simple outline, cut off ear by ear, in the outline's own turn."""
    x, y = outline.T
    area = (x * np.roll(y, -1) - np.roll(x, -1) * y).sum()
    turn = 1.0 if area > 0.0 else -1.0
    left, found = list(range(len(outline))), []

    def cross(a: int, b: int, c: int) -> float:
        (ax, ay), (bx, by), (cx, cy) = outline[a], outline[b], outline[c]
        return float(turn * ((bx - ax) * (cy - ay) - (by - ay) * (cx - ax)))

    while len(left) > 3:
        for at in range(len(left)):
            a, b, c = left[at - 1], left[at], left[(at + 1) % len(left)]
            if cross(a, b, c) <= 0.0:
                continue
            others = (p for p in left if p not in (a, b, c))
            if not any(min(cross(a, b, p), cross(b, c, p), cross(c, a, p)) >= 0.0 for p in others):
                found.append((a, b, c))
                left.pop(at)
                break
        else:
            raise ValueError("an outline that crosses itself")
    return [*found, (left[0], left[1], left[2])]
