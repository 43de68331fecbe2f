"""View directions: plan, elevations, and the corner that shows most of the kit."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from fitcheck.geometry.box import Box
from fitcheck.model.found.routes import HoseRoute
from fitcheck.model.found.space import FREE, Space
from fitcheck.model.result import Result
from fitcheck.units import Direction, Metre, Point, Radian, Ratio

Array = NDArray[np.float64]
Preset = Literal["perspective", "plan", "elevation", "end"]

VIEW_ANGLE: Radian = math.radians(26.0)
#: Bearings tried for the perspective, from dead ahead over port, and the elevation.
BEARINGS = tuple(math.radians(step * 22.5) for step in range(16))
RISES = tuple(math.radians(rise) for rise in (22.0, 34.0))

#: Toward the eye and up, for the square views: looking down with the bow to the right, looking
#: from starboard with the bow to the right, looking forward from astern.
SQUARE: dict[Preset, tuple[Direction, Direction]] = {
    "plan": ((0.0, 0.0, 1.0), (0.0, 1.0, 0.0)),
    "elevation": ((0.0, -1.0, 0.0), (0.0, 0.0, 1.0)),
    "end": ((-1.0, 0.0, 0.0), (0.0, 0.0, 1.0)),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Camera:
    """Eye, target and up; `scale` is half the height of a square view, else None."""

    eye: Point
    target: Point
    up: Direction
    scale: Metre | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """The part of the picture the things must stay in, in -1..1 each way, and width / height."""

    left: Ratio = -0.92
    right: Ratio = 0.92
    low: Ratio = -0.88
    high: Ratio = 0.88
    aspect: Ratio = 1.6


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """The view direction of a preset: the direction to the eye, up, and whether it is a square
    view.
    """

    towards_eye: Direction
    up: Direction
    square: bool


def outlook(preset: Preset, result: Result) -> Outlook:
    """The view direction of a preset for this result."""
    if preset == "perspective":
        return Outlook(towards_eye=best_corner(result), up=(0.0, 0.0, 1.0), square=False)
    towards_eye, up = SQUARE[preset]
    return Outlook(towards_eye=towards_eye, up=up, square=True)


def hold(points: Array, look: Outlook, field: Field) -> Camera:
    """The camera in that direction with all points (n, 3) [m] inside the field."""
    fit = fitted_square if look.square else fitted
    return fit(points, look.towards_eye, look.up, field)


def fitted(points: Array, towards_eye: Direction, up: Direction, field: Field) -> Camera:
    """The closest perspective camera looking along -towards_eye with all points in the field."""
    axes = _axes(towards_eye, up)
    middle = points.mean(axis=0)
    across, rise, near = ((points - middle) @ axes.T).T
    tall = math.tan(VIEW_ANGLE / 2)
    wide = tall * field.aspect
    away_x = _least_distance(across, -near, wide * field.left, wide * field.right)
    away_y = _least_distance(rise, -near, tall * field.low, tall * field.high)
    away = max(away_x, away_y, float(near.max()) + 0.05)
    x = _centred(across, -near, wide * field.left, wide * field.right, away)
    y = _centred(rise, -near, tall * field.low, tall * field.high, away)
    target = middle + x * axes[0] + y * axes[1]
    return Camera(
        eye=_point(target + away * axes[2]), target=_point(target), up=_point(axes[1]), scale=None
    )


def fitted_square(points: Array, towards_eye: Direction, up: Direction, field: Field) -> Camera:
    """The closest square (parallel) view along -towards_eye with all points in the field."""
    axes = _axes(towards_eye, up)
    low, high = (points @ axes.T).min(axis=0), (points @ axes.T).max(axis=0)
    span = high - low
    scale = max(
        span[0] / (field.aspect * (field.right - field.left)),
        span[1] / (field.high - field.low),
        1e-3,
    )
    x = (low[0] + high[0]) / 2 - scale * field.aspect * (field.left + field.right) / 2
    y = (low[1] + high[1]) / 2 - scale * (field.low + field.high) / 2
    target = x * axes[0] + y * axes[1] + (low[2] + high[2]) / 2 * axes[2]
    eye = target + (span[2] + 10.0) * axes[2]
    return Camera(eye=_point(eye), target=_point(target), up=_point(axes[1]), scale=float(scale))


def best_corner(result: Result) -> Direction:
    """The view direction with most of the hoses and boxes visible."""
    ways = [
        (math.cos(rise) * math.cos(turn), math.cos(rise) * math.sin(turn), math.sin(rise))
        for rise in RISES
        for turn in BEARINGS
    ]
    points = _worth_seeing(result)
    if not len(points):
        return ways[10]
    boxes = [module.box for module in result.fit.modules]
    return max(ways, key=lambda way: _seen(result.space, boxes, points, way))


def _worth_seeing(result: Result) -> Array:
    paths = [hose.path[::15] for hose in result.routes.hoses if isinstance(hose, HoseRoute)]
    corners = [module.box.corners() for module in result.fit.modules]
    return np.concatenate([*paths, *corners]) if paths or corners else np.zeros((0, 3))


def _seen(space: Space, boxes: list[Box], points: Array, way: Direction) -> Ratio:
    """Share of points visible; a corner view scores slightly higher than a face-on one."""
    hidden = _behind_scan(space, points, way)
    for box in boxes:
        hidden |= _behind_box(box, points, way)
    oblique = 2 * abs(way[0] * way[1]) / max(way[0] ** 2 + way[1] ** 2, 1e-9)
    return float(1.0 - hidden.mean() + 0.25 * oblique)


def _behind_box(box: Box, points: Array, way: Direction) -> NDArray[np.bool_]:
    """Whether the ray from each point towards the eye passes through the box."""
    start = box.local(points)
    slope = np.asarray(box.axes) @ np.asarray(way)
    slope = np.where(np.abs(slope) < 1e-9, 1e-9, slope)
    half = np.asarray(box.half) * 0.98
    one, other = (-half - start) / slope, (half - start) / slope
    enter = np.minimum(one, other).max(axis=1)
    leave = np.maximum(one, other).min(axis=1)
    return np.asarray((leave > np.maximum(enter, 0.0)) & (leave > 1e-3))


def _behind_scan(space: Space, points: Array, way: Direction) -> NDArray[np.bool_]:
    """Whether a front-facing surface of the scan hides each point from the eye.

    Towards the eye, leaving the free space passes a wall from behind, which is not drawn; entering
    it again is a wall that hides.
    """
    steps = np.arange(1.0, max(space.grid.shape) * 1.2) * space.grid.pitch
    index = space.grid.index(points[:, None] + steps[:, None] * np.asarray(way))
    held = space.grid.holds(index)
    index[~held] = 0
    free = held & (space.label[tuple(np.moveaxis(index, -1, 0))] == FREE)
    entered = free[:, 1:] & ~free[:, :-1]
    been_free = np.logical_or.accumulate(free, axis=1)[:, :-1]
    return np.asarray((entered & been_free).any(axis=1))


def _axes(towards_eye: Direction, up: Direction) -> Array:
    """Rows: right, up, towards the eye."""
    back = np.asarray(towards_eye) / np.linalg.norm(towards_eye)
    right = np.cross(up, back)
    right /= np.linalg.norm(right)
    return np.array([right, np.cross(back, right), back])


def _least_distance(place: Array, deeper: Array, low: Ratio, high: Ratio) -> Metre:
    """Smallest distance at which low <= (place - centre) / (distance + deeper) <= high
    can hold.
    """
    right, left = (place - deeper * high).max(), (place - deeper * low).min()
    return float((right - left) / (high - low))


def _centred(place: Array, deeper: Array, low: Ratio, high: Ratio, away: Metre) -> Metre:
    right, left = (place - deeper * high).max(), (place - deeper * low).min()
    return float((right - away * high + left - away * low) / 2)


def _point(values: Array) -> Point:
    x, y, z = (float(value) for value in values)
    return (x, y, z)
