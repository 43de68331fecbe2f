"""The demo meshes match their script, and the boat files pick its points."""

from __future__ import annotations

import importlib.util
import re
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
import trimesh

from tests import ROOT


@pytest.fixture(scope="module")
def maker() -> ModuleType:
    """meshes/make_demo.py as a module."""
    spec = importlib.util.spec_from_file_location("make_demo", ROOT / "meshes" / "make_demo.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_drawing_matches_the_script(maker: ModuleType, tmp_path: Path) -> None:
    points, faces = maker.joined([maker.shell(), *maker.solids().values()])
    maker.write_stl(tmp_path / "again.stl", (maker.to_cad(points), faces))
    again = trimesh.load(tmp_path / "again.stl")
    shipped = trimesh.load(ROOT / "meshes" / "demo_cad.stl")
    assert np.abs(again.triangles - shipped.triangles).max() < 1e-3  # a micrometre, in mm


def test_the_drawing_is_closed_and_faces_outward(maker: ModuleType) -> None:
    shell, solids = maker.shell(), maker.solids()
    room = trimesh.Trimesh(*shell, process=False)
    assert room.is_watertight
    assert room.volume < -3.5
    for name, part in solids.items():
        solid = trimesh.Trimesh(*part, process=False)
        assert solid.is_watertight, name
        assert solid.is_winding_consistent, name
        assert solid.volume > 0, name


def test_cut_outlines_keep_their_area(maker: ModuleType) -> None:
    square = np.array([[0.0, 0.0], [4.0, 0.0], [4.0, 3.0], [0.0, 3.0]])
    window = np.array([[1.0, 1.0], [1.0, 2.0], [2.0, 2.0], [2.0, 1.0]])
    slot = window + [1.5, 0.5]
    points, faces = maker.triangulate([square, window, slot])
    a, b, c = (points[faces[:, k]] for k in range(3))
    area = np.cross(np.pad(b - a, ((0, 0), (0, 1))), np.pad(c - a, ((0, 0), (0, 1))))[:, 2] / 2
    assert (area > 0).all()
    assert area.sum() == pytest.approx(12 - 1 - 1)


def test_the_scan_matches_the_drawing_within_its_noise(maker: ModuleType) -> None:
    scan = trimesh.load(ROOT / "meshes" / "demo_scan.ply", process=False)
    true = (scan.vertices - maker.to_scan(np.zeros((1, 3)))) @ maker.scan_axes().T * maker.SCALE
    assert maker.to_scan(true) == pytest.approx(np.asarray(scan.vertices), abs=1e-6)
    starboard = true[np.abs(true[:, 1] - maker.STARBOARD) < 0.012]
    assert len(starboard) > 1000
    assert abs(starboard[:, 1].mean() - maker.STARBOARD) < 0.002
    assert 0.002 < starboard[:, 1].std() < 0.006
    assert not scan.is_watertight
    assert len(scan.faces) < 60_000


@pytest.mark.parametrize("boat", ["demo_boat.toml", "demo_boat_cad.toml"])
def test_every_point_of_the_boat_files_is_printed_by_the_script(
    maker: ModuleType, boat: str, capsys: pytest.CaptureFixture[str]
) -> None:
    maker.print_points()
    printed = set(re.findall(r'"(picked [^"]+)"', capsys.readouterr().out))
    written = re.findall(r'"(picked [^"]+)"', (ROOT / "scenarios" / boat).read_text("utf-8"))
    assert len(written) > 10
    assert set(written) <= printed
