"""The boat frame, ports and holes: simple places, rotations and heights."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitcheck.errors import MeshError
from fitcheck.geometry.box import rotation
from fitcheck.model.found.space import Space
from fitcheck.model.given.boat import (
    Bearing,
    Boat,
    BoatPort,
    Centreline,
    Datum,
    Hole,
    TapeMeasure,
    Volume,
)
from fitcheck.space import survey
from tests import specimens

PITCH = 0.03

Surveyed = Callable[..., Space]


@pytest.fixture
def surveyed(tmp_path: Path) -> Surveyed:
    """Survey triangles: write them to a file, build the boat around it, run the stage."""

    def run(triangles: specimens.Triangles, *, pitch: float = PITCH, **changes: Any) -> Space:
        path = specimens.write_ply(tmp_path / "mesh.ply", triangles)
        boat = specimens.boat(path, **changes)
        layout = specimens.layout(pitch=pitch)
        return survey(specimens.scenario(boat, layout=layout), cell=pitch)

    return run


#: The bare rooms here have neither a tape nor a stated trim; `test_proven.py` covers those.
UNPROVEN = ("scale-unproven", "up-unproven", "sea-unproven")


def rules(space: Space, severity: str = "") -> list[str]:
    """Rules of a survey's findings, optionally of one severity, without those of bare rooms."""
    return [
        row.rule
        for row in space.findings
        if severity in ("", row.severity) and row.rule not in UNPROVEN
    ]


def scan(**changes: Any) -> dict[str, Any]:
    """Changes that make a boat a scanned one."""
    return {"origin": "scan", "viewpoints": specimens.viewpoints(12), **changes}


# --- frame --------------------------------------------------------------------------------------


def turned_boat(
    boat: Boat, turn: specimens.Triangles, shift: specimens.Triangles, unit: float
) -> Boat:
    """The same boat on a mesh that was rotated, moved and written in another unit."""

    def point(p: tuple[float, float, float]) -> tuple[float, float, float]:
        x, y, z = (turn @ np.array(p) + shift) / unit
        return (float(x), float(y), float(z))

    def way(v: tuple[float, float, float]) -> tuple[float, float, float]:
        x, y, z = turn @ np.array(v)
        return (float(x), float(y), float(z))

    assert boat.up is not None
    assert boat.datum is not None
    assert boat.centreline is not None
    return replace(
        boat,
        unit=unit,
        up=way(boat.up),
        forward=way(boat.forward),
        datum=replace(boat.datum, point=point(boat.datum.point)),
        centreline=replace(boat.centreline, point=point(boat.centreline.point)),
        inside=point(boat.inside),
        viewpoints=tuple(point(eye) for eye in boat.viewpoints),
        ports=tuple(
            replace(port, at=point(port.at), bearing=Bearing(frame="mesh", vector=way((0, 0, 1))))
            for port in boat.ports
        ),
    )


PORT = BoatPort(
    name="seacock",
    role="seacock",
    at=(0.5, 0.4, 0.0),
    bearing=Bearing(frame="boat", vector=(0.0, 0.0, 1.0)),
    connection="hose tail 19 mm",
    thread="3/4 in BSP",
)


@settings(max_examples=8, deadline=None)
@given(
    angles=st.tuples(*[st.floats(-3.0, 3.0)] * 3),
    shift=st.tuples(*[st.floats(-5.0, 5.0)] * 3),
    unit=st.sampled_from([1.0, 0.001, 0.0254]),
)
def test_moving_the_mesh_changes_nothing(
    tmp_path_factory: pytest.TempPathFactory,
    angles: tuple[float, float, float],
    shift: tuple[float, float, float],
    unit: float,
) -> None:
    folder = tmp_path_factory.mktemp("moved")
    # Off the lattice, so that rounding does not decide which cell a wall is in.
    shape = specimens.room_with_box((0.207, -0.303, 0.0), (0.811, 0.309, 0.503))
    turn = rotation(angles)
    inside = (-0.513, 0.021, 0.617)
    plain = specimens.boat(
        specimens.write_ply(folder / "a.ply", shape), ports=(PORT,), inside=inside
    )
    moved_path = specimens.write_ply(folder / "b.ply", specimens.moved(shape, turn, shift) / unit)
    moved = replace(turned_boat(plain, turn, np.array(shift), unit), mesh=str(moved_path))
    layout = specimens.layout(pitch=0.0371)
    first = survey(specimens.scenario(plain, layout=layout), cell=layout.pitch)
    second = survey(specimens.scenario(moved, layout=layout), cell=layout.pitch)
    assert np.allclose(first.triangles, second.triangles, atol=1e-6)
    assert first.grid.shape == second.grid.shape
    assert np.mean(first.label != second.label) < 1e-3
    assert second.ports[0].at == pytest.approx(first.ports[0].at, abs=1e-6)
    assert second.ports[0].direction == pytest.approx((0.0, 0.0, 1.0), abs=1e-9)


