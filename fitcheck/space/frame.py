"""From the mesh's own axes and unit to the boat frame, and how sure that is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitcheck.errors import MeshError
from fitcheck.geometry.box import as_axes, as_point
from fitcheck.model.finding import Assumption, Finding, Remedy
from fitcheck.model.scenario import Boat
from fitcheck.model.space import Frame
from fitcheck.units import Metre, Radian, Ratio

#: How well a point is picked on a scan, one standard deviation (measured on synthetic scans).
PICK: Metre = 0.008
#: Scale of a scan nobody measured on board; common practice, no source.
UNPROVEN_SCALE: Ratio = 0.01
#: Height of the sea taken on board with a hose or a rule; common practice, no source.
DATUM_ERROR: Metre = 0.010
#: Tilt of the level plane beyond which a waterline is not believed, and is remarked on.
TILT_REFUSED: Radian = np.radians(2.0)
TILT_REMARKED: Radian = np.radians(1.0)
PRACTICE = "common practice, no source"


@dataclass(frozen=True, slots=True, kw_only=True)
class Bearings:
    """The frame, its uncertainties and what was remarked on the way."""

    frame: Frame
    scale_uncertainty: Ratio
    height_uncertainty: Metre
    findings: tuple[Finding, ...]
    assumptions: tuple[Assumption, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Scale:
    value: Metre
    uncertainty: Ratio
    findings: tuple[Finding, ...] = ()
    assumptions: tuple[Assumption, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Level:
    up: NDArray[np.float64]
    height: Metre  # of the sea along `up` in the mesh's axes, already in metres
    uncertainty: Metre
    findings: tuple[Finding, ...] = ()
    assumptions: tuple[Assumption, ...] = ()


def find_frame(boat: Boat) -> Bearings:
    """Scale by unit and tape, level by axis or waterline, forward square to up, origin.

    Raises MeshError when the unit is not proven, the waterline is near a line or forward is up.
    """
    scale = _scale(boat)
    level = _level(boat, scale.value)
    forward = _forward(boat, level.up)
    # Right-handed with x forward and z up: y = up x forward points to port.
    turn = np.stack([forward, np.cross(level.up, forward), level.up])
    shift = np.zeros(3)
    inside = scale.value * turn @ np.array(boat.inside)
    shift[0] = -inside[0]
    shift[2] = -level.height
    findings, assumptions = scale.findings + level.findings, scale.assumptions + level.assumptions
    if boat.centreline is None:
        shift[1] = -inside[1]
        assumptions += (
            Assumption(
                what="the centreline runs through the inside point",
                value="0 m",
                source="boat.centreline is not given; it matters as soon as the boat heels",
                can_flip=True,
            ),
        )
    else:
        on_mesh = scale.value * turn @ np.array(boat.centreline.point)
        shift[1] = boat.centreline.offset - on_mesh[1]
    return Bearings(
        frame=Frame(scale=scale.value, turn=as_axes(turn), shift=as_point(shift)),
        scale_uncertainty=scale.uncertainty,
        height_uncertainty=level.uncertainty,
        findings=findings,
        assumptions=assumptions,
    )


def to_boat(frame: Frame, points: NDArray[np.float64]) -> NDArray[np.float64]:
    """(..., 3) points in the mesh's axes and unit -> boat frame [m]."""
    result: NDArray[np.float64] = frame.scale * (
        np.asarray(points, dtype=np.float64) @ np.array(frame.turn).T
    ) + np.array(frame.shift)
    return result


# --- scale --------------------------------------------------------------------------------------


def _scale(boat: Boat) -> _Scale:
    if boat.tape_measures:
        return _taped_scale(boat)
    if boat.unit is None:
        raise MeshError(
            boat.mesh,
            "its unit is neither stated nor proven",
            'write boat.unit (say "mm"), or two tape measures taken on board',
        )
    if boat.origin == "cad":
        return _Scale(value=boat.unit, uncertainty=0.0)
    taken = Assumption(
        what="the scan's scale is right to 1 %",
        value="1 %",
        source=f"no tape measure in the boat file ({PRACTICE})",
        can_flip=True,
    )
    return _Scale(value=boat.unit, uncertainty=UNPROVEN_SCALE, assumptions=(taken,))


