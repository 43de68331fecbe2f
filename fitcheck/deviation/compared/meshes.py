"""Another mesh compared with the boat's: registration, deviation, and the layout checked in it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from fitcheck.deviation.compared.carry import carried
from fitcheck.deviation.compared.changes import change_findings, module_changes, patch_findings
from fitcheck.deviation.compared.patches import FARTHEST, find_patches, offsets
from fitcheck.deviation.registration.faults import pair_faults
from fitcheck.deviation.registration.laid import Picks, Scale, register
from fitcheck.errors import Fault, FitcheckError, MeshError, ScenarioError
from fitcheck.findings.said import length, say
from fitcheck.fit import check_fit
from fitcheck.model.finding import SEVERITIES, Assumption, Finding, Remedy, Tell, silent
from fitcheck.model.found.deviation import Deviation, ModuleChange, Other, Registration
from fitcheck.model.found.fit import Fit
from fitcheck.model.found.space import FREE, Space
from fitcheck.model.given.boat import Boat
from fitcheck.model.given.scenario import Scenario
from fitcheck.model.uncertainty import COVERAGE
from fitcheck.scenario import read_other, read_scenario
from fitcheck.space import (
    RawMesh,
    accuracy_of,
    find_scale,
    make_splats,
    pick_of,
    read_mesh,
    survey,
    to_boat,
)
from fitcheck.units import Metre

Array = NDArray[np.float64]

#: Scales known at least this well are kept rather than solved for.
PROVEN = 0.005
#: Standard deviation of a place that itself differs from boat to boat; common practice, no source.
LEAST_WORTH: Metre = 0.006
LEAST_LIMIT: Metre = 0.010


def compare_meshes(
    file: Path, mesh: Path, pairs: Path, limit: Metre | None = None, tell: Tell = silent
) -> Deviation:
    """Align another mesh with a boat's by picked pairs and report where and by how much they
    differ.

    Raises ScenarioError, MeshError or FitcheckError for files and pairs that cannot be used; an
    unreliable registration is a finding. Deviations above `limit` are reported [m]; its default is
    twice the uncertainty of the less accurate mesh, at least 10 mm.
    """
    scenario, other = _read(file, mesh, pairs)
    found = read_mesh(mesh)
    other = _with_unit(other, found)
    scale = _scale(scenario, other)
    there = _triangles(found, scale)
    space = survey(scenario, tell)
    picks = _picks(scenario, other, space)
    scale = _kept(scale, other, space)
    wrong = pair_faults(
        picks.names, picks.here, picks.there, picks.worth, scale.declared, keep_scale=scale.keep
    )
    if wrong:
        raise FitcheckError("\n".join(f"{other.file}: {seen}; {do}" for seen, do in wrong))
    laid = register(np.asarray(space.triangles), there, picks, scale, tell)
    return _deviation(scenario, other, space, there, laid, limit, tell)


def _read(file: Path, mesh: Path, pairs: Path) -> tuple[Scenario, Other]:
    """Both files, or the faults of both."""
    faults: list[Fault] = []
    scenario = other = None
    try:
        scenario = read_scenario(file, boat_alone=True)
    except ScenarioError as error:
        faults += error.faults
    try:
        other = read_other(pairs, mesh)
    except ScenarioError as error:
        faults += error.faults
    if scenario is None or other is None:
        raise ScenarioError(tuple(faults))
    return scenario, other


def _scale(scenario: Scenario, other: Other) -> Scale:
    """The other mesh's unit and its uncertainty, by the rules for a boat."""
    if other.unit is None and len(other.tape_measures) < 2:
        return Scale(declared=None, uncertainty=0.0, keep=False)
    found = find_scale(_as_boat(scenario, other))
    return Scale(declared=found.value, uncertainty=found.uncertainty, keep=False)


def _as_boat(scenario: Scenario, other: Other) -> Boat:
    """The other mesh described as a boat, for functions that expect one."""
    return replace(
        scenario.boat,
        mesh=other.mesh,
        origin=other.origin,
        unit=other.unit,
        tape_measures=other.tape_measures,
        scan_accuracy=other.accuracy,
    )


def _with_unit(other: Other, mesh: RawMesh) -> Other:
    """With the unit its file declares, if there is no other source."""
    known = other.unit is not None or len(other.tape_measures) > 1
    return other if known else replace(other, unit=mesh.unit)


def _triangles(mesh: RawMesh, scale: Scale) -> Array:
    """Its triangles; points are small squares, whose size needs their unit."""
    if not mesh.is_cloud:
        return mesh.triangles
    if scale.declared is None:
        raise FitcheckError("the other mesh is a cloud of points: write other.unit")
    towards = np.full((len(mesh.points), 3), np.nan)
    splats = make_splats(mesh.points * scale.declared, mesh.normals, towards)
    return np.asarray(splats.triangles / scale.declared)