def test_signs_of_the_boat_frame(surveyed: Surveyed) -> None:
    # A mesh with y up whose bow points to -z: +x is then starboard.
    turn = np.array([[0.0, -1.0, 0.0], [0.0, 0.0, 1.0], [-1.0, 0.0, 0.0]])
    space = surveyed(
        specimens.moved(specimens.room(), turn, (0.0, 0.0, 0.0)),
        up=(0.0, 1.0, 0.0),
        forward=(0.0, 0.0, -1.0),
        inside=(0.2, 0.5, -0.3),
        datum=Datum(point=(0.0, 0.1, 0.0), above_sea=0.35, taken="hose"),
        centreline=Centreline(point=(0.75, 0.0, 0.0), offset=-0.45),
        ports=(
            replace(PORT, at=(0.75, 0.5, -0.3), bearing=Bearing(frame="mesh", vector=(-1, 0, 0))),
        ),
    )
    # x forward from the inside point; y to port: the starboard wall is 0.45 m to starboard.
    assert space.inside == pytest.approx((0.0, 0.1, 0.75))
    port = space.port("seacock")
    assert port.at == pytest.approx((0.0, -0.45, 0.75))
    assert port.direction == pytest.approx((0.0, 1.0, 0.0))
    turns = np.array(space.frame.turn)
    assert np.linalg.det(turns) == pytest.approx(1.0)


def test_forward_is_projected_onto_the_level_plane(surveyed: Surveyed) -> None:
    space = surveyed(specimens.room(), forward=(1.0, 0.0, 0.3))
    assert np.array(space.frame.turn) == pytest.approx(np.eye(3))
    with pytest.raises(MeshError, match="points up or down"):
        surveyed(specimens.room(), forward=(0.1, 0.0, 1.0))


def tapes(*, error: float = 0.0, noise: tuple[float, float, float] = (0, 0, 0)) -> Any:
    """Three tape measurements in the plain room whose mesh is `error` too small."""
    picks = [((-1, 0, 0), (1, 0, 0)), ((0, -0.75, 0), (0, 0.75, 0)), ((0, 0, 0), (0, 0, 1.2))]
    lengths = (2.0, 1.5, 1.2)
    return tuple(
        TapeMeasure(start=a, end=b, length=length * (1 + error) + off)
        for (a, b), length, off in zip(picks, lengths, noise, strict=True)
    )


def test_tape_measurements_correct_the_scale(surveyed: Surveyed) -> None:
    space = surveyed(specimens.room(), tape_measures=tapes(error=0.01))
    assert space.frame.scale == pytest.approx(1.01)
    assert np.ptp(space.triangles[..., 0]) == pytest.approx(2.02)
    assert "scale" in rules(space, "note")
    # On a drawing two picks of 1 mm and a tape within 3 mm (95 %), over the root of the summed
    # squares of 2.02, 1.515 and 1.212 m.
    each = np.sqrt(2 * 0.001**2 + (0.003 / 1.96) ** 2)
    # Prior knowledge counts as four values; with two degrees of freedom Student's factor is 2.447.
    each *= np.sqrt(4 / 6) * 2.447 / 1.96
    assert space.scale_uncertainty == pytest.approx(
        each / np.sqrt(2.02**2 + 1.515**2 + 1.212**2), rel=1e-3
    )


