"""A potential that proves a minimum path length between two points with clearance.

The free region is covered by Kuhn tetrahedra, six to a cube. A function that is linear on each and
nowhere steeper than 1 cannot differ between two points by more than the length of any curve
between them that stays in the region, so its difference is a lower bound on length, however it was
computed. Sweeping and projection below only make the bound good; the proof rests on the final
values and the measured steepness alone.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import label

from fitcheck.geometry.grid import Grid
from fitcheck.kernels import kernel
from fitcheck.units import Metre

Points = NDArray[np.float64]
#: Distance of (n, 3) points from everything solid, exact at least up to the required clearance
#: [m].
Measure = Callable[[Points], NDArray[np.float64]]

#: The six orders in which a path of cube edges climbs from corner 000 to corner 111.
ORDERS = np.array([(0, 1, 2), (0, 2, 1), (1, 0, 2), (1, 2, 0), (2, 0, 1), (2, 1, 0)])
#: Every point of a Kuhn tetrahedron of edge a is within this times a of its corners or the middle
#: of its long edge.
REACH = math.sqrt(5) / 4
#: Rounding tolerance of distances [m].
ROUNDING = 1e-6
FAR = 1e30


@dataclass(frozen=True, eq=False, slots=True, kw_only=True)
class Region:
    """Cubes of a grid and which of their six tetrahedra may hold a point with enough clearance.

    kept : grid.shape uint8, one bit per tetrahedron
    """

    grid: Grid
    kept: NDArray[np.uint8]


def region(grid: Grid, wanted: NDArray[np.bool_], clearance: Metre, measure: Measure) -> Region:
    """Tetrahedra of the wanted cubes that are not wholly closer than `clearance` to something.

    Sound because distance is 1-Lipschitz: a tetrahedron is dropped only if all points of a net in
    it, no farther apart than REACH * pitch / 2, are closer than clearance less that.
    """
    index = np.argwhere(wanted)
    kept = np.zeros(grid.shape, dtype=np.uint8)
    centre = measure(grid.centre(index))
    reach = math.sqrt(3) / 2 * grid.pitch
    kept[tuple(index[centre >= clearance].T)] = 63
    unsure = (centre >= clearance - reach) & (centre < clearance + reach)
    near = index[unsure]
    if len(near):
        kept[tuple(near.T)] = _tetrahedra(grid, near, clearance, measure)
    return Region(grid=grid, kept=kept)


def _tetrahedra(
    grid: Grid, index: NDArray[np.int64], clearance: Metre, measure: Measure
) -> NDArray[np.uint8]:
    """Bits of the tetrahedra kept in each of (n, 3) cubes."""
    half = np.array([(i, j, k) for i in range(3) for j in range(3) for k in range(3)])
    quarter = np.array([(i, j, k) for i in range(2) for j in range(2) for k in range(2)]) + 0.5
    net = np.concatenate([half, quarter]) / 2
    points = np.asarray(grid.origin) + grid.pitch * (index[:, None, :] + net[None])
    limit = clearance - REACH * grid.pitch / 2 - ROUNDING
    clear = (measure(points.reshape(-1, 3)) >= limit).reshape(len(index), len(net))
    bits = np.zeros(len(index), dtype=np.uint8)
    for bit, order in enumerate(ORDERS):
        bits |= clear[:, _net_of(order)].any(axis=1).astype(np.uint8) << bit
    return bits


def _net_of(order: NDArray[np.int64]) -> list[int]:
    """Which net points belong to one tetrahedron: its half-grid points and half-cube centres."""
    corners = np.zeros((4, 3), dtype=np.int64)
    for step, axis in enumerate(order):
        corners[step + 1 :, axis] = 2
    halves = {tuple((corners[a] + corners[b]) // 2) for a in range(4) for b in range(4)}
    cells = {tuple(corner // 2) for corner in corners}
    return sorted(i * 9 + j * 3 + k for i, j, k in halves) + sorted(
        27 + i * 4 + j * 2 + k for i, j, k in cells
    )


@dataclass(frozen=True, eq=False, slots=True, kw_only=True)
class Potential:
    """Node values (nx+1, ny+1, nz+1) [m] and the ball of cubes around the source that has none."""

    region: Region
    values: NDArray[np.float64]
    source: Points
    ball: NDArray[np.bool_]

    def at(self, points: Points) -> NDArray[np.float64]:
        """Lower bound on the length from (n, 3) points to the source [m], FAR if cut off."""
        grid = self.region.grid
        index = np.clip(grid.index(points), 0, np.array(grid.shape) - 1)
        straight = np.linalg.norm(np.asarray(points) - self.source, axis=1)
        through = _interpolate(grid, self.values, points)
        return np.where(self.ball[tuple(index.T)], straight, np.maximum(straight, through)) - 1e-9


def potential(space: Region, source: Points, sweeps: int = 300) -> Potential:
    """The potential that grows from `source`.

    Within the ball the length to the source is at least the distance; a curve from outside meets
    the ball's surface first, and there the values less that distance are at most `offset` (on a
    square of the surface the distance is bounded below by a linear function, so corners suffice).
    """
    pitch = space.grid.pitch
    nodes = (np.asarray(source) - np.asarray(space.grid.origin)) / pitch
    ball = _ball(space, nodes)
    kept = np.where(ball, 0, space.kept).astype(np.uint8)
    phi = np.full(tuple(int(size) + 1 for size in space.grid.shape), FAR)
    edges = _open_edges(kept, ORDERS)
    slowness = np.ones(phi.shape)
    corner = _corner_mask(ball)
    away = _distances(phi.shape, nodes)
    for turn in range(3):
        phi[:] = np.where(corner, away, FAR)
        while _sweep(phi, edges, slowness) > 1e-3:
            pass
        if turn < 2:
            _relax(phi, slowness, kept, ORDERS)
    _settle(phi, kept, sweeps)
    phi[phi < FAR] /= max(_steepest(phi, kept, ORDERS) * (1 + 1e-12), 1.0)
    rim = corner & _corner_mask(~ball & (space.kept > 0))
    if rim.any():
        linear = np.sqrt(np.maximum(away[rim] ** 2 - 0.5001, 0.0))
        phi[phi < FAR] -= float((phi[rim] - linear).max())
    phi[phi < FAR] *= pitch
    return Potential(region=space, values=phi, source=np.asarray(source), ball=ball)


def _settle(phi: NDArray[np.float64], kept: NDArray[np.uint8], sweeps: int) -> None:
    """Project until no tetrahedron is too steep or the sweeps are used up."""
    dirty = (kept > 0).astype(np.uint8)
    for _ in range(sweeps):
        if _project(phi, kept, dirty, ORDERS, 0.999) < 1.0005:
            break


def _ball(space: Region, nodes: Points) -> NDArray[np.bool_]:
    """Kept cubes within three pitches of the source and connected to it there."""
    shape = space.grid.shape
    centre = [(np.arange(size) + 0.5 - node) ** 2 for size, node in zip(shape, nodes, strict=True)]
    near = centre[0][:, None, None] + centre[1][None, :, None] + centre[2][None, None, :] <= 9.0
    home = tuple(np.clip(np.floor(nodes).astype(int), 0, np.array(shape) - 1))
    inside = near & (space.kept > 0)
    inside[home] = True
    groups, _ = label(inside, structure=np.ones((3, 3, 3)))
    return np.asarray(groups == groups[home])


def _corner_mask(cubes: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Nodes that are a corner of one of the cubes."""
    nodes = np.zeros(tuple(size + 1 for size in cubes.shape), dtype=np.bool_)
    for i in (0, 1):
        for j in (0, 1):
            for k in (0, 1):
                part = nodes[
                    i : cubes.shape[0] + i, j : cubes.shape[1] + j, k : cubes.shape[2] + k
                ]
                part |= cubes
    return nodes


