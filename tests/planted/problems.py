"""Seeded routing problems whose answer is known to exist: obstacles placed around planted curves.

First the hoses are laid out as legs and bends in an empty bay, then bulkheads, boxes, posts,
shelves, lockers and a hull are moved up to them from outside until a chosen slack is left. Every
planted hose keeps its radius, its clearance to all obstacles and the gap to the other hoses, so
each problem has a feasible answer and its length is an upper bound on the shortest. The bay
measures 2.0 x 1.5 x 1.2 m. The same seed gives the same problem.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from fitcheck.geometry.box import as_point
from tests.planted.bay import HIGH, LEVELS, LOW, PORT_PITCH, Problem
from tests.planted.curve import DoesNotFitError, Wish, random_curve
from tests.planted.grow import Bay, declare_hole, grown

#: Sets count their seeds from here.
FIRST_SET = 10_000


def single(seed: int) -> Problem:
    """One hose; level by seed, every tenth through a declared hole."""
    level = LEVELS[seed % 3]
    for rng in _tries(seed):
        need = rng.uniform(0.012, 0.035)
        half = min(rng.uniform(0.005, 0.016), need - 0.004)
        radius = math.exp(rng.uniform(math.log(0.040), math.log(0.150)))
        bay = Bay(need - half, 0.005, max(need + 0.004, rng.uniform(0.045, 0.07)))
        curve = random_curve(rng, _wish(bay, radius, need, stretch=rng.uniform(0.08, 0.3)))
        if curve is None:
            continue
        bay.lay("hose", radius, half, curve)
        family = "single"
        if seed % 10 == 7:
            family = "hole"
            if not declare_hole(rng, bay):
                continue
        problem = grown(rng, bay, seed, level, family)
        if problem:
            return problem
    raise AssertionError(f"no problem for seed {seed}")


def crowd(seed: int) -> Problem:
    """Five to twelve hoses: a bundle through one hole, bundles that cross, or a fan."""
    level = LEVELS[seed % 3]
    plan = (_bundle, _crossing, _fan)[(seed // 3) % 3]
    for rng in _tries(seed):
        clearance = rng.uniform(0.006, 0.018)
        bay = Bay(clearance, rng.uniform(0.002, 0.005), rng.uniform(0.045, 0.06))
        if not plan(rng, bay) or not 5 <= len(bay.hoses) <= 12:
            continue
        problem = grown(rng, bay, seed, level, plan.__name__[1:])
        if problem:
            return problem
    raise AssertionError(f"no problem for seed {seed}")


def _tries(seed: int) -> Iterator[np.random.Generator]:
    for attempt in range(400):
        yield np.random.default_rng([seed, attempt])


def _wish(
    bay: Bay,
    radius: float,
    need: float,
    bends: tuple[int, ...] = (2, 3, 4, 5),
    stretch: float = 0.15,
) -> Wish:
    inset = need + 0.03
    return Wish(
        radius=radius,
        lead=max(bay.straight, need + 0.001) + 0.001,
        low=as_point(LOW + inset),
        high=as_point(HIGH - inset),
        bends=bends,
        keep=2 * need,
        stretch=stretch,
    )


# --- crowds --------------------------------------------------------------------------------------


def _bundle(rng: np.random.Generator, bay: Bay) -> bool:
    """Hoses side by side all the way, and some single ones."""
    places = _grid(rng, int(rng.integers(4, 10)))
    if not _strand(rng, bay, places):
        return False
    return _loose(rng, bay, int(rng.integers(1, 4)))


def _crossing(rng: np.random.Generator, bay: Bay) -> bool:
    """Two bundles that pass each other, and some single hoses."""
    for _ in range(2):
        if not _strand(rng, bay, _grid(rng, int(rng.integers(2, 5)))):
            return False
    return _loose(rng, bay, int(rng.integers(1, 5)))


def _fan(rng: np.random.Generator, bay: Bay) -> bool:
    """One manifold with ports side by side, every hose to a place of its own."""
    count = int(rng.integers(5, 11))
    axis, along = rng.permutation(3)[:2]
    way, row = np.zeros(3), np.zeros(3)
    way[axis], row[along] = rng.choice([-1.0, 1.0]), PORT_PITCH
    inset = 0.12
    middle = rng.uniform(LOW + inset, HIGH - inset)
    middle[axis] = (LOW if way[axis] > 0 else HIGH)[axis] + inset * way[axis]
    ports = [middle + (n - (count - 1) / 2) * row for n in range(count)]
    if any((port < LOW + 0.06).any() or (port > HIGH - 0.06).any() for port in ports):
        return False
    laid = 0
    for port in ports:
        radius, half = _hose_size(rng, bay)
        wish = _wish(bay, radius, half + bay.clearance, (1, 2, 3, 4))
        for _ in range(12):
            curve = random_curve(rng, wish, port, way, tries=40)
            if curve is not None and bay.lay_apart(rng, radius, half, curve):
                laid += 1
                break
    if laid < 5:
        return False
    bay.manifold(rng, bay.hoses, 0)
    return True


def _hose_size(rng: np.random.Generator, bay: Bay) -> tuple[float, float]:
    """Bend radius and half the outside diameter; two stubs must fit side by side."""
    widest = (PORT_PITCH - bay.gap) / 2 - 0.0015
    return rng.uniform(0.045, 0.12), rng.uniform(0.005, min(0.014, widest))


def _grid(rng: np.random.Generator, count: int) -> list[tuple[float, float]]:
    """Places of a bundle in its cross-section, two or three rows [m]."""
    rows = int(rng.integers(1, 4)) if count > 3 else int(rng.integers(1, 3))
    wide = math.ceil(count / rows)
    middle = (wide - 1) / 2, (rows - 1) / 2
    places = [(n % wide - middle[0], n // wide - middle[1]) for n in range(count)]
    return [(PORT_PITCH * a, PORT_PITCH * b) for a, b in places]


def _strand(rng: np.random.Generator, bay: Bay, places: list[tuple[float, float]]) -> bool:
    """Lay out a bundle along a random spine; every hose may use its own radius there."""
    reach = max(math.hypot(*place) for place in places)
    wish = _wish(bay, 0.055 + reach + rng.uniform(0, 0.06), 0.03 + reach, (2, 3, 4))
    for _ in range(12):
        spine = random_curve(rng, wish, tries=60)
        if spine is None:
            continue
        try:
            curves = [spine.beside(*place) for place in places]
        except DoesNotFitError:
            continue
        before = len(bay.hoses)
        sizes = [_hose_size(rng, bay) for _ in curves]
        radii = [float(curve.radii.min()) * rng.uniform(0.75, 1.0) for curve in curves]
        fits = [
            bay.lay_apart(rng, radius, size[1], curve)
            for radius, size, curve in zip(radii, sizes, curves, strict=True)
        ]
        if all(fits):
            for end in (0, 1):
                bay.manifold(rng, bay.hoses[before:], end)
            return True
        del bay.hoses[before:]
    return False


def _loose(rng: np.random.Generator, bay: Bay, count: int) -> bool:
    for _ in range(count):
        radius, half = _hose_size(rng, bay)
        wish = _wish(bay, radius, half + bay.clearance)
        for _ in range(20):
            curve = random_curve(rng, wish, tries=40)
            if curve is not None and bay.lay_apart(rng, radius, half, curve):
                break
    return True
