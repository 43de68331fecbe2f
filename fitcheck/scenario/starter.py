"""A commented starter scenario for an existing mesh."""

from __future__ import annotations

import os
import re
import textwrap
from importlib import resources
from pathlib import Path as FilePath

from fitcheck.model.found.scan import Numbers, Preview, ScanLook
from fitcheck.units import Ratio, mesh_unit_name


def starter(
    mesh_path: FilePath | str,
    look: ScanLook,
    told: tuple[str, ...] = (),
    folder: FilePath | str = ".",
) -> str:
    """The text of a scenario for a mesh; what only the user knows is marked FILL IN.

    told : the results of the preview, in words
    folder : where the file will be written, so that it finds the mesh
    """
    low, high = look.bounds
    words = {
        "mesh_name": _as_toml(FilePath(mesh_path).name),
        "mesh": _as_toml(_from_folder(FilePath(mesh_path), FilePath(folder))),
        "middle": _inside(look.preview, low, high),
        "told": _comments(told),
        "unit": _unit_line(look),
        "eyes": _eyes(look.preview),
    }
    for axis, start, end in zip("xyz", low, high, strict=True):
        words[axis] = f"{_plain(start)} and {_plain(end)}"
    text = resources.files("fitcheck.scenario").joinpath("starter.toml").read_text("utf-8")
    return re.sub(r"@(\w+)@", lambda found: words[found[1]], text)


def _inside(seen: Preview | None, low: Numbers, high: Numbers) -> str:
    if seen is not None:
        return f"offered: {_picked(seen.inside)}"
    middle = " ".join(_plain((a + b) / 2) for a, b in zip(low, high, strict=True))
    return f"if the middle of the mesh is, picked {middle}"


def _unit_line(look: ScanLook) -> str:
    name = "" if look.unit is None else mesh_unit_name(look.unit)
    if name:
        said = "from the file" if look.unit_from == "file" else "from --unit"
        return f'unit = "{name}" # {said}'
    return (
        'unit = "FILL IN: m, cm, mm, in or ft, or delete this key when two tape measurements are '
        'given"'
    )


def _comments(sentences: tuple[str, ...]) -> str:
    """Sentences as comment lines."""
    lines = ["# Results of the scan check:"] if sentences else []
    for sentence in sentences:
        lines += textwrap.wrap(sentence, 96, initial_indent="#   ", subsequent_indent="#     ")
    return "".join(f"{line}\n" for line in lines)


def _eyes(seen: Preview | None) -> str:
    """Viewpoints to fill in, with suggestions as comments."""
    if seen is not None and seen.stations:
        return "# viewpoints are left out: the file gives the scanner positions.\n"
    lines = []
    if seen is not None and seen.eyes:
        lines = ["# Suggestions: use only those where the scanner really was."]
        lines += [f'#   "{_picked(eye)}",' for eye in seen.eyes]
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
    """The mesh's path relative to a folder; an absolute one is unchanged."""
    path = mesh if mesh.is_absolute() else FilePath(os.path.relpath(mesh, folder))
    return path.as_posix()


def _as_toml(text: str) -> str:
    """Text escaped for double quotes."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return "".join(c if c.isprintable() else f"\\U{ord(c):08x}" for c in escaped)


def _plain(value: Ratio) -> str:
    return f"{value:.3f}"