def _taped_scale(boat: Boat) -> _Scale:
    """Least squares through nought of tape lengths over picked lengths."""
    ends = np.array([(tape.start, tape.end) for tape in boat.tape_measures], dtype=np.float64)
    picked = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)
    taped = np.array([tape.length for tape in boat.tape_measures])
    if boat.unit is None and len(taped) < 2:
        raise MeshError(
            boat.mesh,
            "its unit is not stated and one tape measure is no proof",
            "take a second tape measure, the longest you can, or write boat.unit",
        )
    if (picked <= 0.0).any():
        raise MeshError(
            boat.mesh,
            f"tape measure {int(picked.argmin()) + 1} has both ends at the same point",
            "pick its two ends again",
        )
    value = float(picked @ taped / (picked @ picked))
    residual = value * picked - taped
    spread = float(np.sqrt(residual @ residual / max(1, len(taped) - 1)))
    # Two picks of standard deviation PICK lie in every length; a few tapes may agree by luck.
    each = max(spread, PICK * np.sqrt(2.0))
    uncertainty = each / float(np.sqrt(taped @ taped))
    return _Scale(
        value=value,
        uncertainty=uncertainty,
        findings=_scale_findings(boat, value, residual, taped),
    )


def _scale_findings(
    boat: Boat, value: Metre, residual: NDArray[np.float64], taped: NDArray[np.float64]
) -> tuple[Finding, ...]:
    found = []
    worst = int(np.abs(residual).argmax())
    off = float(abs(residual[worst]))
    allowed = max(3.0 * PICK * np.sqrt(2.0), 0.02 * float(taped[worst]))
    if off > allowed:
        found.append(
            Finding(
                severity="caution",
                rule="tape-disagreement",
                subject="scale",
                text=f"The tape measures disagree: number {worst + 1} ({taped[worst]:.3f} m) is "
                f"{off * 1000:.0f} mm from what the others make of the mesh.",
                source=PRACTICE,
                value=off,
                limit=allowed,
                unit="m",
                remedy=Remedy(text="Measure it again on board and pick its ends again."),
            )
        )
    if boat.unit is not None and abs(value / boat.unit - 1.0) > 0.002:
        found.append(_scale_correction(value / boat.unit))
    return tuple(found)


def _scale_correction(ratio: Ratio) -> Finding:
    """What the tapes say against the unit in the file; the tapes win."""
    far = abs(ratio - 1.0)
    severity = "fail" if far > 0.10 else "caution" if far > 0.03 else "note"
    text = f"By the tape measures the mesh is {ratio:.4g} times what its unit says; "
    text += "the tape measures are used."
    remedy = Remedy(text="Check boat.unit and the ends of the tape measures.")
    return Finding(
        severity=severity,  # type: ignore[arg-type]
        rule="scale",
        subject="scale",
        text=text,
        source=PRACTICE,
        value=far,
        limit=0.10,
        remedy=None if severity == "note" else remedy,
    )


# --- level --------------------------------------------------------------------------------------


def _level(boat: Boat, scale: Metre) -> _Level:
    if boat.waterline:
        return _fitted_level(boat, scale)
    if boat.up is None:
        raise MeshError(
            boat.mesh, "neither boat.up nor boat.waterline is given", "give one of the two"
        )
    up = _unit(boat.up)
    error = DATUM_ERROR if boat.origin == "scan" else 0.5 * DATUM_ERROR
    taken = Assumption(
        what="the mesh's up axis is vertical with the boat at rest",
        value=f"up = {_words(up)} of the mesh",
        source="boat.up in the boat file; six waterline points would prove it",
        can_flip=False,
    )
    if boat.datum is None:
        inside = scale * float(up @ np.array(boat.inside))
        unknown = Assumption(
            what="the sea surface is as high as the inside point",
            value="0 m",
            source="neither boat.datum nor boat.waterline is given",
            can_flip=True,
        )
        return _Level(up=up, height=inside, uncertainty=0.5, assumptions=(taken, unknown))
    height = scale * float(up @ np.array(boat.datum.point)) - boat.datum.above_sea
    return _Level(up=up, height=height, uncertainty=error, assumptions=(taken,))


