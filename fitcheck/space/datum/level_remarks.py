"""Findings about level and waterline."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fitcheck.findings.said import Said, quantity, say
from fitcheck.model.finding import Finding, Remedy, Step
from fitcheck.model.given.boat import Boat
from fitcheck.model.uncertainty import COVERAGE
from fitcheck.space.datum.least_squares import Fitted
from fitcheck.space.datum.picks import PICK, PRACTICE, unit
from fitcheck.units import Metre, Radian, Ratio

Floats = NDArray[np.float64]

#: Nothing may be cut or ordered from a level plane whose marks do not agree.
BOTH: tuple[Step, ...] = ("cut_joinery", "order_hoses")


def mark_findings(
    boat: Boat, key: str, fitted: Fitted, axes: Floats, points: Floats
) -> tuple[Finding, ...]:
    """Points off their plane: one finding each where they stand out, else one for all."""
    found = []
    for number in fitted.outliers:
        rest = fitted.kept.copy()
        rest[number] = False
        off = _off_plane(points, rest, number, axes)
        found.append(
            _remark(
                f"{key}-outlier",
                say(
                    "marks.outlier-above" if off > 0.0 else "marks.outlier-below",
                    number=number + 1,
                    marks=key,
                    off=quantity(abs(off), "gap"),
                    used=say("outlier.kept" if fitted.kept[number] else "outlier.left-out"),
                ),
                abs(off),
                3.0 * PICK,
                "m",
                say("marks.outlier-remedy", number=number + 1, marks=key),
                BOTH if fitted.kept[number] else (),
            )
        )
    kept = fitted.residual[fitted.kept]
    residual = float(np.sqrt((kept**2).sum() / max(1, len(kept) - 3)))
    if not found and (residual > 3.0 * PICK or fitted.scatter > 2.0):
        found.append(
            _remark(
                f"{key}-residual",
                say("marks.residual", marks=key, off=quantity(residual, "gap")),
                residual,
                3.0 * PICK,
                "m",
                say("marks.residual-remedy", marks=key),
                BOTH,
            )
        )
    return tuple(found)


def _off_plane(points: Floats, rest: NDArray[np.bool_], number: int, axes: Floats) -> Metre:
    """How far a point is above the plane of some others, along the third axis turned upwards."""
    local = (points - points[rest].mean(axis=0)) @ axes.T
    design = np.column_stack([np.ones(len(points)), local[:, :2]])
    values = np.linalg.lstsq(design[rest], local[rest, 2], rcond=None)[0]
    off = float(local[number, 2] - design[number] @ values)
    return off if axes[2][int(np.abs(axes[2]).argmax())] >= 0.0 else -off


def spread_findings(key: str, count: int, tilt: Radian, most: Radian) -> tuple[Finding, ...]:
    """A plane with too much tilt uncertainty; tilt at 95 %."""
    if tilt <= most:
        return ()
    return (
        _remark(
            f"{key}-spread",
            say("marks.spread", count=count, marks=key, tilt=quantity(tilt, "tilt")),
            float(tilt),
            most,
            "rad",
            say("marks.spread-remedy"),
        ),
    )


def unproven_findings(boat: Boat) -> tuple[Finding, ...]:
    """Without a waterline: whether up and the sea level are based on a measurement on board.

    The up axis of a drawing counts as proven where the boat file states the trim it floats at.
    """
    found = []
    drawn = boat.origin == "cad" and "trim" in boat.conditions.given
    if not boat.level and not drawn:
        found.append(
            _remark(
                "up-unproven",
                say("up-unproven"),
                0.0,
                0.0,
                "rad",
                say("up-unproven.remedy"),
                bars=BOTH,
            )
        )
    if boat.datum is None:
        found.append(
            _remark(
                "sea-unproven",
                say("sea-unproven"),
                0.0,
                0.0,
                "m",
                say("sea-unproven.remedy"),
                bars=BOTH,
            )
        )
    return tuple(found)


def tilt_findings(boat: Boat, up: Floats) -> tuple[Finding, ...]:
    """The waterline compared with the mesh's own up axis."""
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
            said=say("waterline-tilt", turned=quantity(turned, "tilt")),
            source="the waterline points of the boat file",
            value=turned,
            limit=float(np.radians(5.0)),
            unit="rad",
            bars=BOTH if severity == "caution" else (),
            remedy=Remedy(said=say("waterline-tilt.remedy")),
        ),
    )


def level_findings(up: Floats, other: Floats, variance: Ratio) -> tuple[Finding, ...]:
    """Level points used as a check on the waterline."""
    turned = float(np.arccos(np.clip(abs(up @ other), -1.0, 1.0)))
    limit = COVERAGE * float(np.sqrt(variance))
    if turned <= limit:
        return ()
    return (
        _remark(
            "level-disagreement",
            say(
                "level-disagreement",
                turned=quantity(turned, "tilt"),
                limit=quantity(limit, "tilt"),
            ),
            turned,
            limit,
            "rad",
            say("level-disagreement.remedy"),
            bars=BOTH,
        ),
    )


def datum_findings(boat: Boat, scale: Metre, up: Floats, height: Metre) -> tuple[Finding, ...]:
    """A datum used as a check on the waterline."""
    if boat.datum is None:
        return ()
    stands = scale * float(up @ np.array(boat.datum.point)) - height
    off = abs(stands - boat.datum.above_sea)
    if off <= 0.020:
        return ()
    return (
        _remark(
            "height-disagreement",
            say(
                "height-disagreement",
                stands=quantity(stands, "gap"),
                told=quantity(boat.datum.above_sea, "gap"),
            ),
            off,
            0.020,
            "m",
            say("height-disagreement.remedy"),
            bars=BOTH,
        ),
    )


def _remark(
    rule: str,
    said: Said,
    value: float,
    limit: float,
    unit: str,
    remedy: Said,
    bars: tuple[Step, ...] = (),
) -> Finding:
    return Finding(
        severity="caution",
        rule=rule,
        subject="level",
        said=said,
        source=PRACTICE,
        value=value,
        limit=limit,
        unit=unit,
        remedy=Remedy(said=remedy),
        bars=bars,
    )
