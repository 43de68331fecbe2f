"""Boxes and hoses that the program accepts in a scan, compared with the truth."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Protocol

import fcl
import numpy as np

from fitcheck.fit.measured.judge import judge
from fitcheck.fit.measured.surroundings import Surroundings, surround
from fitcheck.geometry.box import Box, as_axes, as_point, outward
from fitcheck.geometry.boxgap import boxes_gap, gap_to_triangles
from fitcheck.model.found.fit import Fit, ModuleFit
from fitcheck.model.found.routes import HoseRoute
from fitcheck.model.found.space import FREE, Frame, Space
from fitcheck.model.given.kit import Module, Port
from fitcheck.model.given.scenario import Placement
from fitcheck.model.placed import PlacedModule
from fitcheck.routing import route_hoses
from fitcheck.routing.stage import clearance_uncertainty
from tests import specimens
from tests.scans.convex import Floats
from tests.specimens.routing import hose, line

#: Outside diameter and bend radius of the test hose [m].
OUTSIDE, RADIUS = 0.026, 0.09
#: The caution on a hose whose clearance is less than its uncertainty.
MAY_TOUCH = "clearance-accuracy"


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """One accepted box or hose: reported gap, its uncertainty, and the true gap [m].

    caution : whether the program added that it may touch something; else it reported it clear
    """

    kind: str
    told: float
    sure: float
    true: float
    caution: bool = False


class Truth(Protocol):
    """What is really there: (n, 3, 3) triangles, and the depth of points in them [m]."""

    @property
    def triangles(self) -> Floats: ...  # noqa: D102

    def depth(self, points: Floats) -> Floats: ...  # noqa: D102


class Scanned(Protocol):
    """Something scanned with known truth."""

    @property
    def truth(self) -> Truth: ...  # noqa: D102

    def boat_to_truth(self, frame: Frame, points: Floats) -> Floats: ...  # noqa: D102

    def ways_to_truth(self, frame: Frame, ways: Floats) -> Floats: ...  # noqa: D102


class Judge:
    """Gaps of boxes and hoses to the true geometry, by python-fcl and exact planes."""

    def __init__(self, truth: Truth, lids: Floats | None = None) -> None:
        self.truth = truth
        triangles = truth.triangles if lids is None else np.concatenate([truth.triangles, lids])
        model = fcl.BVHModel()
        model.beginModel(3 * len(triangles), len(triangles))
        model.addSubModel(triangles.reshape(-1, 3), np.arange(3 * len(triangles)).reshape(-1, 3))
        model.endModel()
        self.body = fcl.CollisionObject(model, fcl.Transform())

    def box(self, box: Box) -> float:
        """Gap of a box to the nearest surface, negative by its depth in something."""
        grid = np.stack(np.meshgrid(*[np.linspace(-1, 1, 9)] * 3), axis=-1).reshape(-1, 3)
        deepest = float(self.truth.depth(box.world(grid * np.array(box.half))).max())
        return -deepest if deepest >= 0.0 else self.distance(box)

    def distance(self, box: Box) -> float:
        """Distance of a box to the nearest surface, -0.1 mm where it meets one."""
        shape = fcl.Box(*(2.0 * half for half in box.half))
        pose = fcl.Transform(np.array(box.axes).T, np.array(box.centre))
        other = fcl.CollisionObject(shape, pose)
        if fcl.collide(other, self.body) > 0:
            return -0.0001
        return float(fcl.distance(other, self.body))

    def hose(self, path: Floats, half: float) -> float:
        """Gap of a hose about an (n, 3) centre line sampled every few millimetres."""
        deepest = float(self.truth.depth(path).max())
        if deepest >= 0.0:
            return -deepest - half
        ball = fcl.Sphere(1e-6)
        gaps = [
            fcl.distance(fcl.CollisionObject(ball, fcl.Transform(point)), self.body)
            for point in path
        ]
        return float(min(gaps)) - half


def true_box(scan: Scanned, frame: Frame, box: Box) -> Box:
    """The box as it is really installed: its place on the mesh, its own size."""
    return Box(
        centre=as_point(scan.boat_to_truth(frame, np.array(box.centre))),
        half=box.half,
        axes=as_axes(scan.ways_to_truth(frame, np.array(box.axes))),
    )


def accepted_boxes(
    scan: Scanned,
    space: Space,
    wanted: int,
    tries: int,
    rng: np.random.Generator,
    most: float = 0.40,
) -> tuple[list[Taken], list[PlacedModule], Surroundings]:
    """Boxes at random places in free space that the fit check reports as clear all around.

    Their sides are 0.08 m to `most` long.
    """
    around = surround(space, scan=True)
    check = Judge(scan.truth)
    cells = np.argwhere(space.label == FREE)
    taken: list[Taken] = []
    stands: list[PlacedModule] = []
    if len(cells) == 0:
        return taken, stands, around
    for _ in range(tries):
        standing = _draw(space, cells, rng, most)
        if standing is None:
            continue
        need = around.uncertainty(standing.box.centre)
        if gap_to_triangles(around.index, standing.box, need)[1] is not None:
            continue
        verdict = judge(standing, (), around, 0.010)
        if verdict.fit.verdict != "fits" or verdict.mounted:
            continue
        box = true_box(scan, space.frame, standing.box)
        taken.append(
            Taken(
                kind="box",
                told=verdict.fit.smallest_gap,
                sure=around.uncertainty(standing.box.centre),
                true=check.box(box),
            )
        )
        stands.append(standing)
        if len(taken) == wanted:
            break
    return taken, stands, around


def _draw(
    space: Space, cells: Floats, rng: np.random.Generator, most: float
) -> PlacedModule | None:
    size = rng.uniform(0.08, most, 3)
    cell = cells[rng.integers(len(cells))]
    if space.distance[tuple(cell)] < size.min() / 2:
        return None
    centre = space.grid.centre(cell) + rng.uniform(-0.5, 0.5, 3) * space.grid.pitch
    turn = rng.uniform(-math.pi, math.pi) if rng.random() < 0.5 else 0.0
    module = Module(
        name=f"box {rng.integers(10**9)}",
        size=as_point(size),
        mass=5.0,
        stands="any",
        ports=(),
        service=(),
    )
    return PlacedModule(
        module=module, at=as_point(centre - [0, 0, size[2] / 2]), rotate=(0.0, 0.0, turn)
    )


def accepted_hoses(
    scan: Scanned, space: Space, stands: list[PlacedModule], wanted: int, rng: np.random.Generator
) -> list[Taken]:
    """Hoses between two clear boxes, with the scan's uncertainty as extra clearance.

    `wanted` of them reported clear; hoses with a caution are returned as well.
    """
    check = Judge(scan.truth)
    taken: list[Taken] = []
    pairs = [(a, b) for n, a in enumerate(stands) for b in stands[:n]]
    for a, b in [pairs[i] for i in rng.permutation(len(pairs))][: 5 * wanted]:
        if boxes_gap(a.box, b.box)[0] < 0.15:
            continue
        laid = _route(space, a, b)
        if laid is None:
            continue
        route, caution = laid
        path = scan.boat_to_truth(space.frame, route.path)
        inner = path[14:-14]
        taken.append(
            Taken(
                kind="hose",
                told=route.clearance,
                # The true contact is always a surface, whatever was reported as nearest.
                sure=clearance_uncertainty(space, route.path, "the mesh"),
                true=check.hose(inner, OUTSIDE / 2),
                caution=caution,
            )
        )
        if sum(not one.caution for one in taken) == wanted:
            break
    return taken


def _route(space: Space, a: PlacedModule, b: PlacedModule) -> tuple[HoseRoute, bool] | None:
    """The route from box to box, and whether the program says that it may touch.

    None if it finds no route or doubts it for another reason.
    """
    modules, fits = [], []
    for name, standing, other in (("a", a, b), ("b", b, a)):
        port = _port(space, standing, other)
        if port is None:
            return None
        modules.append(replace(standing.module, name=name, ports=(port,)))
        fits.append(
            ModuleFit(
                name=name,
                verdict="fits",
                box=standing.box,
                mass=5.0,
                faces=(),
                service=(),
            )
        )
    kept = space.accuracy + space.scale_uncertainty * 1.0 + 0.005
    kit = specimens.kit(
        modules=tuple(modules),
        hoses=(hose("hose", RADIUS, OUTSIDE),),
        lines=(line("line", "a.port", "b.port"),),
        allowances=specimens.allowances(
            hose_clearance=kept, hose_gap=0.005, straight=kept + OUTSIDE
        ),
    )
    layout = specimens.layout(
        *(Placement(module=name, at=s.at, rotate=s.rotate) for name, s in (("a", a), ("b", b)))
    )
    scenario = specimens.scenario(specimens.boat("none", origin="scan"), kit=kit, layout=layout)
    routes = route_hoses(scenario, space, Fit(modules=tuple(fits), findings=(), assumptions=()))
    route = routes.hoses[0]
    doubts = {f.rule for f in routes.findings if f.severity != "note" and f.subject == "line"}
    if not isinstance(route, HoseRoute) or doubts - {MAY_TOUCH} or route.clearance < kept - 1e-4:
        return None
    return route, MAY_TOUCH in doubts


def _port(space: Space, standing: PlacedModule, other: PlacedModule) -> Port | None:
    """A port in the middle of the face with most clearance towards the other box."""
    box, best, found = standing.box, 0.07, None
    for face in ("front", "back", "left", "right", "top"):
        way = np.array(outward(box, face))
        axis = int(np.abs(np.array(box.axes) @ way).argmax())
        at = np.array(box.centre) + way * box.half[axis]
        if (np.array(other.box.centre) - at) @ way < 0.1:
            continue
        index = space.grid.index(at + 0.12 * way)
        if not space.grid.holds(index):
            continue
        room = float(space.distance[tuple(index)])
        if room > best and other.box.distance((at + 0.12 * way)[None])[0] > 0.1:
            best = room
            turn = np.array(box.axes)
            local = turn @ (at - np.array(standing.at))
            found = Port(
                name="port",
                at=as_point(local),
                direction=as_point(turn @ way),
                connection="hose tail",
                thread="",
                joins="",
            )
    return found


def taken_line(severity: str, kind: str, taken: list[Taken]) -> str:
    """One row: what was accepted as clear, how it compares with the truth, and the cautions."""
    clear = [t for t in taken if not t.caution]
    other = [t for t in taken if t.caution]
    beside = f"; with a caution {len(other)}, meet {sum(t.true < 0.0 for t in other)}"
    if not clear:
        return f"{severity:8}{kind:5} none taken as clear{beside}"
    off = np.array([1e3 * (t.true - t.told) for t in clear])
    meets = sum(t.true < 0.0 for t in clear)
    # The reported gap is a lower bound where unseen cells are nearer than any surface.
    safe = sum(t.true >= t.told - t.sure for t in clear)
    return (
        f"{severity:8}{kind:5} taken as clear {len(clear):4d}, meet the truth {meets}; true less "
        f"told gap: median {np.median(off):+.1f}, 5 % {np.quantile(off, 0.05):+.1f}, least "
        f"{off.min():+.1f} mm; true not less than told less uncertainty "
        f"{100 * safe / len(clear):.1f} %{beside}"
    )
