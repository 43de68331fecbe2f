"""One scenario file: its text, its values, their positions, and its faults."""

from __future__ import annotations

import glob
import hashlib
import os
import re
import tomllib
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path as FilePath
from typing import Any

from fitcheck.errors import Fault
from fitcheck.kept.inputs import shown_path
from fitcheck.scenario.schema.lines import Path, Place, find_places
from fitcheck.scenario.schema.words import near
from fitcheck.scenario.syntax import find_mistake

SECTIONS = ("boat", "kit", "layout")
#: Files that users pass where a scenario is expected.
MESHES = (".stl", ".obj", ".ply", ".glb", ".gltf", ".3mf", ".dae", ".step", ".stp")


@dataclass(frozen=True, slots=True)
class Document:
    """A file that was read as TOML; `shown` is its name as the user would recognise it."""

    shown: str
    folder: FilePath
    data: dict[str, Any]
    places: dict[Path, Place]
    sha256: str

    def line(self, path: Path) -> int:
        """Line of a key, or of the nearest enclosing table in this file."""
        for length in range(len(path), 0, -1):
            if path[:length] in self.places:
                return self.places[path[:length]].line
        return 1

    def is_implied(self, path: Path, below: Iterable[str]) -> bool:
        """Whether a table with these keys is there only because of the header of one of them."""
        place = self.places.get(path)
        return place is not None and any(self.places.get((*path, key)) == place for key in below)

    def fault(self, path: Path, text: str, remedy: str) -> Fault:
        """A fault at a key of this file."""
        return Fault(
            file=self.shown,
            line=self.line(path),
            key=key_text(path),
            text=text,
            remedy=remedy,
        )


def key_text(path: Path) -> str:
    """A key path for people: "kit.modules.pump.size, item 2" (items count from 1)."""
    text = ""
    for step in path:
        if isinstance(step, int):
            text += f", item {step + 1}"
        elif text:
            text += f", {step}" if re.search(r", item \d+$", text) else f".{step}"
        else:
            text = step
    return text or "(the whole file)"


def read_document(path: FilePath, asked: tuple[Document, Path] | None) -> Document | list[Fault]:
    """Read one file; if it cannot be read, the faults are returned instead.

    asked : the document and key that name this file, None for the file the user gave
    """
    shown = shown_path(path)
    content = _content(path, shown, asked)
    if isinstance(content, Fault):
        return [content]
    if b"\0" in content and path.suffix.lower() not in MESHES:
        said = "is not UTF-8 text but UTF-16, which some editors call Unicode"
        return [_fault(shown, 1, said, _save_as_text(path))]
    try:
        text = content.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        return [_fault(shown, line, "is not UTF-8 text", _save_as_text(path))]
    if not text.strip():
        remedy = 'write tables such as [boat], or `uses = ["boat.toml", "kit.toml"]`'
        return [_fault(shown, 1, "the file is empty", remedy)]
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        if path.suffix.lower() in MESHES:
            return [_fault(shown, 1, "is not a scenario", _save_as_text(path))]
        found = find_mistake(text, str(error))
        said = f"is not TOML: {found.text}"
        return [Fault(file=shown, line=found.line, key="(TOML)", text=said, remedy=found.remedy)]
    except ValueError:  # more digits than an int conversion allows
        return [_fault(shown, 1, "holds a number of thousands of digits", "write a shorter one")]
    except RecursionError:
        return [_fault(shown, 1, "lists or tables are nested too deeply", "flatten them")]
    return Document(
        shown=shown,
        folder=path.parent,
        data=data,
        places=find_places(text),
        sha256=hashlib.sha256(content).hexdigest(),
    )


def _save_as_text(path: FilePath) -> str:
    if path.suffix.lower() in MESHES:
        return (
            "give a scenario file that names this mesh; "
            f'"fitcheck scan {path.name} --write {path.stem}.toml" writes one'
        )
    return "save the file as UTF-8"


def missing_file(path: FilePath, base: FilePath) -> tuple[str, str]:
    """The fault and the remedy for a missing file.

    base : the folder that the path is relative to
    """
    if not all(sign.isprintable() for sign in str(path)):
        said = f"'{path}' has a character in it that no file name can have"
        return said, "check the path, and write / in it where it has a backslash"
    if path.is_dir():
        return f"'{shown_path(path)}' is a folder, not a file", "name a file in it"
    there = path.parent.is_dir()
    if there and path.exists():
        return f"'{shown_path(path)}' is no file but a pipe or a device", "name a file"
    said = f"there is no file '{shown_path(path)}'"
    if not there:
        said = f"there is no folder '{shown_path(path.parent)}'"
    found = _nearby(FilePath(str(path).replace("\\", "/")), base)
    found = found or (_beside(path) if there else None)
    here = base == FilePath()
    if found is None:
        of = "the current folder" if here else f"'{shown_path(base)}'"
        return said, f"check the path, which starts from {of}"
    close = shown_path(found) if here else os.path.relpath(found, base).replace(os.sep, "/")
    return said, f"did you mean '{close}'?"


def _beside(path: FilePath) -> FilePath | None:
    """The file in the same folder that was probably meant: same suffix or same stem."""
    names = [
        entry.name
        for entry in sorted(path.parent.iterdir())
        if entry.is_file() and (entry.suffix == path.suffix or entry.stem in path.name)
    ]
    alike = [name for name in names if FilePath(name).stem == path.name]
    close = alike[0] if len(alike) == 1 else near(path.name, names)
    return None if close is None else path.parent / close


def _nearby(path: FilePath, base: FilePath) -> FilePath | None:
    """A file of that name in the base folder, in its parent or in a subfolder of either."""
    whole = FilePath(os.path.abspath(base))
    name = glob.escape(path.name)
    for place in (path.parent, whole, whole.parent):
        for pattern in (name, f"*/{name}"):
            with suppress(OSError):
                for found in sorted(place.glob(pattern)):
                    if found.is_file():
                        return found
    return None


def _content(path: FilePath, shown: str, asked: tuple[Document, Path] | None) -> bytes | Fault:
    try:
        if not path.is_file():
            raise FileNotFoundError(path)
        return path.read_bytes()
    except (FileNotFoundError, IsADirectoryError, NotADirectoryError):
        text, remedy = missing_file(path, asked[0].folder if asked else FilePath())
    except OSError as error:
        text, remedy = f"'{shown}' cannot be read: {error.strerror}", "check its permissions"
    if asked:
        return asked[0].fault(asked[1], text, remedy)
    return _fault(shown, 1, text, remedy)


def _fault(shown: str, line: int, text: str, remedy: str) -> Fault:
    return Fault(file=shown, line=line, key="(the whole file)", text=text, remedy=remedy)
