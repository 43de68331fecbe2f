"""Boxes in the hand-made room: a module, its position, and the findings on it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from fitcheck.geometry.box import as_axes, as_point
from fitcheck.geometry.distance import index_triangles
from fitcheck.geometry.overlap import BIN, boxes_hit_triangles
from fitcheck.model.finding import Finding, Remedy
from fitcheck.model.found.fit import Fit
from fitcheck.model.found.space import FREE, SOLID, UNSEEN, Frame, Space
from fitcheck.model.given.kit import Face, Module, ServiceClearance
from fitcheck.model.given.scenario import Placement, Scenario
from fitcheck.units import parse
from tests.specimens import (
    boat,
    finer,
    hand_made_space,
    kit,
    layout,
    room,
    scenario,
    unsure,
    upright_box,
)

ENGINE = ((0.2, -0.3, 0.0), (0.8, 0.3, 0.5))


def module(name: str, size: Sequence[float] = (0.3, 0.2, 0.25), **changes: Any) -> Module:
    plain = Module(
        name=name, size=as_point(np.array(size)), mass=5.0, stands="any", ports=(), service=()
    )
    return replace(plain, **changes)


def needs(face: Any, depth: float, kind: Any = "access") -> tuple[ServiceClearance, ...]:
    return (ServiceClearance(face=face, depth=depth, kind=kind),)


def placed(name: str, at: Sequence[float], rotate: Sequence[float] = (0, 0, 0)) -> Placement:
    return Placement(module=name, at=as_point(np.array(at)), rotate=as_point(np.radians(rotate)))


def plan(
    *pairs: tuple[Module, Sequence[float]] | tuple[Module, Sequence[float], Sequence[float]],
    scan: bool = False,
    **kit_changes: Any,
) -> Scenario:
    """A scenario of modules and their positions (and rotations in degrees)."""
    modules = tuple(pair[0] for pair in pairs)
    places = tuple(placed(pair[0].name, *pair[1:]) for pair in pairs)
    return scenario(
        boat("room.ply", origin="scan" if scan else "cad"),
        kit=kit(modules=modules, **kit_changes),
        layout=layout(*places),
    )


def fails(fit: Fit) -> list[Finding]:
    return [finding for finding in fit.findings if finding.severity == "fail"]


def rules(fit: Fit, subject: str) -> set[tuple[str, str]]:
    return {(row.severity, row.rule) for row in fit.findings if row.subject == subject}


def gaps(fit: Fit, name: str) -> dict[str, tuple[float, str]]:
    return {row.face: (row.gap, row.meets) for row in fit.module(name).faces}


def changed(plan: Scenario, remedy: Remedy) -> Scenario:
    """The scenario with a remedy's changes applied, values read as from files."""
    places = {row.module: row for row in plan.layout.placements}
    for change in remedy.changes:
        assert change.file == plan.layout_file
        _, _, name, key = change.key.split(".")
        kind = {"at": "length", "rotate": "angle"}[key]
        value = tuple(parse(text, kind) for text in change.value)
        places[name] = replace(places[name], **{key: value})
    return replace(plan, layout=replace(plan.layout, placements=tuple(places.values())))


def unseen_where(space: Space, low: Sequence[float], high: Sequence[float]) -> Space:
    """The space with the free cells whose centres are in a block turned unseen."""
    centres = space.grid.centre(np.stack(np.indices(space.grid.shape), axis=-1))
    inside = ((centres > np.array(low)) & (centres < np.array(high))).all(axis=-1)
    label = np.where(inside & (space.label == FREE), UNSEEN, space.label).astype(np.uint8)
    return replace(space, label=label)


def scanned(space: Space, accuracy: float = 0.020) -> Space:
    return replace(space, uncertainty=unsure(accuracy=accuracy))


FRAME = Frame(scale=1.0, turn=as_axes(np.eye(3)), shift=(0.0, 0.0, 0.0))


INSIDE = (0.0, 0.0, 0.3)


def one_pump(
    at: tuple[float, float, float], fixed_by: tuple[Face, ...] = ("base",), **changes: Any
) -> Scenario:
    pump = Module(
        name="pump",
        size=(0.3, 0.2, 0.25),
        mass=5.0,
        stands="upright",
        ports=(),
        service=(),
        fixed_by=fixed_by,
        fixing_given=True,
    )
    place = Placement(module="pump", at=at, rotate=(0.0, 0.0, 0.0))
    modules = (replace(pump, **changes),)
    return scenario(boat("room.ply"), kit=kit(modules=modules), layout=layout(place))


def noisy_room(amplitude: float = 0.008) -> Space:
    """The room scanned with bumps on every surface, unseen behind its walls."""
    rng = np.random.default_rng(7)
    triangles = finer(room(), 5)
    corners, number = np.unique(triangles.reshape(-1, 3).round(9), axis=0, return_inverse=True)
    corners = corners + rng.uniform(-amplitude, amplitude, corners.shape)
    space = hand_made_space(accuracy=0.020)
    bumpy = corners[number].reshape(-1, 3, 3)
    centres = space.grid.centre(np.stack(np.indices(space.grid.shape), axis=-1))
    walls = upright_box((-1.0, -0.75, 0.0), (1.0, 0.75, 1.2)).distance(centres)
    label = np.where(walls > 0.0, UNSEEN, FREE).astype(np.uint8)
    cell = upright_box((-0.01, -0.01, -0.01), (0.01, 0.01, 0.01))
    near = np.abs(walls) < 0.04
    touched = boxes_hit_triangles(index_triangles(bumpy, BIN), cell, centres[near])
    label[near] = np.where(touched, SOLID, label[near])
    return replace(space, triangles=bumpy, label=label)
