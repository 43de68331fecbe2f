"""From a result to the parts of a drawing: meshes, colours, tags. Opens no window."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np
import pyvista as pv
from numpy.typing import NDArray

from fitcheck.model.finding import Severity
from fitcheck.model.found.fit import ModuleFit, ServiceFit
from fitcheck.model.found.look import (
    BOARD_COLOUR,
    CLIP_COLOUR,
    DUTY_LOOKS,
    FIT_WORDS,
    MODULE_COLOUR,
    MODULE_EDGE_COLOUR,
    SCAN_COLOUR,
    SEVERITY_LOOKS,
    UNSEEN_COLOUR,
    WATER_COLOUR,
)
from fitcheck.model.found.routes import HoseRoute, Unrouted
from fitcheck.model.found.space import Space
from fitcheck.model.given.kit import Duty
from fitcheck.model.result import Result
from fitcheck.units import Metre, Ratio
from fitcheck.view.drawn.shapes import (
    arrow,
    box_edges,
    broken_line,
    cross,
    dashed_tube,
    solid_box,
    thick_edges,
)
from fitcheck.view.drawn.skin import scan_skin, sea_sheet, unseen_skin

Array = NDArray[np.float64]
Group = Literal["scan", "modules", "hoses", "unseen", "service", "ports", "water", "ground"]

FAIL_COLOUR = SEVERITY_LOOKS["fail"].colour
CAUTION_COLOUR = SEVERITY_LOOKS["caution"].colour
SERVICE_COLOUR = "#7D8790"
#: A port that no line uses.
SPARE_COLOUR = "#5A5A5A"


@dataclass(frozen=True, eq=False, kw_only=True)
class Part:
    """One mesh to draw. `item` is what a click on it selects ("hose:x", "module:x" or "").

    colour is None where the mesh has cell colours "rgb"; one_sided leaves out back faces; lines
    are drawn `line_width` pixels wide; `through` shows it in front of everything, like the hidden
    lines of a drawing.
    """

    name: str
    group: Group
    mesh: pv.PolyData
    colour: str | None
    item: str = ""
    opacity: Ratio = 1.0
    one_sided: bool = False
    smooth: bool = False
    line_width: Ratio = 1.0
    lit: bool = True
    hatched: bool = False
    through: bool = False


@dataclass(frozen=True, eq=False, kw_only=True)
class Row:
    """One row of the key: the number at the hose, its name and duty, its worst severity."""

    number: int
    line: str
    duty: Duty
    routed: bool
    severity: Severity | None


@dataclass(frozen=True, eq=False, kw_only=True)
class Scene:
    """Everything to draw. focus : (n, 3) points a view should include [m]."""

    parts: tuple[Part, ...]
    rows: tuple[Row, ...]
    focus: Array
    space: Space

    @property
    def skins(self) -> tuple[Part, ...]:
        """The parts that show the compartment itself."""
        return tuple(part for part in self.parts if part.group in ("scan", "unseen"))

    def part(self, name: str) -> Part:
        """The part of that name."""
        return next(part for part in self.parts if part.name == name)

    @property
    def items(self) -> dict[str, tuple[str, ...]]:
        """Selectable items, and the names of the parts that show each."""
        found: dict[str, tuple[str, ...]] = {}
        for part in self.parts:
            if part.item:
                found[part.item] = (*found.get(part.item, ()), part.name)
        return found


def words(name: str) -> str:
    """A name of the scenario file, for reading aloud."""
    return name.replace("_", " ")


def numbers(result: Result) -> dict[str, int]:
    """Line name -> its number: the order of the kit's lines, from 1."""
    return {line.name: i for i, line in enumerate(result.scenario.kit.lines, start=1)}


def worst(result: Result, subject: str) -> Severity | None:
    """The worst severity on a line or module, None if there are only notes."""
    found = {finding.severity for finding in result.findings if finding.subject == subject}
    return "fail" if "fail" in found else "caution" if "caution" in found else None


def short_by(service: ServiceFit) -> Metre:
    """How much of a service clearance is missing, 0 within rounding [m]."""
    missing = service.wanted - service.available
    return missing if missing > 1e-9 else 0.0


def build_scene(result: Result, before: Scene | None = None) -> Scene:
    """All parts and tags of a result, in the boat frame.

    before : another scene of the same compartment, whose skins are reused
    """
    parts: list[Part] = []
    for module in result.fit.modules:
        parts += _module_parts(module)
        for service in module.service:
            parts += _service_parts(module, service)
    for hose in result.routes.hoses:
        parts += _hose_parts(result, hose)
    parts += _ports(result)
    skins = before.skins if before and before.space is result.space else tuple(_skins(result))
    parts += [*skins, *_surroundings(result)]
    return Scene(parts=tuple(parts), rows=_rows(result), focus=_focus(result), space=result.space)


def _rows(result: Result) -> tuple[Row, ...]:
    return tuple(
        Row(
            number=number,
            line=name,
            duty=result.scenario.kit.line(name).duty,
            routed=isinstance(result.routes.hose(name), HoseRoute),
            severity=worst(result, name),
        )
        for name, number in numbers(result).items()
    )


def _focus(result: Result) -> Array:
    boxes = [module.box.corners() for module in result.fit.modules]
    paths = [
        hose.path[::10] if isinstance(hose, HoseRoute) else np.array([hose.start, hose.end])
        for hose in result.routes.hoses
    ]
    if boxes or paths:
        return np.concatenate([*boxes, *paths])
    return result.space.triangles.reshape(-1, 3)[::100]


# Modules and their service clearances.


