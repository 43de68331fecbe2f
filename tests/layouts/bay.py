"""One compartment with its kit and layout as plain tables, to be modified and written as files."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tests import specimens

Table = dict[str, Any]
Floats = NDArray[np.float64]
Corner = tuple[float, float, float]


@dataclass
class Bay:
    """A drawn compartment, and the tables of its scenario.

    triangles : (n, 3, 3) in the boat frame [m]; `axes` are the rows that rotate the boat frame to
    the mesh's own axes and `unit` the length of its unit [m], so that nothing relies on either
    """

    name: str
    triangles: Floats
    tables: Table
    unit: float = 1.0
    axes: Floats = field(default_factory=lambda: np.eye(3))

    def picked(self, point: Sequence[float]) -> str:
        """A place of the boat frame as it is picked on the mesh."""
        x, y, z = (self.axes @ np.asarray(point, float)) / self.unit
        return f"picked {x:.6f} {y:.6f} {z:.6f}"

    def write(self, folder: Path) -> Path:
        """Write mesh and scenario into a folder and return the scenario's path."""
        folder.mkdir(parents=True, exist_ok=True)
        specimens.write_stl(folder / "bay.stl", (self.triangles @ self.axes.T) / self.unit)
        path = folder / "scenario.toml"
        path.write_text(as_toml({"name": self.name, "about": "invented", **self.tables}))
        return path


def as_toml(tables: Table, above: str = "") -> str:
    """Nested tables as TOML text; lists of tables become arrays of tables."""
    plain, below = [], []
    for key, value in tables.items():
        path = f"{above}.{key}" if above else key
        if isinstance(value, dict):
            below.append(f"\n[{path}]\n{as_toml(value, path)}")
        elif isinstance(value, list) and value and isinstance(value[0], dict):
            below += [f"\n[[{path}]]\n{as_toml(row, path)}" for row in value]
        else:
            plain.append(f"{key} = {json.dumps(value)}\n")
    return "".join(plain + below)


def mm(length: float) -> str:
    """A length in metres as a scenario writes it."""
    return f"{length * 1e3:.1f} mm"


def place(*point: float) -> list[str]:
    """A place of the layout."""
    return [f"{value:.4f} m" for value in point]


def level_board(name: str, low: Corner, high: Corner) -> Table:
    """A level board to be built that occupies the block low..high."""
    ring = [(low[0], low[1]), (high[0], low[1]), (high[0], high[1]), (low[0], high[1])]
    return {
        "name": name,
        "corners": [place(x, y, high[2]) for x, y in ring],
        "thickness": mm(high[2] - low[2]),
        "grows": "down",
        "state": "planned",
    }
