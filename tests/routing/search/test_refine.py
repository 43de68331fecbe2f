"""Corners of a settled polyline: a bend directly at a port has no room and is detected."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from fitcheck.routing.search.refine import Task, _keeps_ways, apart

PORT, END = (0.0, 0.0, 0.0), (2.0, 1.0, 0.0)
AHEAD, TURNED = (1.0, 0.0, 0.0), (1.0, 1.0, 0.0)


def keeps(*corners: tuple[float, float, float]) -> bool:
    """Whether the polyline leaves and arrives along x."""
    nowhere: Any = None
    way = np.array([1.0, 0.0, 0.0])
    task = Task(world=nowhere, leaves=way, arrives=way, radius=0.1, need=0.01)
    return _keeps_ways(task, apart(np.array(corners)))


@pytest.mark.parametrize(
    "corners",
    [
        (PORT, PORT, TURNED, END),
        (PORT, TURNED, END, END),
        (PORT, PORT, TURNED, END, END),
        (PORT, TURNED, TURNED, END),
    ],
)
def test_coincident_corners_are_merged(corners: tuple[tuple[float, float, float], ...]) -> None:
    assert apart(np.array(corners)).tolist() == [list(PORT), list(TURNED), list(END)]


def test_a_bend_directly_at_a_port_is_refused() -> None:
    assert not keeps(PORT, PORT, TURNED, END)
    assert not keeps(PORT, AHEAD, END, END)
    assert keeps(PORT, PORT, AHEAD, TURNED, END)
    assert keeps(PORT, AHEAD, TURNED, END, END)
