"""Make the mesh of the hard scenario: an invented space that leaves hoses little choice.

    python meshes/make_hard.py   writes hard.stl beside this file

A closed export in millimetres: x forward, y to port of the centreline, z up from the sea. A
bulkhead with one narrow slot parts the room; aft of it stands a duct that is too tight for a hose
to turn in, and a bracket in it that holds a pipe end which looks aft.

Needs numpy only. Everything is invented; the same bytes every time.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from make_demo import Mesh, Points, block, joined, prism, write_stl

HERE = Path(__file__).resolve().parent

# The boat frame [m]; the inside point is above its origin.
ROOM = ((-1.20, -0.70, -0.50), (1.30, 0.70, 0.80))
SKIN = 0.002  # what keeps solids off the shell, so that every part is closed by itself
BULKHEAD = (0.30, 0.32)
SLOT = ((-0.050, 0.050), (0.02, 0.10))  # y, z
DUCT = (-0.95, -0.40)
DUCT_CENTRE, DUCT_HALF, DUCT_WALL = (0.0, 0.35), 0.050, 0.010  # y, z
BRACKET = (-0.78, -0.77)


def rectangle(y: tuple[float, float], z: tuple[float, float]) -> Points:
    """An outline in y and z, counter-clockwise."""
    return np.array([[y[0], z[0]], [y[1], z[0]], [y[1], z[1]], [y[0], z[1]]])


def parts() -> list[Mesh]:
    """Everything, each closed by itself."""
    points, faces = block(*ROOM)
    low, high = (np.array(corner) for corner in ROOM)
    across = rectangle((low[1] + SKIN, high[1] - SKIN), (low[2] + SKIN, high[2] - SKIN))
    bulkhead = prism([across, rectangle(*SLOT)[::-1]], np.array(BULKHEAD), 0)
    y, z = DUCT_CENTRE
    outer, inner = DUCT_HALF + DUCT_WALL, DUCT_HALF
    walls = [
        rectangle((y - out, y + out), (z - out, z + out))[::way]
        for out, way in ((outer, 1), (inner, -1))
    ]
    duct = prism(walls, np.array(DUCT), 0)
    floor = z - inner + SKIN
    bracket = block((BRACKET[0], y - 0.02, floor), (BRACKET[1], y + 0.02, z + 0.010))
    middle = (DUCT[0] + DUCT[1]) / 2
    foot, top = low[2] + SKIN, z - outer - SKIN
    post = block((middle - 0.02, y - 0.02, foot), (middle + 0.02, y + 0.02, top))
    return [(points, faces[:, ::-1]), bulkhead, duct, bracket, post]


def main() -> None:
    """Write the mesh."""
    points, faces = joined(parts())
    write_stl(HERE / "hard.stl", (points * 1000.0, faces))
    print(f"hard.stl: {len(faces)} triangles")


if __name__ == "__main__":
    main()