def _module_parts(module: ModuleFit) -> Iterator[Part]:
    item = f"module:{module.name}"
    severity = FIT_WORDS[module.verdict][1]
    yield Part(
        name=item, group="modules", mesh=solid_box(module.box), colour=MODULE_COLOUR, item=item
    )
    yield Part(
        name=f"edges:{module.name}",
        group="modules",
        mesh=box_edges(module.box),
        colour=MODULE_EDGE_COLOUR,
        line_width=1.6,
        lit=False,
    )
    yield Part(
        name=f"hidden:{module.name}",
        group="modules",
        mesh=box_edges(module.box),
        colour=MODULE_EDGE_COLOUR,
        opacity=0.30,
        line_width=1.0,
        lit=False,
        through=True,
    )
    if severity:
        yield Part(
            name=f"verdict:{module.name}",
            group="modules",
            mesh=thick_edges(module.box, 0.010 if severity == "fail" else 0.006),
            colour=SEVERITY_LOOKS[severity].colour,
            item=item,
        )


def _service_parts(module: ModuleFit, service: ServiceFit) -> Iterator[Part]:
    name = f"service:{module.name}:{service.face}"
    if not short_by(service):
        yield Part(
            name=name,
            group="service",
            mesh=box_edges(service.box),
            colour=SERVICE_COLOUR,
            line_width=1.0,
            lit=False,
        )
        return
    yield Part(
        name=name,
        group="service",
        mesh=thick_edges(service.box, 0.004),
        colour=FAIL_COLOUR,
        item=f"module:{module.name}",
    )
    yield Part(
        name=f"short:{module.name}:{service.face}",
        group="service",
        mesh=cross(service.place or service.box.centre, 0.06),
        colour=FAIL_COLOUR,
        item=f"module:{module.name}",
    )


# Hoses and ports.


def _hose_parts(result: Result, hose: HoseRoute | Unrouted) -> list[Part]:
    item = f"hose:{hose.line}"
    if isinstance(hose, Unrouted):
        return _missing_hose_parts(hose, item)
    look = DUTY_LOOKS[result.scenario.kit.line(hose.line).duty]
    part = Part(
        name=item,
        group="hoses",
        mesh=dashed_tube(hose.path, hose.outside_diameter, look.colour, look.dash),
        colour=None,
        item=item,
        smooth=True,
    )
    hidden = Part(
        name=f"hidden:{hose.line}",
        group="hoses",
        mesh=pv.lines_from_points(hose.path),
        colour=look.colour,
        opacity=0.75,
        line_width=1.2,
        lit=False,
        through=True,
    )
    return [part, hidden, *_clip_parts(hose, item)]


def _clip_parts(hose: HoseRoute, item: str) -> Iterator[Part]:
    """Blocks from the hose to the supports of its clips."""
    if hose.clips:
        blocks = [solid_box(clip.block(hose.outside_diameter)) for clip in hose.clips]
        yield Part(
            name=f"clips:{hose.line}",
            group="hoses",
            mesh=pv.merge(blocks, merge_points=False),
            colour=CLIP_COLOUR,
            item=item,
        )


def _missing_hose_parts(hose: Unrouted, item: str) -> list[Part]:
    line = Part(
        name=item,
        group="hoses",
        mesh=broken_line(hose.start, hose.end, max(hose.outside_diameter, 0.008)),
        colour=FAIL_COLOUR,
        item=item,
    )
    mark = Part(
        name=f"stuck:{hose.line}",
        group="hoses",
        mesh=cross(hose.nearest_approach, 0.09),
        colour=FAIL_COLOUR,
        item=item,
        through=True,
    )
    return [line, mark]


def _ports(result: Result) -> Iterator[Part]:
    hose_at = {
        str(ref): line for line in result.scenario.kit.lines for ref in (line.start, line.end)
    }
    placed = result.scenario.placed.ports(result.space.ports)
    for name, (at, direction) in placed.items():
        line = hose_at.get(name)
        width = result.scenario.hose_of(line).outside_diameter if line else 0.012
        yield Part(
            name=f"port:{name}",
            group="ports",
            mesh=arrow(at, direction, max(0.010, 0.85 * width)),
            colour=DUTY_LOOKS[line.duty].colour if line else SPARE_COLOUR,
        )


# Surroundings of the kit.


def _skins(result: Result) -> Iterator[Part]:
    space = result.space
    yield Part(
        name="scan",
        group="scan",
        mesh=scan_skin(space),
        colour=SCAN_COLOUR,
        one_sided=True,
        smooth=True,
    )
    unseen = unseen_skin(space)
    if unseen.n_cells:
        yield Part(
            name="unseen",
            group="unseen",
            mesh=unseen,
            colour=UNSEEN_COLOUR,
            opacity=0.6,
            hatched=True,
        )


def _surroundings(result: Result) -> Iterator[Part]:
    space = result.space
    for board in space.boards:
        yield Part(
            name=f"board:{board.name}",
            group="modules",
            mesh=solid_box(board.box),
            colour=BOARD_COLOUR,
        )
    for volume in (*space.keep_outs, *(one for one in space.solids if one.board is None)):
        yield Part(
            name=f"keep-out:{volume.name}",
            group="service",
            mesh=box_edges(volume.box),
            colour=CAUTION_COLOUR,
            line_width=1.5,
            lit=False,
        )
    yield sea_part(sea_sheet(space, 0.0))


def sea_part(sheet: pv.PolyData) -> Part:
    """The sea surface; a canvas leaves it out where it is empty."""
    return Part(
        name="sea", group="water", mesh=sheet, colour=WATER_COLOUR, opacity=0.22, lit=False
    )
