"""Which way is up, and the sea level: waterline, level points or an axis."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitcheck.errors import MeshError
from fitcheck.findings.said import quantity, say
from fitcheck.model.finding import Assumption, Finding
from fitcheck.model.given.boat import Boat
from fitcheck.model.uncertainty import COVERAGE
from fitcheck.space.datum.least_squares import Fitted, fit
from fitcheck.space.datum.level_remarks import (
    datum_findings,
    level_findings,
    mark_findings,
    spread_findings,
    tilt_findings,
    unproven_findings,
)
from fitcheck.space.datum.picks import PRACTICE, axis_of, pick_of, picked_on_surface, unit
from fitcheck.units import Metre, Radian, Ratio, amount

Floats = NDArray[np.float64]

#: Uncertainty (95 %) of a sea level taken on board with a hose or a rule, and of one mark of a
#: waterline or level line against the others; common practice, no source.
TAKEN: Metre = 0.010
MARKED: Metre = 0.006
#: Uncertainty (95 %) of the sea level when it is not stated.
UNKNOWN_SEA: Metre = 0.5
#: Standard deviation of a phone's or headset's upright axis; common practice, no source.
AXIS: Radian = np.radians(0.5)
#: Tilt (95 %) beyond which level points are rejected, and beyond which it is reported.
TILT_REFUSED: Radian = np.radians(4.0)
TILT_REMARKED: Radian = np.radians(2.0)


@dataclass(frozen=True, eq=False, kw_only=True)
class Level:
    """The level plane in the mesh's axes, metres.

    up : (3,) unit vector; height: of the sea along it; middle: (3,) where it is known best
    spread : (3, 3) covariance of up, zero along up itself
    deviation : of the height at `middle`, one standard deviation
    """

    up: Floats
    height: Metre
    middle: Floats
    spread: Floats
    deviation: Metre
    findings: tuple[Finding, ...] = ()
    assumptions: tuple[Assumption, ...] = ()

    def slope(self, way: Floats) -> Radian:
        """Standard deviation of the plane's slope along a level direction."""
        return math.sqrt(max(float(way @ self.spread @ way), 0.0))


@dataclass(frozen=True, eq=False, kw_only=True)
class _Up:
    """A direction, its covariance, and the height of the plane it came from, if any."""

    vector: Floats
    spread: Floats
    said: tuple[Finding, ...] = ()
    taken: tuple[Assumption, ...] = ()


@dataclass(frozen=True, eq=False, kw_only=True)
class _Plane:
    up: _Up
    middle: Floats
    deviation: Metre
    fitted: Fitted


def find_level(boat: Boat, scale: Metre) -> Level:
    """Determine the level plane by the waterline, else by level points or an axis and the datum's
    height.

    Raises MeshError for a waterline or level points that are nearly collinear.
    """
    if boat.waterline:
        return _by_waterline(boat, scale)
    up = _upward(boat, scale)
    if boat.datum is None:
        inside = scale * np.array(boat.inside)
        unknown = Assumption(
            said=say("assumed.sea"),
            taken=say("assumed.sea-taken", height=quantity(0.0, "run")),
            source="neither boat.datum nor boat.waterline is given",
            can_flip=True,
        )
        return Level(
            up=up.vector,
            height=float(up.vector @ inside),
            middle=inside,
            spread=up.spread,
            deviation=UNKNOWN_SEA / COVERAGE,
            findings=(*up.said, *unproven_findings(boat)),
            assumptions=(*up.taken, unknown),
        )
    point = scale * np.array(boat.datum.point)
    return Level(
        up=up.vector,
        height=float(up.vector @ point) - boat.datum.above_sea,
        middle=point,
        spread=up.spread,
        deviation=float(np.hypot(_pick(boat), TAKEN / COVERAGE)),
        findings=(*up.said, *unproven_findings(boat)),
        assumptions=up.taken,
    )


def _pick(boat: Boat) -> Metre:
    """The error of a mark picked on a drawing is that of the hand, not of the boat as built."""
    return picked_on_surface(boat) if boat.origin == "scan" else pick_of(boat)


def _by_waterline(boat: Boat, scale: Metre) -> Level:
    plane = _plane_through(boat, scale * np.array(boat.waterline), "waterline")
    up = plane.up.vector
    height = float(up @ plane.middle)
    findings = plane.up.said + tilt_findings(boat, up)
    findings += datum_findings(boat, scale, up, height)
    found = _by_points(boat, scale)
    if found is not None:
        findings += level_findings(
            up, found.vector, _widest(plane.up.spread) + _widest(found.spread)
        )
    return Level(
        up=up,
        height=height,
        middle=plane.middle,
        spread=plane.up.spread,
        deviation=plane.deviation,
        findings=findings,
        assumptions=plane.up.taken,
    )