def test_tape_measurements_prove_an_unknown_unit(surveyed: Surveyed) -> None:
    scaled = tuple(replace(tape, length=tape.length * 0.0254) for tape in tapes())
    space = surveyed(
        specimens.room() / 0.0254,
        unit=None,
        tape_measures=tuple(
            replace(
                tape,
                start=tuple(np.array(tape.start) / 0.0254),
                end=tuple(np.array(tape.end) / 0.0254),
                length=length.length / 0.0254,
            )
            for tape, length in zip(tapes(), scaled, strict=True)
        ),
        inside=(0.0, 0.0, 0.6 / 0.0254),
    )
    assert space.frame.scale == pytest.approx(0.0254)
    assert np.ptp(space.triangles[..., 0]) == pytest.approx(2.0)


@pytest.mark.parametrize("given_", [(), tapes()[:1]])
def test_a_unit_is_never_guessed(surveyed: Surveyed, given_: Any) -> None:
    with pytest.raises(MeshError, match="unit"):
        surveyed(specimens.room(), unit=None, tape_measures=given_)


def test_inconsistent_tape_measurements_are_reported(surveyed: Surveyed) -> None:
    space = surveyed(specimens.room(), tape_measures=tapes(noise=(0.0, 0.1, 0.0)))
    told = next(row for row in space.findings if row.rule == "tape-disagreement")
    assert "number 2" in told.text
    assert space.scale_uncertainty > 0.015


def test_a_unit_contradicted_by_tape_measurements_fails(surveyed: Surveyed) -> None:
    space = surveyed(specimens.room(), unit=0.5, tape_measures=tapes())
    assert "scale" in rules(space, "fail")
    assert space.frame.scale == pytest.approx(1.0)


def test_an_unmeasured_scan_has_one_per_cent_uncertainty(surveyed: Surveyed) -> None:
    space = surveyed(specimens.room(), **scan())
    assert 1.96 * space.scale_uncertainty == pytest.approx(0.02)
    assert space.accuracy == pytest.approx(0.020)
    assert {row.what for row in space.assumptions if row.can_flip} >= {
        "the scale of the scan is correct within 2 %",
        "accuracy of the scan",
    }
    assert surveyed(specimens.room()).scale_uncertainty == 0.0


WATERLINE = [(-0.9, -0.75), (0.0, -0.75), (0.9, -0.75), (-0.9, 0.75), (0.0, 0.75), (0.9, 0.75)]


@pytest.mark.parametrize("tilt", [0.0, 0.05, 0.12])
def test_the_waterline_levels_the_boat(surveyed: Surveyed, tilt: float) -> None:
    sea = 0.4
    turn = rotation((tilt, 0.0, 0.0))
    marks = tuple(tuple(turn @ np.array([x, y, sea])) for x, y in WATERLINE)
    space = surveyed(
        specimens.moved(specimens.room(), turn, (0.0, 0.0, 0.0)),
        waterline=marks,
        datum=None,
        inside=tuple(turn @ np.array([0.0, 0.0, 0.6])),
    )
    assert np.ptp(space.triangles[..., 2]) == pytest.approx(1.2, abs=1e-6)
    assert space.triangles[..., 2].min() == pytest.approx(-sea, abs=1e-6)
    assert ("waterline-tilt" in rules(space)) is (tilt > 0.01)
    assert ("waterline-tilt" in rules(space, "caution")) is (tilt > 0.1)
    barred = [row.bars for row in space.findings if row.rule == "waterline-tilt" and row.bars]
    assert bool(barred) is (tilt > 0.1)


def test_a_waterline_without_up_assumes_an_upright_mesh(surveyed: Surveyed) -> None:
    marks = tuple((x, y, 0.4) for x, y in WATERLINE)
    space = surveyed(specimens.room(), waterline=marks, datum=None, up=None)
    assert space.frame.turn[2] == pytest.approx((0.0, 0.0, 1.0))
    assert "the mesh is not upside down" in {row.what for row in space.assumptions if row.can_flip}