def _fitted_level(boat: Boat, scale: Metre) -> _Level:
    """The plane of least squares through the waterline points."""
    points = scale * np.array(boat.waterline, dtype=np.float64)
    if len(points) < 3:
        raise MeshError(
            boat.mesh, f"{len(points)} waterline points make no plane", "pick six or more"
        )
    middle = points.mean(axis=0)
    _, spans, rows = np.linalg.svd(points - middle, full_matrices=False)
    residual = float(spans[2] / np.sqrt(max(1, len(points) - 3)))
    sigma = max(PICK, residual) if boat.origin == "scan" else max(0.001, residual)
    tilt = sigma / float(spans[1]) if spans[1] > 0.0 else np.inf
    if tilt > TILT_REFUSED:
        across = 1000.0 * float(spans[1]) / np.sqrt(len(points))
        raise MeshError(
            boat.mesh,
            f"the {len(points)} waterline points lie near one line ({across:.0f} mm across it): "
            f"the level plane could tip by {np.degrees(tilt):.1f} deg",
            "pick points on both sides of the boat, and fore and aft",
        )
    up, assumptions = _upward(boat, rows[2])
    inside = scale * np.array(boat.inside) - middle
    lever = np.array([float(rows[axis] @ inside) for axis in range(2)])
    # Standard deviation of the fitted plane below the inside point, doubled (95 %).
    doubled = 2.0 * sigma * np.sqrt(1.0 / len(points) + float(((lever / spans[:2]) ** 2).sum()))
    height = float(up @ middle)
    findings = _level_findings(boat, tilt, residual, up)
    findings += _datum_findings(boat, scale, up, height)
    return _Level(
        up=up,
        height=height,
        uncertainty=float(doubled),
        findings=findings,
        assumptions=assumptions,
    )


def _upward(
    boat: Boat, normal: NDArray[np.float64]
) -> tuple[NDArray[np.float64], tuple[Assumption, ...]]:
    """The plane's normal turned up: by boat.up, else taking the mesh as not upside down."""
    if boat.up is not None:
        return (normal if normal @ _unit(boat.up) >= 0.0 else -normal), ()
    axis = int(np.abs(normal).argmax())
    up = normal if normal[axis] >= 0.0 else -normal
    taken = Assumption(
        what="the mesh is not upside down",
        value=f"up = {_words(up)} of the mesh",
        source="boat.up is not given, and a waterline does not tell up from down",
        can_flip=True,
    )
    return up, (taken,)


def _level_findings(
    boat: Boat, tilt: Radian, residual: Metre, up: NDArray[np.float64]
) -> tuple[Finding, ...]:
    found = []
    if tilt > TILT_REMARKED:
        found.append(
            _remark(
                "waterline-spread",
                f"The level plane through {len(boat.waterline)} waterline points may tip by "
                f"{np.degrees(tilt):.1f} deg.",
                float(tilt),
                float(TILT_REMARKED),
                "rad",
                "Pick more waterline points, farther apart.",
            )
        )
    if residual > 3.0 * PICK:
        found.append(
            _remark(
                "waterline-residual",
                f"The waterline points lie {residual * 1000:.0f} mm off their plane.",
                residual,
                3.0 * PICK,
                "m",
                "Pick the waterline points again; one of them is wrong.",
            )
        )
    if boat.up is not None:
        turned = float(np.arccos(np.clip(up @ _unit(boat.up), -1.0, 1.0)))
        severity = "caution" if turned > np.radians(5.0) else "note"
        if turned > np.radians(0.5):
            found.append(
                Finding(
                    severity=severity,  # type: ignore[arg-type]
                    rule="waterline-tilt",
                    subject="level",
                    text=f"The waterline lies {np.degrees(turned):.1f} deg from the mesh's own "
                    "up axis; the waterline is used.",
                    source="the waterline points of the boat file",
                    value=turned,
                    limit=float(np.radians(5.0)),
                    unit="rad",
                )
            )
    return tuple(found)


def _datum_findings(
    boat: Boat, scale: Metre, up: NDArray[np.float64], height: Metre
) -> tuple[Finding, ...]:
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
        ),
    )


def _remark(rule: str, text: str, value: float, limit: float, unit: str, remedy: str) -> Finding:
    return Finding(
        severity="caution",
        rule=rule,
        subject="level",
        text=text,
        source=PRACTICE,
        value=value,
        limit=limit,
        unit=unit,
        remedy=Remedy(text=remedy),
    )


def _forward(boat: Boat, up: NDArray[np.float64]) -> NDArray[np.float64]:
    """The forward direction laid into the level plane."""
    forward = _unit(boat.forward)
    level = forward - (forward @ up) * up
    if np.linalg.norm(level) < 0.5:
        raise MeshError(
            boat.mesh,
            "boat.forward points up or down rather than forward",
            "give the mesh axis, or two points, that run from the stern to the bow",
        )
    return _unit(level)


def _unit(vector: NDArray[np.float64] | tuple[float, float, float]) -> NDArray[np.float64]:
    values = np.asarray(vector, dtype=np.float64)
    result: NDArray[np.float64] = values / np.linalg.norm(values)
    return result


def _words(up: NDArray[np.float64]) -> str:
    axis = int(np.abs(up).argmax())
    nearly = "" if abs(up[axis]) > 0.9999 else "nearly "
    return f"{nearly}{'+' if up[axis] > 0 else '-'}{'xyz'[axis]}"
