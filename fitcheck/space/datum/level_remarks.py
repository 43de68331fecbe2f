"""What there is to say about level and waterline."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fitcheck.model.finding import Finding, Remedy, Step
from fitcheck.model.given.boat import Boat
from fitcheck.model.uncertainty import COVERAGE
from fitcheck.space.datum.least_squares import Fitted
from fitcheck.space.datum.picks import PICK, PRACTICE, unit
from fitcheck.units import Metre, Radian, Ratio

Floats = NDArray[np.float64]

#: Nothing is cut or ordered by a level plane whose marks do not agree.
BOTH: tuple[Step, ...] = ("cut_joinery", "order_hoses")


def mark_findings(
    boat: Boat, key: str, fitted: Fitted, axes: Floats, points: Floats
) -> tuple[Finding, ...]:
    """Points off their plane, one by one where they stand out, else all together."""
    found = []
    for number in fitted.outliers:
        rest = fitted.kept.copy()
        rest[number] = False
        off = _off_plane(points, rest, number, axes)
        used = "it is left out" if not fitted.kept[number] else "too few are left to leave it out"
        found.append(
            _remark(
                f"{key}-outlier",
                f"Point {number + 1} of boat.{key} lies {abs(off) * 1000:.0f} mm "
                f"{'above' if off > 0.0 else 'below'} the plane of the others; {used}.",
                abs(off),
                3.0 * PICK,
                "m",
                f"Pick point {number + 1} of boat.{key} again.",
                BOTH if fitted.kept[number] else (),
            )
        )
    kept = fitted.residual[fitted.kept]
    residual = float(np.sqrt((kept**2).sum() / max(1, len(kept) - 3)))
    if not found and (residual > 3.0 * PICK or fitted.scatter > 2.0):
        found.append(
            _remark(
                f"{key}-residual",
                f"The points of boat.{key} lie {residual * 1000:.0f} mm off their plane.",
                residual,
                3.0 * PICK,
                "m",
                f"Pick the points of boat.{key} again; more than one of them is wrong.",
                BOTH,
            )
        )
    return tuple(found)


def _off_plane(points: Floats, rest: NDArray[np.bool_], number: int, axes: Floats) -> Metre:
    """How far a point lies above the plane of some others, along the third axis turned up."""
    local = (points - points[rest].mean(axis=0)) @ axes.T
    design = np.column_stack([np.ones(len(points)), local[:, :2]])
    values = np.linalg.lstsq(design[rest], local[rest, 2], rcond=None)[0]
    off = float(local[number, 2] - design[number] @ values)
    return off if axes[2][int(np.abs(axes[2]).argmax())] >= 0.0 else -off


def spread_findings(key: str, count: int, tilt: Radian, most: Radian) -> tuple[Finding, ...]:
    """A plane that could tip more than one likes; tilt at 95 %."""
    if tilt <= most:
        return ()
    return (
        _remark(
            f"{key}-spread",
            f"The level plane through {count} points of boat.{key} may tip by "
            f"{np.degrees(tilt):.1f} deg.",
            float(tilt),
            most,
            "rad",
            "Pick more points, farther apart.",
        ),
    )


def unproven_findings(boat: Boat) -> tuple[Finding, ...]:
    """Without a waterline: whether up and the height of the sea rest on something taken on board.

    The up axis of a drawing counts as proven where the boat file states the trim it floats at.
    """
    found = []
    measured = bool(boat.level) or boat.plumb is not None
    drawn = boat.origin == "cad" and "trim" in boat.conditions.given
    if not measured and not drawn:
        found.append(
            _remark(
                "up-unproven",
                "Which way is up is not proven: only an axis of the mesh says so.",
                0.0,
                0.0,
                "rad",
                "State boat.conditions.trim for a drawing; for a scan pick six waterline marks, "
                "level points or a plumb line.",
                bars=BOTH,
            )
        )
    if boat.datum is None:
        found.append(
            _remark(
                "sea-unproven",
                "The height of the sea is not known: neither boat.waterline nor boat.datum says.",
                0.0,
                0.0,
                "m",
                "Pick six waterline marks, or give boat.datum.",
                bars=BOTH,
            )
        )
    return tuple(found)


def tilt_findings(boat: Boat, up: Floats) -> tuple[Finding, ...]:
    """The waterline against the mesh's own up axis."""
    if boat.up is None:
        return ()
    turned = float(np.arccos(np.clip(up @ unit(boat.up), -1.0, 1.0)))
    if turned <= np.radians(0.5):
        return ()
    severity = "caution" if turned > np.radians(5.0) else "note"
    return (
        Finding(
            severity=severity,  # type: ignore[arg-type]
            rule="waterline-tilt",
            subject="level",
            said=f"The waterline lies {np.degrees(turned):.1f} deg from the mesh's own "
            "up axis; the waterline is used.",
            source="the waterline points of the boat file",
            value=turned,
            limit=float(np.radians(5.0)),
            unit="rad",
            bars=BOTH if severity == "caution" else (),
            remedy=Remedy(
                said="Pick the waterline again, or leave boat.up out if the mesh was not level."
            ),
        ),
    )


def other_findings(key: str, up: Floats, other: Floats, variance: Ratio) -> tuple[Finding, ...]:
    """Level points or a plumb line beside a waterline are a check on it."""
    turned = float(np.arccos(np.clip(abs(up @ other), -1.0, 1.0)))
    limit = COVERAGE * float(np.sqrt(variance))
    if turned <= limit:
        return ()
    return (
        _remark(
            "level-disagreement",
            f"By boat.{key} up is {np.degrees(turned):.1f} deg from where the waterline has it, "
            f"more than the {np.degrees(limit):.1f} deg both may be off; the waterline is used.",
            turned,
            limit,
            "rad",
            f"Pick the waterline and boat.{key} again, or see whether the boat lay at rest.",
            bars=BOTH,
        ),
    )


def datum_findings(boat: Boat, scale: Metre, up: Floats, height: Metre) -> tuple[Finding, ...]:
    """A datum beside a waterline is a check on it."""
    if boat.datum is None:
        return ()
    stands = scale * float(up @ np.array(boat.datum.point)) - height
    off = abs(stands - boat.datum.above_sea)
    if off <= 0.020:
        return ()
    return (
        _remark(
            "height-disagreement",
            f"By the waterline the datum point stands {stands * 1000:.0f} mm above the sea, by "
            f"boat.datum {boat.datum.above_sea * 1000:.0f} mm; the waterline is used.",
            off,
            0.020,
            "m",
            "Take the height of the datum point again, or pick the waterline again.",
            bars=BOTH,
        ),
    )


def _remark(
    rule: str,
    text: str,
    value: float,
    limit: float,
    unit: str,
    remedy: str,
    bars: tuple[Step, ...] = (),
) -> Finding:
    return Finding(
        severity="caution",
        rule=rule,
        subject="level",
        said=text,
        source=PRACTICE,
        value=value,
        limit=limit,
        unit=unit,
        remedy=Remedy(said=remedy),
        bars=bars,
    )