def _upward(boat: Boat, scale: Metre) -> _Up:
    """Up without a waterline."""
    found = _by_points(boat, scale)
    if found is not None:
        return found
    if boat.up is None:
        raise MeshError(
            boat.mesh,
            "the vertical is not defined",
            "give boat.waterline, boat.level or boat.up",
            "boat.up",
        )
    up = unit(boat.up)
    error = AXIS if boat.origin == "scan" else 0.0
    told = say("assumed.up-axis-drawn", axis=axis_of(up))
    if error:
        within = quantity(COVERAGE * error, "angle")
        told = say("assumed.up-axis-scanned", axis=axis_of(up), within=within)
    taken = Assumption(
        said=say("assumed.up-axis"),
        taken=told,
        source="boat.up in the boat file; six waterline points or level points would prove it",
        can_flip=error > 0.0,
    )
    return _Up(vector=up, spread=error**2 * _level_only(up), taken=(taken,))


def _by_points(boat: Boat, scale: Metre) -> _Up | None:
    """Up by points at the same height: a laser line, a level floor."""
    if not boat.level:
        return None
    return _plane_through(boat, scale * np.array(boat.level), "level").up


# --- planes -----------------------------------------------------------------------------------


def _plane_through(boat: Boat, points: Floats, key: str) -> _Plane:
    """The level plane by weighted least squares of heights over positions, outliers removed."""
    if len(points) < 3:
        raise MeshError(
            boat.mesh,
            f"{len(points)} points of boat.{key} do not define a plane",
            "pick six or more",
            f"boat.{key}",
        )
    sigma = float(np.hypot(_pick(boat), MARKED / COVERAGE)) if boat.origin == "scan" else 0.001
    fitted, axes = _fitted(boat, points, sigma, key)
    middle = points[fitted.kept].mean(axis=0)
    tilts = fitted.spread[1:, 1:]
    worst = float(np.sqrt(np.linalg.eigvalsh(tilts)[1]))
    _refuse_a_line(boat, points[fitted.kept], sigma, key)
    up, taken = _turned_up(boat, axes[2], key)
    spread = axes[:2].T @ tilts @ axes[:2]
    said = mark_findings(boat, key, fitted, axes, points)
    said += spread_findings(key, len(points), COVERAGE * worst, float(TILT_REMARKED))
    return _Plane(
        up=_Up(vector=up, spread=spread, said=said, taken=taken),
        middle=middle,
        deviation=float(np.sqrt(fitted.spread[0, 0])),
        fitted=fitted,
    )


def _fitted(boat: Boat, points: Floats, sigma: Metre, key: str) -> tuple[Fitted, Floats]:
    """Heights over two level axes, with the axes turned until the slope is zero; rows of axes."""
    _, _, axes = np.linalg.svd(points - points.mean(axis=0), full_matrices=False)
    _refuse_a_line(boat, points, sigma, key)
    kept = np.ones(len(points), dtype=np.bool_)
    fitted = None
    for _ in range(5):
        local = (points - points[kept].mean(axis=0)) @ axes.T
        design = np.column_stack([np.ones(len(points)), local[:, :2]])
        fitted = fit(design, local[:, 2], np.full(len(points), sigma))
        kept = fitted.kept
        slope = fitted.values[1:]
        normal = unit(axes[2] - slope[0] * axes[0] - slope[1] * axes[1])
        first = unit(axes[0] - (axes[0] @ normal) * normal)
        axes = np.stack([first, np.cross(normal, first), normal])
        if np.abs(slope).max() < 1e-9:
            break
    assert fitted is not None
    return fitted, axes


def _refuse_a_line(boat: Boat, points: Floats, sigma: Metre, key: str) -> None:
    spans = np.linalg.svd(points - points.mean(axis=0), compute_uv=False)
    tilt = COVERAGE * sigma / max(float(spans[1]), 1e-9)
    if tilt <= TILT_REFUSED:
        return
    across = float(spans[1]) / np.sqrt(len(points))
    raise MeshError(
        boat.mesh,
        f"the {len(points)} points of boat.{key} are near one line "
        f"({amount(across, 'gap')} across it): the tilt of the level plane is uncertain by "
        f"{amount(min(tilt, np.pi / 2), 'tilt')}",
        "pick points on both sides of the boat, and fore and aft",
        f"boat.{key}",
    )


def _turned_up(boat: Boat, normal: Floats, key: str) -> tuple[Floats, tuple[Assumption, ...]]:
    """The plane's normal turned upwards: by boat.up, else by the mesh's own axes."""
    if boat.up is not None:
        return (normal if normal @ unit(boat.up) >= 0.0 else -normal), ()
    axis = int(np.abs(normal).argmax())
    up = normal if normal[axis] >= 0.0 else -normal
    taken = Assumption(
        said=say("assumed.not-upside-down"),
        taken=say("assumed.not-upside-down-taken", axis=axis_of(up)),
        source=f"boat.up is not given, and boat.{key} cannot tell which way is up ({PRACTICE})",
        can_flip=True,
    )
    return up, (taken,)


def _level_only(up: Floats) -> Floats:
    return np.eye(3) - np.outer(up, up)


def _widest(spread: Floats) -> Ratio:
    """The largest variance of a direction."""
    return float(np.linalg.eigvalsh(spread)[-1])