def _distances(shape: tuple[int, ...], nodes: Points) -> NDArray[np.float64]:
    """Distance of every node from the source, in pitches."""
    x, y, z = ((np.arange(size) - node) ** 2 for size, node in zip(shape, nodes, strict=True))
    return np.sqrt(x[:, None, None] + y[None, :, None] + z[None, None, :])


def _interpolate(grid: Grid, phi: NDArray[np.float64], points: Points) -> NDArray[np.float64]:
    """Node values at (n, 3) points, linear on each tetrahedron; FAR where a corner is cut off."""
    scaled = (np.asarray(points) - np.asarray(grid.origin)) / grid.pitch
    base = np.clip(np.floor(scaled).astype(np.int64), 0, np.array(grid.shape) - 1)
    part = scaled - base
    rank = np.argsort(-part, axis=1, kind="stable")
    total = phi[tuple(base.T)].copy()
    corner, before, cut = base.copy(), total.copy(), total >= FAR
    for step in range(3):
        axis = rank[:, step]
        corner[np.arange(len(corner)), axis] += 1
        after = phi[tuple(corner.T)]
        total += part[np.arange(len(part)), axis] * (after - before)
        before = after
        cut |= after >= FAR
    return np.where(cut, FAR, total)


@kernel
def _open_edges(kept, orders):  # type: ignore[no-untyped-def]
    """Which of the three edges that leave each node upward belong to a kept tetrahedron.

    kept (nx, ny, nz), bit t for tetrahedron t; orders (6, 3), axes; returns a bit for every axis,
    (nx + 1, ny + 1, nz + 1).
    """
    nx, ny, nz = kept.shape
    edges = np.zeros((nx + 1, ny + 1, nz + 1), dtype=np.uint8)
    for i in range(nx):
        for j in range(ny):
            for k in range(nz):
                bits = kept[i, j, k]
                for t in range(6):
                    if bits >> t & 1:
                        node = np.array([i, j, k])
                        for step in range(3):
                            axis = orders[t, step]
                            edges[node[0], node[1], node[2]] |= np.uint8(1 << axis)
                            node[axis] += 1
    return edges