def test_a_waterline_along_one_side_is_refused(surveyed: Surveyed) -> None:
    marks = tuple((x, 0.75, 0.4 + 0.001 * x * x) for x in np.linspace(-0.9, 0.9, 8))
    with pytest.raises(MeshError, match="near one line"):
        surveyed(specimens.room(), waterline=marks, origin="scan")


def test_a_datum_that_contradicts_the_waterline_is_reported(surveyed: Surveyed) -> None:
    marks = tuple((x, y, 0.4) for x, y in WATERLINE)
    datum = Datum(point=(0.0, 0.0, 0.0), above_sea=-0.35, taken="hose")
    space = surveyed(specimens.room(), waterline=marks, datum=datum)
    assert "height-disagreement" in rules(space, "caution")
    told = {row.rule: set(row.bars) for row in space.findings}
    assert told["height-disagreement"] == {"cut_joinery", "order_hoses"}


def test_a_missing_centreline_is_an_assumption_that_can_change_the_verdict(
    surveyed: Surveyed,
) -> None:
    space = surveyed(specimens.room(), centreline=None, inside=(0.0, 0.3, 0.6))
    assert space.inside[1] == pytest.approx(0.0)
    assert [row.can_flip for row in space.assumptions if "centreline passes" in row.what] == [True]


@pytest.mark.parametrize(("unit", "word"), [(1000.0, "2000 m"), (0.001, "2 mm")])
def test_implausible_sizes_are_refused(surveyed: Surveyed, unit: float, word: str) -> None:
    with pytest.raises(MeshError, match=word):
        surveyed(specimens.room(), unit=unit)


def test_too_many_cells_suggest_a_working_pitch(surveyed: Surveyed) -> None:
    with pytest.raises(MeshError, match="set layout.pitch to 4 mm"):
        surveyed(specimens.room(), pitch=0.003, unit=1.1)


# --- ports and holes ----------------------------------------------------------------------------


def test_a_good_port_has_no_finding(surveyed: Surveyed) -> None:
    assert rules(surveyed(specimens.room(), ports=(PORT,))) == []


def test_a_port_that_opens_into_a_wall_fails(surveyed: Surveyed) -> None:
    down = replace(PORT, bearing=Bearing(frame="boat", vector=(0.0, 0.0, -1.0)))
    space = surveyed(specimens.room(), ports=(replace(down, at=(0.5, 0.4, -0.01)),))
    finding = next(row for row in space.findings if row.rule == "port-blocked")
    assert finding.severity == "fail"
    assert finding.place == pytest.approx((0.5, 0.4, -0.01))


def test_a_port_in_mid_air_is_reported(surveyed: Surveyed) -> None:
    space = surveyed(specimens.room(), ports=(replace(PORT, at=(0.0, 0.0, 0.5)),))
    finding = next(row for row in space.findings if row.rule == "port-off-surface")
    assert finding.value == pytest.approx(0.5)
    assert finding.bars == ("cut_joinery", "order_hoses")


def test_a_port_on_a_declared_solid_is_not_in_mid_air(surveyed: Surveyed) -> None:
    tank = Volume(name="tank", corners=((0.1, 0.1, 0.3), (0.5, 0.5, 0.7)), why="a tank")
    port = replace(PORT, at=(0.1, 0.3, 0.5))
    space = surveyed(specimens.room(), solids=(tank,), ports=(port,))
    assert "port-off-surface" not in {row.rule for row in space.findings}


def test_holes(surveyed: Surveyed) -> None:
    shape = specimens.join(specimens.room(), specimens.bulkhead(diameter=0.2))
    forward = Bearing(frame="boat", vector=(1.0, 0.0, 0.0))
    good = Hole(name="good", centre=(0.0, 0.0, 0.6), bearing=forward, diameter=0.2)
    stray = replace(good, name="stray", centre=(0.5, 0.0, 0.6))
    outer = replace(good, name="outer", centre=(1.0, 0.0, 0.6))
    space = surveyed(shape, inside=(-0.5, 0.0, 0.6), holes=(good, stray, outer))
    told = [(row.rule, row.subject) for row in space.findings if row.rule not in UNPROVEN]
    assert told == [("hole-off-surface", "boat.stray"), ("hole-blocked", "boat.outer")]