def _kept(scale: Scale, other: Other, space: Space) -> Scale:
    """The scale is kept where it is proven on both sides."""
    both = float(np.hypot(scale.uncertainty, space.scale_uncertainty))
    keep = both <= PROVEN and scale.declared is not None
    return Scale(declared=scale.declared, uncertainty=both, keep=keep)


def _picks(scenario: Scenario, other: Other, space: Space) -> Picks:
    there = _as_boat(scenario, other)
    accuracy = float(np.hypot(space.accuracy, accuracy_of(there)))
    return Picks(
        names=tuple(pair.name for pair in other.pairs),
        here=to_boat(space.frame, np.array([pair.here for pair in other.pairs])),
        there=np.array([pair.there for pair in other.pairs], dtype=np.float64),
        worth=max(LEAST_WORTH, float(np.hypot(pick_of(scenario.boat), pick_of(there)))),
        bent=accuracy / COVERAGE,
    )


def _deviation(
    scenario: Scenario,
    other: Other,
    space: Space,
    there: Array,
    found: Registration,
    limit: Metre | None,
    tell: Tell,
) -> Deviation:
    accuracy = accuracy_of(_as_boat(scenario, other))
    limit = max(LEAST_LIMIT, 2.0 * max(space.accuracy, accuracy)) if limit is None else limit
    moved = found.similarity.carry(there)
    off = offsets(np.asarray(space.triangles), moved, _asker(space), space.grid.pitch)
    tell("Deviations measured.")
    own = check_fit(scenario, space, tell)
    boxes = {module.name: module.box for module in own.modules}
    patches = find_patches(off, limit, found, boxes)
    modules: tuple[ModuleChange, ...] = ()
    told: tuple[Finding, ...] = ()
    if own.modules:
        modules, told = _tried(carried(scenario, space.frame, other, found), own, accuracy, found)
    findings = found.findings + told + patch_findings(other.name, patches, limit)
    return Deviation(
        here=scenario.boat.name,
        there=other.name,
        registration=found,
        limit=limit,
        farthest=FARTHEST,
        triangles=moved,
        places=off.places,
        off=off.off,
        ways=off.ways,
        boxes=tuple(boxes.items()),
        patches=patches,
        modules=modules,
        findings=tuple(sorted(findings, key=lambda row: SEVERITIES.index(row.severity))),
        assumptions=space.assumptions + found.assumptions + _assumptions(scenario, other),
        inputs=scenario.inputs + other.inputs,
    )


def _asker(space: Space) -> Callable[[Array], NDArray[np.bool_]]:
    """Whether points (n, 3) lie in cells seen free."""

    def free(points: Array) -> NDArray[np.bool_]:
        index = space.grid.index(points)
        held = space.grid.holds(index)
        index[~held] = 0
        return np.asarray(held & (space.label[tuple(index.T)] == FREE))

    return free


def _tried(
    scenario: Scenario, own: Fit, accuracy: Metre, found: Registration
) -> tuple[tuple[ModuleChange, ...], tuple[Finding, ...]]:
    """The same layout in the other mesh, with the registration's error added to the mesh's own."""
    places = np.array([module.box.centre for module in own.modules])
    doubt = float(found.uncertainty(places).max())
    both = replace(scenario.boat, scan_accuracy=float(np.hypot(accuracy, doubt)))
    scenario = replace(scenario, boat=both)
    try:
        fit = check_fit(scenario, survey(scenario))
    except MeshError as error:
        remedy = Remedy(said=say("layout-not-tried.remedy", remedy=error.remedy))
        said = Finding(
            severity="fail",
            rule="layout-not-tried",
            subject=scenario.boat.name,
            said=say("layout-not-tried.mesh", seen=error.seen),
            source="the other mesh",
            remedy=remedy,
        )
        return (), (said,)
    changes = module_changes(own, fit)
    return changes, change_findings(scenario.boat.name, changes, own, fit)


def _assumptions(scenario: Scenario, other: Other) -> tuple[Assumption, ...]:
    taken = []
    if not other.viewpoints and other.origin == "scan" and scenario.layout.placements:
        taken.append(
            Assumption(
                said=say("assumed.viewpoints"),
                taken=say("assumed.carried-over"),
                source="other.viewpoints is not given",
                can_flip=True,
            )
        )
    if other.accuracy is None:
        taken.append(
            Assumption(
                said=say("assumed.accuracy"),
                taken=say("assumed.off", off=length(accuracy_of(_as_boat(scenario, other)))),
                source="other.accuracy is not given; common practice, no source",
                can_flip=True,
            )
        )
    return tuple(taken)