@kernel
def _update(a, b, c, step):  # type: ignore[no-untyped-def]
    """First-order upwind value from the lowest neighbour along each axis.

    a, b, c, step and the value in pitches, no unit; 1e30 where no neighbour is known.
    """
    if a > b:
        a, b = b, a
    if b > c:
        b, c = c, b
    if a > b:
        a, b = b, a
    if a >= 1e29:
        return 1e30
    new = a + step
    if new <= b:
        return new
    new = 0.5 * (a + b + math.sqrt(max(0.0, 2 * step * step - (a - b) ** 2)))
    if new <= c:
        return new
    total = a + b + c
    under = total * total - 3 * (a * a + b * b + c * c - step * step)
    return (total + math.sqrt(max(0.0, under))) / 3


@kernel
def _sweep(phi, edges, slowness):  # type: ignore[no-untyped-def]
    """One round of sweeps in all eight directions; returns the largest change.

    phi (nx + 1, ny + 1, nz + 1) in pitches, changed in place; edges as _open_edges has them;
    slowness, of the same shape, no unit.
    """
    nx, ny, nz = phi.shape
    worst = 0.0
    low = np.empty(3)
    for turn in range(8):
        for i0 in range(nx):
            i = i0 if turn & 1 else nx - 1 - i0
            for j0 in range(ny):
                j = j0 if turn & 2 else ny - 1 - j0
                for k0 in range(nz):
                    k = k0 if turn & 4 else nz - 1 - k0
                    low[:] = 1e30
                    e = edges[i, j, k]
                    if e & 1:
                        low[0] = phi[i + 1, j, k]
                    if e & 2:
                        low[1] = phi[i, j + 1, k]
                    if e & 4:
                        low[2] = phi[i, j, k + 1]
                    if i and edges[i - 1, j, k] & 1:
                        low[0] = min(low[0], phi[i - 1, j, k])
                    if j and edges[i, j - 1, k] & 2:
                        low[1] = min(low[1], phi[i, j - 1, k])
                    if k and edges[i, j, k - 1] & 4:
                        low[2] = min(low[2], phi[i, j, k - 1])
                    new = _update(low[0], low[1], low[2], slowness[i, j, k])
                    if new < phi[i, j, k] - 1e-9:
                        worst = max(worst, min(phi[i, j, k], 1e6) - new)
                        phi[i, j, k] = new
    return worst


@kernel
def _steepest(phi, kept, orders):  # type: ignore[no-untyped-def]
    """Largest gradient over the kept tetrahedra that are reached (per cell).

    phi (nx + 1, ny + 1, nz + 1) in pitches; kept (nx, ny, nz), bits; orders (6, 3); no unit.
    """
    worst = 0.0
    nx, ny, nz = kept.shape
    node = np.empty(3, dtype=np.int64)
    for i in range(nx):
        for j in range(ny):
            for k in range(nz):
                bits = kept[i, j, k]
                for t in range(6):
                    if bits >> t & 1:
                        node[0], node[1], node[2] = i, j, k
                        before = phi[i, j, k]
                        total = 0.0
                        for step in range(3):
                            node[orders[t, step]] += 1
                            after = phi[node[0], node[1], node[2]]
                            total += (after - before) ** 2
                            before = after
                        if total < 1e20:
                            worst = max(worst, total)
    return math.sqrt(worst)


