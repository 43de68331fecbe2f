"""Kernels stay inside their arrays.

Compiled kernels check no index, and beyond an array is whatever the heap contains. Here they run
as plain Python, which raises an error.
"""

from __future__ import annotations

import ast
import json
import math
import os
import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitcheck import kernels
from fitcheck.geometry.boxgap import _nearest
from fitcheck.geometry.distance import index_triangles
from fitcheck.geometry.overlap import _bin_range, _hit_triangles, bins
from fitcheck.geometry.prism import MOST_CORNERS, _first_triangle
from fitcheck.routing.lay.lying import with_corners
from fitcheck.routing.world.goal import _descend
from fitcheck.routing.world.verify import _NOWHERE
from fitcheck.space import nearby
from fitcheck.space.cells.sight import first_met, room_round
from tests.specimens import room

#: Centres of a box of 0.4 m outside the room, which spans x -1..1, y -0.75..0.75, z 0..1.2: above,
#: below and beside its last and its first bins, far away, and NaN.
BESIDE = [
    (1.0, 0.75, 1.6),
    (1.0, 0.75, 9.0),
    (-1.0, -0.75, -0.4),
    (-1.0, -0.75, -9.0),
    (1.0, 1.2, 1.2),
    (1.5, 0.75, 1.2),
    (1.0, 0.75, 1e30),
    (1.0, 0.75, math.inf),
    (1.0, 0.75, math.nan),
]


@pytest.mark.parametrize("centre", BESIDE)
def test_a_box_outside_the_bins_reads_nothing_past_their_end(centre) -> None:
    index = index_triangles(room(), 0.06)
    at, half, axes = np.array(centre), np.full(3, 0.2), np.eye(3)
    hit, point = np.zeros(1, dtype=np.bool_), np.zeros(3)
    before = (at, axes, np.array([-0.2, -0.2, 0.2]), np.full(3, 0.2), 2, 1, point)
    with np.errstate(all="ignore"):
        _hit_triangles.py_func(*bins(index), at[None], half, axes, hit)
        assert not hit[0]
        assert _nearest.py_func(*bins(index), at, half, axes, 0.02, point) == math.inf
        assert _first_triangle.py_func(*bins(index), *before) == (math.inf, -1)


@settings(max_examples=200, deadline=None)
@given(st.tuples(st.floats(), st.floats(-1.0, 5.0), st.floats(-1.0, 5.0)), st.floats(0.0, 3.0))
def test_bins_of_a_block_are_all_valid_or_empty_on_every_axis(low, size) -> None:
    shape = np.array([4, 1, 7])
    with np.errstate(all="ignore"):
        block = np.array(low), np.array(low) + size
        first, last = _bin_range(np.zeros(3), 0.5, shape, *block)
        met = bool(((block[1] > 1e-6) & (block[0] < 0.5 * shape - 1e-6)).all())
        apart = bool(((block[1] < -1e-6) | (block[0] > 0.5 * shape + 1e-6)).any())
    assert ((first >= 0) & (last < shape)).all()
    assert (last >= first).all() if met else True
    assert (last < first).all() if apart or np.isnan(low).any() else True


def test_a_clipped_polygon_fits_its_array_under_any_rounding() -> None:
    def most(corners: int, planes: int) -> int:
        """Every corner inside is kept, and each of those outside is cut twice."""
        if planes == 0:
            return corners
        kept = max(k + 2 * min(k, corners - k) for k in range(corners + 1))
        return most(kept, planes - 1)

    assert max(most(3, 6), most(4, 6)) <= MOST_CORNERS


@pytest.mark.parametrize("start", [(9.5, 0.5, 0.5), (0.5, 3.0, 0.5), (0.5, 0.5, -9.0)])
def test_no_path_down_a_field_starts_outside_it(start) -> None:
    world = _NOWHERE._replace(label=np.zeros((3, 3, 3), dtype=np.uint8))
    field, path = np.zeros((3, 3, 3), dtype=np.float32), np.empty((36, 3))
    assert _descend.py_func(world, field, np.array(start), np.zeros(3), path) == 0


