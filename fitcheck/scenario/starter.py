"""A commented scenario to begin with, for a mesh that is already there."""

from __future__ import annotations

import os
import re
import textwrap
from dataclasses import dataclass
from importlib import resources
from pathlib import Path as FilePath
from typing import Protocol

from fitcheck.scenario.schema.quantities import MESH_UNITS
from fitcheck.units import Ratio, show

#: Three numbers in the mesh's own unit.
Numbers = tuple[Ratio, Ratio, Ratio]


class Seen(Protocol):
    """What a look at the mesh file gave, lengths in the mesh's own unit."""

    @property
    def triangles(self) -> int:
        """How many there are."""

    @property
    def open_edges(self) -> int:
        """Edges with one triangle only; none in a closed mesh."""

    @property
    def extents(self) -> Numbers:
        """Size along the mesh's axes."""

    @property
    def bounds(self) -> tuple[Numbers, Numbers]:
        """Lowest and highest corner."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Offered:
    """What a closer look offers: findings in words, the unit, a place inside and viewpoints.

    unit : as the boat file writes it, "" when it is not known; unit_from : who says so
    stations : the file itself says where the scanner stood
    """

    findings: tuple[str, ...] = ()
    unit: str = ""
    unit_from: str = ""
    inside: Numbers | None = None
    eyes: tuple[Numbers, ...] = ()
    stations: bool = False


def starter(
    mesh_path: FilePath | str,
    seen: Seen,
    folder: FilePath | str = ".",
    offered: Offered | None = None,
) -> str:
    """The text of a scenario for a mesh; what only the user knows is marked FILL IN.

    folder : where the file will be written, so that it finds the mesh
    """
    offered = offered or Offered()
    low, high = seen.bounds
    words = {
        "mesh_name": _as_toml(FilePath(mesh_path).name),
        "mesh": _as_toml(_from_folder(FilePath(mesh_path), FilePath(folder))),
        "triangles": str(seen.triangles),
        "open_edges": str(seen.open_edges) if seen.open_edges else "no",
        "middle": _inside(offered, low, high),
        "findings": _comments(offered.findings),
        "unit": _unit_line(offered),
        "eyes": _eyes(offered),
        "sizes": "\n".join(_size_in(unit, seen.extents) for unit in MESH_UNITS),
    }
    for axis, start, end in zip("xyz", low, high, strict=True):
        words[axis] = f"{_plain(start)} and {_plain(end)}"
    text = resources.files("fitcheck.scenario").joinpath("starter.toml").read_text("utf-8")
    return re.sub(r"@(\w+)@", lambda found: words[found[1]], text)


def _inside(offered: Offered, low: Numbers, high: Numbers) -> str:
    if offered.inside is not None:
        return f"offered: {_picked(offered.inside)}"
    middle = " ".join(_plain((a + b) / 2) for a, b in zip(low, high, strict=True))
    return f"if the middle of the mesh is, picked {middle}"


def _unit_line(offered: Offered) -> str:
    if offered.unit:
        return f'unit = "{offered.unit}" # {offered.unit_from}'
    return (
        'unit = "FILL IN: m, cm, mm, in or ft, or take this key out when two tape measures are '
        'given"'
    )


def _comments(sentences: tuple[str, ...]) -> str:
    """Sentences as comment lines."""
    lines = ["# What a look at it showed:"] if sentences else []
    for sentence in sentences:
        lines += textwrap.wrap(sentence, 96, initial_indent="#   ", subsequent_indent="#     ")
    return "".join(f"{line}\n" for line in lines)


def _eyes(offered: Offered) -> str:
    """Viewpoints to fill in, and places to choose from as comments."""
    if offered.stations:
        return "# viewpoints are left out: the file itself says where the scanner stood.\n"
    lines = []
    if offered.eyes:
        lines = ["# Offered, not known: take in those where the scanner really was, and no other."]
        lines += [f'#   "{_picked(eye)}",' for eye in offered.eyes]
    lines += [
        "viewpoints = [",
        '  "FILL IN: a point where the scanner was held",',
        '  "FILL IN: another one; the more the better",',
        "]",
    ]
    return "".join(f"{line}\n" for line in lines)


def _picked(place: Numbers) -> str:
    return "picked " + " ".join(f"{value:.5g}" for value in place)


def _from_folder(mesh: FilePath, folder: FilePath) -> str:
    """The mesh's path as seen from a folder; one from the root stays as it is."""
    path = mesh if mesh.is_absolute() else FilePath(os.path.relpath(mesh, folder))
    return path.as_posix()


def _as_toml(text: str) -> str:
    """Text for between double quotes."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return "".join(c if c.isprintable() else f"\\U{ord(c):08x}" for c in escaped)


def _size_in(unit: str, extents: Numbers) -> str:
    sizes = " by ".join(show(extent * MESH_UNITS[unit], "length") for extent in extents)
    return f"#   {sizes} if its unit is {unit}"


def _plain(value: Ratio) -> str:
    return f"{value:.3f}"
