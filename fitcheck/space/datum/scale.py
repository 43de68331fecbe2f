"""The scan's scale from tape measurements on board, and its uncertainty."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitcheck.errors import MeshError
from fitcheck.findings.said import Said, quantities, quantity, say
from fitcheck.model.finding import Assumption, Finding, Remedy, Severity, Step
from fitcheck.model.given.boat import Boat
from fitcheck.model.uncertainty import COVERAGE
from fitcheck.space.datum.least_squares import Fitted, fit
from fitcheck.space.datum.picks import PRACTICE, picked_on_surface
from fitcheck.units import Metre, Ratio, amount, mesh_unit_name

#: Scale uncertainty (95 %) of a scan without measurements on board; common practice, no source.
UNPROVEN_SCALE: Ratio = 0.02
#: Beyond this deviation the unit or the tape measurement itself is wrong.
UNIT_WRONG: Ratio = 0.10
#: Beyond this spread of the scales of single tape measurements their mean is meaningless.
GROSS: Ratio = 0.5
#: Tape measurements this close to another unit were probably taken of a mesh in that unit.
NAMED: Ratio = 0.03
#: Nothing may be cut or ordered with a doubtful scale.
BOTH: tuple[Step, ...] = ("cut_joinery", "order_hoses")


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """Metres per unit of the mesh, and the standard uncertainty as a share of it."""

    value: Metre
    uncertainty: Ratio
    findings: tuple[Finding, ...] = ()
    assumptions: tuple[Assumption, ...] = ()


def find_scale(boat: Boat) -> Scale:
    """Scale by tape measurements, else by the stated unit. Raises MeshError with neither."""
    if boat.tape_measures:
        return _taped(boat)
    if boat.unit is None:
        raise MeshError(
            boat.mesh,
            "its unit is neither given nor proven",
            'write boat.unit (say "mm"), or take two tape measurements on board',
            "boat.unit",
        )
    unproven = _unproven(say("scale-unproven.no-length"))
    if boat.origin == "cad":
        return Scale(value=boat.unit, uncertainty=0.0, findings=(unproven,))
    taken = Assumption(
        said=say("assumed.scale", within=quantity(UNPROVEN_SCALE, "share")),
        taken=say("assumed.scale-taken", within=quantity(UNPROVEN_SCALE, "share")),
        source=f"no tape measure in the boat file ({PRACTICE})",
        can_flip=True,
    )
    return Scale(
        value=boat.unit,
        uncertainty=UNPROVEN_SCALE / COVERAGE,
        findings=(unproven,),
        assumptions=(taken,),
    )


def _unproven(why: Said) -> Finding:
    """Why a scale cannot be relied on, and what would prove it."""
    return Finding(
        severity="caution",
        rule="scale-unproven",
        subject="scale",
        said=say("scale-unproven", why=why),
        source=PRACTICE,
        bars=BOTH,
        remedy=Remedy(said=say("scale-unproven.remedy")),
    )


@dataclass(frozen=True, eq=False, kw_only=True)
class Taped:
    """Tape measurements: (n,) lengths picked [mesh] and taken [m], their deviation
    [m], the fit.
    """

    picked: NDArray[np.float64]
    lengths: NDArray[np.float64]
    deviation: NDArray[np.float64]
    fitted: Fitted


def _taped(boat: Boat) -> Scale:
    found = taped(boat)
    value = float(found.fitted.values[0])
    return Scale(
        value=value,
        uncertainty=float(np.sqrt(found.fitted.spread[0, 0])) / value,
        findings=_findings(boat, found.fitted, found.picked, found.lengths, found.deviation),
    )


def taped(boat: Boat) -> Taped:
    """Least squares through zero of tape lengths over picked lengths.

    Every length contains the tape's own error and, at both ends, those of pick and scan. A line
    through zero fits a wrongly picked length as badly as a wrongly measured one, so either is
    named.
    """
    ends = np.array([(tape.start, tape.end) for tape in boat.tape_measures], dtype=np.float64)
    picked = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)
    lengths = np.array([tape.length for tape in boat.tape_measures])
    if boat.unit is None and len(lengths) < 2:
        raise MeshError(
            boat.mesh,
            "its unit is not given, and one tape measurement is no proof",
            "take a second tape measurement, as long as possible, or write boat.unit",
            "boat.unit",
        )
    if (picked <= 0.0).any():
        raise MeshError(
            boat.mesh,
            f"tape measure {int(picked.argmin()) + 1} has both ends at the same point",
            "pick its two ends again",
            "boat.tape",
        )
    within = np.array([tape.within for tape in boat.tape_measures]) / COVERAGE
    deviation = np.hypot(within, np.sqrt(2.0) * picked_on_surface(boat))
    fitted = fit(picked[:, None], lengths, deviation)
    _refuse_gross(boat, picked, lengths, deviation, fitted.kept)
    return Taped(picked=picked, lengths=lengths, deviation=deviation, fitted=fitted)


def _refuse_gross(
    boat: Boat,
    picked: NDArray[np.float64],
    lengths: NDArray[np.float64],
    deviation: NDArray[np.float64],
    kept: NDArray[np.bool_],
) -> None:
    """Raise MeshError if tape measurements in use are too far apart to give a scale at all."""
    scales = lengths / picked
    usual, by = float(np.median(scales[kept])), "by the others"
    if int(kept.sum()) == 2:  # the one that contradicts the unit is wrong, else the shorter one
        usual, by = float(scales[kept][picked[kept].argmax()]), "by the other"
        if boat.unit is not None:
            usual, by = boat.unit, "by boat.unit"
    off = np.where(kept, np.abs(scales / usual - 1.0) - COVERAGE * deviation / lengths, 0.0)
    worst = int(off.argmax())
    spread = float(scales[kept].max() / scales[kept].min()) - 1.0
    if spread <= GROSS or off[worst] <= UNIT_WRONG:
        return
    taken, expected = amount(lengths[worst], "tape"), amount(usual * picked[worst], "tape")
    raise MeshError(
        "boat.tape",
        f"tape measurement {worst + 1} is {taken}, but would be {expected} {by}",
        "correct its length, or pick its two ends again",
        f"boat.tape, item {worst + 1}",
    )


def _findings(
    boat: Boat,
    fitted: Fitted,
    picked: NDArray[np.float64],
    taped: NDArray[np.float64],
    deviation: NDArray[np.float64],
) -> tuple[Finding, ...]:
    lone = boat.origin == "scan" and len(taped) < 2
    found = [_unproven(say("scale-unproven.lone"))] if lone else []
    found += [_outlier(number, fitted, picked, taped, deviation) for number in fitted.outliers]
    value = float(fitted.values[0])
    if not fitted.outliers and fitted.scatter > 2.0:
        found.append(_disagreement(fitted, taped))
    if len(taped) > 1:
        found.append(_agreement(fitted, taped))
    if boat.unit is not None and abs(value / boat.unit - 1.0) > 0.002:
        alone = len(taped) < 2
        beyond = COVERAGE * float(np.sqrt(fitted.spread[0, 0])) / boat.unit
        doubted = alone and abs(value / boat.unit - 1.0) > beyond
        found.append(_correction(value, boat.unit, picked, taped, doubted=doubted))
    return tuple(found)


def _outlier(
    number: int,
    fitted: Fitted,
    picked: NDArray[np.float64],
    taped: NDArray[np.float64],
    deviation: NDArray[np.float64],
) -> Finding:
    """The tape measurement that does not agree with the others, and the scale without
    and with it.
    """
    rest = fitted.kept.copy()
    rest[number] = False
    without, whole = (
        float(picked[rows] / deviation[rows] ** 2 @ taped[rows])
        / float((picked[rows] / deviation[rows]) @ (picked[rows] / deviation[rows]))
        for rows in (rest, rest | (np.arange(len(taped)) == number))
    )
    off = float(taped[number] - without * picked[number])
    return Finding(
        severity="caution",
        rule="tape-disagreement",
        subject="scale",
        said=say(
            "tape-disagreement.longer" if off > 0.0 else "tape-disagreement.shorter",
            number=number + 1,
            taped=quantity(taped[number], "tape"),
            off=quantity(abs(off), "gap"),
            without=quantity(without, "scale"),
            whole=quantity(whole, "scale"),
            used=say("outlier.kept" if fitted.kept[number] else "outlier.left-out"),
        ),
        source=f"the tape measures; {PRACTICE}",
        value=abs(off),
        limit=float(COVERAGE * deviation[number]),
        unit="m",
        remedy=Remedy(said=say("tape-disagreement.remedy")),
        bars=() if not fitted.kept[number] else BOTH,
    )


def _disagreement(fitted: Fitted, taped: NDArray[np.float64]) -> Finding:
    worst = int(np.abs(fitted.residual).argmax())
    off = float(abs(fitted.residual[worst]))
    return Finding(
        severity="caution",
        rule="tape-disagreement",
        subject="scale",
        said=say(
            "tape-disagreement.all",
            number=worst + 1,
            taped=quantity(taped[worst], "tape"),
            off=quantity(off, "gap"),
        ),
        source=f"the tape measures; {PRACTICE}",
        value=off,
        limit=off / fitted.scatter * 2.0,
        unit="m",
        remedy=Remedy(said=say("tape-disagreement.all-remedy")),
        bars=BOTH,
    )


def _agreement(fitted: Fitted, taped: NDArray[np.float64]) -> Finding:
    """The error of each tape measurement, and the uncertainty of the scale."""
    value = float(fitted.values[0])
    expanded = COVERAGE * float(np.sqrt(fitted.spread[0, 0])) / value
    return Finding(
        severity="note",
        rule="tape-residuals",
        subject="scale",
        said=say(
            "tape-residuals",
            count=len(taped),
            within=quantity(expanded, "rough fraction"),
            off=quantities(-fitted.residual, "offsets"),
        ),
        source="least squares with Student's factor (JCGM 100:2008)",
        value=expanded,
    )


def _correction(
    value: Metre,
    stated: Metre,
    picked: NDArray[np.float64],
    taped: NDArray[np.float64],
    *,
    doubted: bool,
) -> Finding:
    """The tape measurements against the unit in the file; the tapes win.

    doubted : a single tape contradicts the unit, and nothing shows which of the two is wrong
    """
    ratio = value / stated
    far = abs(ratio - 1.0)
    severity: Severity = "fail" if far > UNIT_WRONG else "caution" if far > 0.03 else "note"
    said, cure = _scale_words(value, stated, float(picked[0]), float(taped[0]), doubted=doubted)
    return Finding(
        severity=severity,
        rule="scale",
        subject="scale",
        said=said,
        source=PRACTICE,
        value=far,
        limit=UNIT_WRONG,
        remedy=Remedy(said=cure) if doubted or severity != "note" else None,
        bars=BOTH if doubted or severity != "note" else (),
    )


def _scale_words(
    value: Metre, stated: Metre, picked: float, taped: Metre, *, doubted: bool
) -> tuple[Said, Said]:
    """The finding and its remedy; another unit is named if the tape measurements fit it.

    picked, taped : the first tape measurement, on the mesh and on board
    """
    unit, other = mesh_unit_name(stated), mesh_unit_name(value, NAMED)
    ratio = quantity(value / stated, "factor")
    if unit and other and unit != other:
        said = say("scale.unit", unit=unit, other=other, ratio=ratio)
        if doubted:
            return said, say("scale.unit-doubted-remedy", unit=unit, other=other)
        return said, say("scale.unit-remedy", unit=unit, other=other)
    if not doubted:
        return say("scale", ratio=ratio), say("scale.remedy")
    length, by_unit = quantity(taped, "tape"), quantity(picked * stated, "tape")
    return (
        say("scale.doubted", ratio=ratio, taped=length, by_unit=by_unit),
        say("scale.doubted-remedy", taped=length, by_unit=by_unit),
    )