def test_a_viewpoint_sees_its_own_cell(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(nearby, "first_met", first_met.py_func)
    block = np.zeros((7, 7, 7), dtype=np.bool_)
    block[4] = True
    cells = np.array([(2, 3, 3), (3, 1, 2), (5, 3, 3)])
    shown = np.zeros(1)
    with np.errstate(all="ignore"):
        nearby._show.py_func(cells[:1] + 0.5, cells + 0.5, room_round(block), shown)
    # itself and the next one, not the one behind the block
    assert shown[0] == 2


@pytest.mark.parametrize("corners", [2, 3, 4])
def test_relaxed_hoses_have_a_corner_on_each_port_axis(corners) -> None:
    line = np.array([(0.0, 0.0, 0.0), (0.1, 0.0, 0.0), (0.1, 0.1, 0.0), (0.1, 0.1, 0.1)])[:corners]
    laid = with_corners(line)
    assert len(laid) >= 4
    for one, two in ((line[:2], laid[:2]), (line[-2:], laid[-2:])):
        assert np.abs(np.cross(one[1] - one[0], two[1] - two[0])).max() < 1e-12


#: A package of kernels that use one another, a constant, and plain functions.
PARTS = {
    "__init__": "",
    "low": "REACH = 3\n@kernel\ndef low():\n    return REACH\n",
    "plain": "DEEP = 2\ndef plain(): ...\n",
    "middle": "from parts.low import low\n@kernel\ndef middle():\n    return low()\n",
    "high": "from parts.middle import middle\n@kernel\ndef high():\n    return middle()\n",
    "deep": "from parts.plain import DEEP\n@kernel\ndef deep():\n    return DEEP\n",
    "table": "import numpy as np\nROWS = np.array([2, 3])\n",
    "wide": "from parts.table import ROWS\n@kernel\ndef wide():\n    return ROWS[0]\n",
    "apart": "from parts.plain import plain\n@kernel\ndef apart():\n    return 1\n",
}
STAMPS = """
import importlib, json
from fitcheck.kernels import stamp
names = ("low", "middle", "high", "deep", "wide", "apart")
parts = {name: importlib.import_module(f"parts.{name}") for name in names}
print(json.dumps({name: stamp(f"parts.{name}") for name in names}))
"""


def stamps(folder: Path) -> dict[str, str]:
    """Cache keys of the package's kernels, in a fresh process."""
    paths = os.pathsep.join([str(folder), str(Path(kernels.__file__).parents[1])])
    env = os.environ | {"PYTHONPATH": paths, "PYTHONDONTWRITEBYTECODE": "1"}
    ran = subprocess.run(
        [sys.executable, "-c", STAMPS], env=env, capture_output=True, text=True, check=True
    )
    return dict(json.loads(ran.stdout))


@pytest.mark.parametrize(
    ("changed", "stale"),
    [
        ("low", {"low", "middle", "high"}),
        ("middle", {"middle", "high"}),
        ("plain", {"deep"}),
        ("table", {"wide"}),
        ("apart", {"apart"}),
    ],
)
def test_a_kernel_is_recompiled_when_anything_compiled_into_it_changes(
    changed: str, stale: set[str], tmp_path: Path
) -> None:
    for name, text in PARTS.items():
        lead = "from fitcheck.kernels import kernel\n" if "@kernel" in text else ""
        file = tmp_path / "parts" / f"{name}.py"
        file.parent.mkdir(exist_ok=True)
        file.write_text(lead + text)
    before = stamps(tmp_path)
    assert stamps(tmp_path) == before
    file = tmp_path / "parts" / f"{changed}.py"
    text = file.read_text().replace("DEEP = 2", "DEEP = 4").replace("[2, 3]", "[4, 3]")
    file.write_text(text + "# changed\n")
    after = stamps(tmp_path)
    assert {name for name in before if after[name] != before[name]} == stale


def kernel_docstrings() -> dict[str, str]:
    """The docstring of every compiled kernel, by file and name."""
    found = {}
    for file in sorted(kernels.PACKAGE.rglob("*.py")):
        for node in ast.walk(ast.parse(file.read_text("utf-8"))):
            if not isinstance(node, ast.FunctionDef):
                continue
            worn = [getattr(one, "func", one) for one in node.decorator_list]
            if any(getattr(one, "id", "") == "kernel" for one in worn):
                found[f"{file.name}:{node.name}"] = ast.get_docstring(node) or ""
    return found


def test_every_kernel_documents_shapes_or_units() -> None:
    """A kernel checks no shape, so its docstring must state what it expects."""
    given = re.compile(r"\[[^\]]+\]|\([^()]*\d\)|\bunit\b")
    told = kernel_docstrings()
    assert len(told) > 150
    assert [name for name, text in told.items() if not given.search(text)] == []
