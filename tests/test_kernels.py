"""Kernels stay inside their arrays.

Compiled, they look at no index, and what lies beyond an array is whatever the heap holds. Here
they run as plain Python, which refuses an index that is not there.
"""

from __future__ import annotations

import math
import os
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitcheck.geometry.boxgap import _nearest
from fitcheck.geometry.distance import index_triangles
from fitcheck.geometry.overlap import _bin_range, _hit_triangles, bins
from fitcheck.geometry.prism import MOST_CORNERS, _first_triangle
from fitcheck.kernels import drop_stale
from fitcheck.routing.lay.lying import with_corners
from fitcheck.routing.world.goal import _descend
from fitcheck.routing.world.verify import _NOWHERE
from fitcheck.space import nearby
from fitcheck.space.cells.sight import first_met, room_round
from tests.specimens import room

#: Centres of a box of 0.4 m beside the room, which spans x -1..1, y -0.75..0.75, z 0..1.2: above,
#: below and beside its last and its first bins, far off, and nowhere.
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
def test_a_box_beside_the_bins_reads_none_past_their_end(centre) -> None:
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
def test_bins_of_a_block_are_all_there_or_none_on_any_axis(low, size) -> None:
    shape = np.array([4, 1, 7])
    with np.errstate(all="ignore"):
        block = np.array(low), np.array(low) + size
        first, last = _bin_range(np.zeros(3), 0.5, shape, *block)
        met = bool(((block[1] > 1e-6) & (block[0] < 0.5 * shape - 1e-6)).all())
        apart = bool(((block[1] < -1e-6) | (block[0] > 0.5 * shape + 1e-6)).any())
    assert ((first >= 0) & (last < shape)).all()
    assert (last >= first).all() if met else True
    assert (last < first).all() if apart or np.isnan(low).any() else True


def test_a_clipped_polygon_has_room_however_its_corners_round() -> None:
    def most(corners: int, planes: int) -> int:
        """Every corner inside is kept, and each of those outside is cut off twice."""
        if planes == 0:
            return corners
        kept = max(k + 2 * min(k, corners - k) for k in range(corners + 1))
        return most(kept, planes - 1)

    assert max(most(3, 6), most(4, 6)) <= MOST_CORNERS


@pytest.mark.parametrize("start", [(9.5, 0.5, 0.5), (0.5, 3.0, 0.5), (0.5, 0.5, -9.0)])
def test_no_way_down_a_field_from_outside_it(start) -> None:
    world = _NOWHERE._replace(label=np.zeros((3, 3, 3), dtype=np.uint8))
    field, path = np.zeros((3, 3, 3), dtype=np.float32), np.empty((36, 3))
    assert _descend.py_func(world, field, np.array(start), np.zeros(3), path) == 0


def test_a_place_sees_the_cell_it_stands_in(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(nearby, "first_met", first_met.py_func)
    block = np.zeros((7, 7, 7), dtype=np.bool_)
    block[4] = True
    cells = np.array([(2, 3, 3), (3, 1, 2), (5, 3, 3)])
    shown = np.zeros(1)
    with np.errstate(all="ignore"):
        nearby._show.py_func(cells[:1] + 0.5, cells + 0.5, room_round(block), shown)
    # itself and the one beside it, not the one behind the block
    assert shown[0] == 2


@pytest.mark.parametrize("corners", [2, 3, 4])
def test_hoses_pushed_apart_have_a_corner_on_either_axis(corners) -> None:
    line = np.array([(0.0, 0.0, 0.0), (0.1, 0.0, 0.0), (0.1, 0.1, 0.0), (0.1, 0.1, 0.1)])[:corners]
    laid = with_corners(line)
    assert len(laid) >= 4
    for one, two in ((line[:2], laid[:2]), (line[-2:], laid[-2:])):
        assert np.abs(np.cross(one[1] - one[0], two[1] - two[0])).max() < 1e-12


def test_what_was_compiled_before_a_change_is_thrown_away(tmp_path: Path) -> None:
    sources = {
        "low": "from numba import njit\nREACH = 3\n@njit\ndef low(): ...\n",
        "plain": "DEEP = 2\ndef plain(): ...\n",
        "middle": "from fitcheck.part.low import low\n@njit\ndef middle(): ...\n",
        "high": "from fitcheck.part.middle import (\n    middle,\n)\n@njit\ndef high(): ...\n",
        "deep": "from fitcheck.part.plain import DEEP\n@njit\ndef deep(): ...\n",
        "apart": "from fitcheck.part.plain import plain\n@njit\ndef apart(): ...\n",
    }
    cached = tmp_path / "part" / "__pycache__"
    cached.mkdir(parents=True)
    for name, text in sources.items():
        (tmp_path / "part" / f"{name}.py").write_text(text)
        os.utime(tmp_path / "part" / f"{name}.py", (1000.0, 1000.0))
        (cached / f"{name}.{name}-3.py311.nbi").touch()
        os.utime(cached / f"{name}.{name}-3.py311.nbi", (2000.0, 2000.0))
    assert drop_stale(tmp_path) == ()
    for changed, stale in (("low", {"low", "middle", "high"}), ("plain", {"plain", "deep"})):
        os.utime(tmp_path / "part" / f"{changed}.py", (3000.0, 3000.0))
        assert {path.name.split(".")[0] for path in drop_stale(tmp_path)} == stale
    assert {path.name.split(".")[0] for path in cached.iterdir()} == {"apart"}
