"""The input files of a scenario, found without validating their contents."""

from __future__ import annotations

import hashlib
import os
import tomllib
from pathlib import Path

from fitcheck.model.given.scenario import InputFile

#: Keys of [boat] that name files, the mesh first.
BOAT_FILES = ("mesh", "rays", "stations")


def inputs_of(file: Path) -> tuple[InputFile, ...] | None:
    """A scenario file, those it uses, its mesh and its rays, as named by `read_scenario`.

    None where one of them cannot be read, because only reading it as a scenario tells what is
    wrong, or where there are further inputs.
    """
    if not file.is_file():  # reading from a pipe would block
        return None
    try:
        data = tomllib.loads(file.read_bytes().decode("utf-8-sig"))
        files = [file, *(file.parent / name for name in data.get("uses", ()))]
        if not all(one.is_file() for one in files):
            return None
        tables = [tomllib.loads(one.read_bytes().decode("utf-8-sig")) for one in files]
        home, boat = next(
            (one.parent, table["boat"])
            for one, table in zip(files, tables, strict=True)
            if "boat" in table
        )
        named = [boat["mesh"], *(boat[key] for key in BOAT_FILES[1:] if key in boat)]
        every = (*files, *(home / str(name) for name in named))
        found = tuple(InputFile(path=shown_path(one), sha256=digest(one)) for one in every)
        return found if are_whole(found) else None
    except (OSError, ValueError, KeyError, TypeError, AttributeError, StopIteration):
        return None
    except RecursionError:  # tables nested too deeply
        return None


def are_whole(inputs: tuple[InputFile, ...]) -> bool:
    """Whether these files are all the inputs: a glTF refers to further files."""
    return not any(one.path.lower().endswith(".gltf") for one in inputs)


def shown_path(path: Path) -> str:
    """A path relative to the current folder if it is below it, else absolute."""
    whole = os.path.abspath(path)
    try:
        short = os.path.relpath(whole)
    except ValueError:  # another drive
        return whole
    return whole if short.startswith(os.pardir) else short


def digest(path: Path) -> str:
    """SHA-256 of a file's bytes, in hexadecimal; OSError when it cannot be read."""
    if not path.is_file():
        raise FileNotFoundError(path)
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()
