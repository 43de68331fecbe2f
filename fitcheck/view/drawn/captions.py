"""Captions in the drawing, and the places they may point at."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitcheck.model.finding import Severity
from fitcheck.model.found.fit import ModuleFit, ServiceFit
from fitcheck.model.found.look import DUTY_LOOKS, FIT_WORDS, MODULE_EDGE_COLOUR, SEVERITY_LOOKS
from fitcheck.model.found.routes import HoseRoute, Unrouted
from fitcheck.model.result import Result
from fitcheck.units import System, show
from fitcheck.view.drawn.scene import (
    CAUTION_COLOUR,
    FAIL_COLOUR,
    Group,
    numbers,
    short_by,
    words,
    worst,
)

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False, kw_only=True)
class Tag:
    """A short text for a thing; it may point at any of the `anchors` (n, 3) [m]."""

    text: str
    group: Group
    anchors: Array
    edge_colour: str
    item: str = ""
    bold: bool = False


def build_tags(result: Result, system: System) -> tuple[Tag, ...]:
    """The captions in the drawing."""
    tags: list[Tag] = []
    for module in result.fit.modules:
        tags.append(_module_tag(result, module))
        tags += [
            _service_tag(module, service, system)
            for service in module.service
            if short_by(service)
        ]
    tags += [_hose_tag(result, hose, system) for hose in result.routes.hoses]
    tags += _boat_port_tags(result)
    tags += _keep_out_tags(result)
    return tuple(tags)


class Warned(str):
    """Text that is highlighted where it is drawn, preceded by its mark."""

    __slots__ = ()


def marked(severity: Severity | None, said: str) -> str:
    """A text preceded by the mark of a severity."""
    if severity is None:
        return said
    told = f"{SEVERITY_LOOKS[severity].mark} {said}"
    return Warned(told) if severity == "fail" else told


def _module_tag(result: Result, module: ModuleFit) -> Tag:
    word, severity = FIT_WORDS[module.verdict]
    said = words(module.name) + (f": {word}" if severity else "")
    worse = "fail" if "fail" in (severity, worst(result, module.name)) else severity
    return Tag(
        text=marked(worse, said),
        group="modules",
        anchors=np.vstack([module.box.centre, module.box.world(_face_centres(module))]),
        edge_colour=SEVERITY_LOOKS[worse].colour if worse else MODULE_EDGE_COLOUR,
        item=f"module:{module.name}",
        bold=True,
    )


def _face_centres(module: ModuleFit) -> Array:
    half = np.asarray(module.box.half)
    return np.vstack([np.diag(0.6 * half), np.diag(-0.6 * half)])


def _service_tag(module: ModuleFit, service: ServiceFit, system: System) -> Tag:
    found = show(max(service.available, 0.0), "length", system)
    wanted = show(service.wanted, "length", system)
    return Tag(
        text=f"X {service.kind} {service.face}: {found} of {wanted}",
        group="service",
        anchors=np.array([service.place or service.box.centre]),
        edge_colour=FAIL_COLOUR,
        item=f"module:{module.name}",
    )


def _hose_tag(result: Result, hose: HoseRoute | Unrouted, system: System) -> Tag:
    number = numbers(result)[hose.line]
    item = f"hose:{hose.line}"
    if isinstance(hose, Unrouted):
        missing = show(hose.missing, "length", system)
        return Tag(
            text=f"X {number}: no route, {missing} too narrow",
            group="hoses",
            anchors=np.array([hose.nearest_approach]),
            edge_colour=FAIL_COLOUR,
            item=item,
            bold=True,
        )
    places = (np.array([0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8]) * (len(hose.path) - 1)).astype(int)
    return Tag(
        text=marked(worst(result, hose.line), str(number)),
        group="hoses",
        anchors=hose.path[places],
        edge_colour=DUTY_LOOKS[result.scenario.kit.line(hose.line).duty].colour,
        item=item,
        bold=True,
    )


def _boat_port_tags(result: Result) -> Iterator[Tag]:
    lines = result.scenario.kit.lines
    used = {str(ref) for line in lines for ref in (line.start, line.end)}
    for port in result.space.ports:
        if f"boat.{port.name}" in used:
            yield Tag(
                text=words(port.name),
                group="ports",
                anchors=np.array([port.at]),
                edge_colour="#9AA0A6",
            )


def _keep_out_tags(result: Result) -> Iterator[Tag]:
    named = [(volume, f"keep out: {words(volume.name)}") for volume in result.space.keep_outs]
    named += [(volume, f"solid: {words(volume.name)}") for volume in result.space.solids]
    for volume, said in named:
        yield Tag(
            text=said,
            group="service",
            anchors=volume.box.corners()[[7, 5, 3, 1]],
            edge_colour=CAUTION_COLOUR,
        )
