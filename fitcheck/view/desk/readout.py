"""The text for a clicked thing, and the lifts at a heel."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from fitcheck.model.found.fit import ModuleFit, ServiceFit
from fitcheck.model.found.look import FIT_WORDS
from fitcheck.model.found.routes import HoseRoute, Unrouted
from fitcheck.model.result import Result
from fitcheck.model.uncertainty import rounded
from fitcheck.units import Metre, Radian, Ratio, System, show
from fitcheck.view.desk.heel import heights
from fitcheck.view.drawn.captions import Warned, marked
from fitcheck.view.drawn.scene import numbers, words

BOUND_WORDS = {
    "direct": "proven shortest",
    "certificate": "none can be shorter",
    "unobstructed": "none can be shorter even in empty space",
}


def readout(result: Result, item: str, system: System, heel: Radian = 0.0) -> tuple[str, ...]:
    """Lines about "hose:NAME" or "module:NAME"; the first is its title."""
    kind, name = item.split(":", 1)
    if kind == "hose":
        return tuple(_hose_lines(result, result.routes.hose(name), system, heel))
    return tuple(_module_lines(result, result.fit.module(name), system))


def _hose_lines(
    result: Result, hose: HoseRoute | Unrouted, system: System, heel: Radian
) -> Iterator[str]:
    line = result.scenario.kit.line(hose.line)
    yield f"{numbers(result)[hose.line]}  {words(hose.line)}"
    yield f"{line.duty}, {line.start} to {line.end}"
    sold = result.scenario.hose_of(line)
    yield (
        f"hose {sold.name}: bore {show(sold.bore, 'length', system)}, "
        f"outside {show(sold.outside_diameter, 'length', system)}"
    )
    if isinstance(hose, Unrouted):
        yield from _missing_lines(hose, system)
    else:
        yield from _routed_lines(hose, system)
        yield from _water_lines(result, hose, system, heel)
    yield from _finding_lines(result, hose.line)


def _missing_lines(hose: Unrouted, system: System) -> Iterator[str]:
    yield Warned(f"X NO ROUTE FOUND: {hose.reason}")
    yield f"space too narrow by {show(hose.missing, 'length', system)} at the cross"
    yield f"any hose here is at least {show(hose.bound, 'length', system)} long"


def _routed_lines(hose: HoseRoute, system: System) -> Iterator[str]:
    yield f"length {show(hose.length, 'length', system)}{_within(hose.uncertainty, system)}"
    yield (
        f"  {BOUND_WORDS[hose.bound_kind]} than {show(hose.bound, 'length', system)}"
        if (hose.bound_kind != "direct")
        else "  proven shortest"
    )
    needed = show(hose.required_bend_radius, "length", system)
    if hose.smallest_bend_radius is None:
        yield "no bends"
    else:
        radius = show(hose.smallest_bend_radius, "length", system)
        yield f"{len(hose.bends)} bends, radius {radius} (at least {needed})"
    yield (
        f"clear by {show(hose.clearance, 'length', system)}"
        f"{_within(hose.clearance_uncertainty, system)} of {words(hose.clearance_to)} "
        f"(at least {show(hose.required_clearance, 'length', system)})"
    )


def _water_lines(result: Result, hose: HoseRoute, system: System, heel: Radian) -> Iterator[str]:
    cut = result.order.cut(hose.line)
    if cut:
        yield f"cut {show(cut.cut_length, 'length', system)}"
    row = result.hydraulics.summary(hose.line)
    if row:
        yield f"flow {show(row.flow, 'flow', system)}, loses {show(row.loss, 'pressure', system)}"
        yield f"  in: {row.state}"
    start, end = heights(np.array([hose.start, hose.end]), result.space.flotation, heel)
    yield f"lift {_signed(end - start, system)} at {heel_words(heel)}"
    yield f"  ends {_signed(start, system)} and {_signed(end, system)} above the sea"
    if row:
        yield f"verdict: {row.verdict}"


def _module_lines(result: Result, module: ModuleFit, system: System) -> Iterator[str]:
    word, severity = FIT_WORDS[module.verdict]
    yield words(module.name)
    yield marked(severity, word) if severity else word
    yield " x ".join(show(2 * half, "length", system) for half in module.box.half)
    yield f"mass {show(module.mass, 'mass', system)}"
    if met := module.tightest:
        nearest = show(met.gap, "length", system) + _within(met.uncertainty, system)
        yield f"nearest: {nearest} to {words(met.meets)}"
    for face in module.faces:
        gap = show(face.gap, "length", system) + _within(face.uncertainty, system)
        yield f"  {face.face}: {gap} to {words(face.meets)}"
    for service in module.service:
        yield from _service_lines(service, system)
    yield from _finding_lines(result, module.name)


def _service_lines(service: ServiceFit, system: System) -> Iterator[str]:
    wanted = show(service.wanted, "length", system)
    if service.verdict == "clear":
        yield f"{service.kind} {service.face}: {wanted} clear"
        return
    available = show(service.available, "length", system) + _within(service.uncertainty, system)
    yield marked(
        "caution" if service.verdict == "tight" else "fail",
        f"{service.kind} {service.face}: {available} of {wanted}, {words(service.meets)}",
    )


def _within(uncertainty: Metre, system: System) -> str:
    return f", +-{show(rounded(uncertainty), 'length', system)}" if uncertainty > 0.0 else ""


def _finding_lines(result: Result, subject: str) -> Iterator[str]:
    for finding in result.findings:
        if finding.subject == subject:
            yield marked(finding.severity, finding.text)
            if finding.remedy:
                yield f"  {finding.remedy.text}"


def lifts(result: Result, heel: Radian, system: System) -> dict[str, str]:
    """Height of every hose's end above its start at a heel, by line."""
    ends = np.array([(hose.start, hose.end) for hose in result.routes.hoses]).reshape(-1, 2, 3)
    level = heights(ends, result.space.flotation, heel)
    rises = level[:, 1] - level[:, 0]
    return {
        hose.line: _signed(rise, system)
        for hose, rise in zip(result.routes.hoses, rises, strict=True)
    }


def heel_words(heel: Radian) -> str:
    """A heel in words used on board, to tenths of a degree."""
    degrees = round(math.degrees(heel), 1)
    return show(math.radians(degrees), "heel") if degrees else "upright"


def _signed(value: Ratio, system: System) -> str:
    text = show(float(value), "length", system)
    up = value > 0.0 and text != show(0.0, "length", system)
    return f"+{text}" if up else text