@kernel
def _relax(phi, slowness, kept, orders):  # type: ignore[no-untyped-def]
    """Speed up the nodes of too steep tetrahedra for the next round.

    phi (nx + 1, ny + 1, nz + 1) in pitches; slowness, of the same shape, no unit, changed in
    place; kept (nx, ny, nz), bits; orders (6, 3).
    """
    nx, ny, nz = kept.shape
    steep = np.ones_like(slowness)
    nodes = np.empty((4, 3), dtype=np.int64)
    for i in range(nx):
        for j in range(ny):
            for k in range(nz):
                bits = kept[i, j, k]
                for t in range(6):
                    if bits >> t & 1:
                        total = _corners(phi, i, j, k, orders[t], nodes)
                        if 1.0 < total < 1e20:
                            g = math.sqrt(total)
                            for n in range(4):
                                a, b, c = nodes[n]
                                steep[a, b, c] = max(steep[a, b, c], g)
    for i in range(nx + 1):
        for j in range(ny + 1):
            for k in range(nz + 1):
                slowness[i, j, k] *= min(1.0, max(0.7, 0.999 / steep[i, j, k]))


@kernel
def _corners(phi, i, j, k, order, nodes):  # type: ignore[no-untyped-def]
    """Fill the four corners of a tetrahedron; returns its squared gradient (per cell).

    phi (nx + 1, ny + 1, nz + 1) in pitches; i, j, k, its cube; order (3,), axes; nodes (4, 3),
    written; the gradient has no unit.
    """
    nodes[0, 0], nodes[0, 1], nodes[0, 2] = i, j, k
    total = 0.0
    for step in range(3):
        nodes[step + 1] = nodes[step]
        nodes[step + 1, order[step]] += 1
        rise = (
            phi[nodes[step + 1, 0], nodes[step + 1, 1], nodes[step + 1, 2]]
            - phi[nodes[step, 0], nodes[step, 1], nodes[step, 2]]
        )
        total += rise * rise
    return total


@kernel
def _project(phi, kept, dirty, orders, limit):  # type: ignore[no-untyped-def]
    """Move the corners of every too steep tetrahedron as little as makes it `limit` steep.

    With D the three rises along the path, the least move has rises (I + m B B')^-1 D for the m
    that makes their norm `limit`; B B' is tridiagonal (2, -1) with known eigenvectors. Returns the
    largest gradient met.
    """
    r2 = math.sqrt(0.5)
    nx, ny, nz = kept.shape
    nodes = np.empty((4, 3), dtype=np.int64)
    d = np.empty(3)
    worst = 0.0
    for i in range(nx):
        for j in range(ny):
            for k in range(nz):
                if not dirty[i, j, k]:
                    continue
                dirty[i, j, k] = 0
                bits = kept[i, j, k]
                for t in range(6):
                    if not bits >> t & 1:
                        continue
                    total = _corners(phi, i, j, k, orders[t], nodes)
                    if total <= limit * limit or total > 1e20:
                        continue
                    worst = max(worst, total)
                    for s in range(3):
                        d[s] = (
                            phi[nodes[s + 1, 0], nodes[s + 1, 1], nodes[s + 1, 2]]
                            - phi[nodes[s, 0], nodes[s, 1], nodes[s, 2]]
                        )
                    c0 = (d[0] + d[2]) / 2 + d[1] * r2
                    c1 = (d[0] - d[2]) * r2
                    c2 = (d[0] + d[2]) / 2 - d[1] * r2
                    q0, q1, q2 = c0 * c0, c1 * c1, c2 * c2
                    l0, l1, l2 = 2 - 2 * r2, 2.0, 2 + 2 * r2
                    m = 0.0
                    for _ in range(30):
                        f0, f1, f2 = 1 + m * l0, 1 + m * l1, 1 + m * l2
                        norm = q0 / f0**2 + q1 / f1**2 + q2 / f2**2
                        slope = -2 * (q0 * l0 / f0**3 + q1 * l1 / f1**3 + q2 * l2 / f2**3)
                        move = (norm - limit * limit) / slope
                        m -= move
                        if abs(move) < 1e-12:
                            break
                    f0, f1, f2 = (
                        c0 * m / (1 + m * l0),
                        c1 * m / (1 + m * l1),
                        c2 * m / (1 + m * l2),
                    )
                    w0 = f0 / 2 + f1 * r2 + f2 / 2
                    w1 = (f0 - f2) * r2
                    w2 = f0 / 2 - f1 * r2 + f2 / 2
                    phi[nodes[0, 0], nodes[0, 1], nodes[0, 2]] += w0
                    phi[nodes[1, 0], nodes[1, 1], nodes[1, 2]] += w1 - w0
                    phi[nodes[2, 0], nodes[2, 1], nodes[2, 2]] += w2 - w1
                    phi[nodes[3, 0], nodes[3, 1], nodes[3, 2]] -= w2
                    for a in range(max(0, i - 1), min(nx, i + 2)):
                        for b in range(max(0, j - 1), min(ny, j + 2)):
                            for c in range(max(0, k - 1), min(nz, k + 2)):
                                dirty[a, b, c] = 1
    return math.sqrt(worst)
