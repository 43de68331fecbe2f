"""One scenario file: its text, its values, their positions, and its faults."""

from __future__ import annotations

import hashlib
import re
import tomllib
from dataclasses import dataclass
from pathlib import Path as FilePath
from typing import Any

from fitcheck.errors import Fault
from fitcheck.kept.inputs import shown_path
from fitcheck.scenario.schema.lines import Path, Place, find_places
from fitcheck.scenario.schema.words import near

SECTIONS = ("boat", "kit", "layout")
#: Files that users pass where a scenario is expected.
MESHES = (".stl", ".obj", ".ply", ".glb", ".gltf", ".3mf", ".dae", ".step", ".stp")

_WHERE = re.compile(r"\s*\(at (?:line (\d+), column (\d+)|end of document)\)$")
_BARE_QUANTITY = re.compile(r"=\s*([-+]?[\d./]+(?: \d+/\d+)?\s*[A-Za-z%°\"'][^#\n]*?)\s*(?:#.*)?$")


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
        return [_syntax_fault(shown, text, str(error))]
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


def missing_file(path: FilePath) -> tuple[str, str]:
    """The fault and the remedy for a missing file."""
    if "\0" in str(path):
        return f"'{path}' has a character in it that no file name can have", "check the path"
    if path.is_dir():
        return f"'{shown_path(path)}' is a folder, not a file", "name a file in it"
    if not path.parent.is_dir():
        return f"there is no folder '{shown_path(path.parent)}'", "check the path"
    if path.exists():
        return f"'{shown_path(path)}' is no file but a pipe or a device", "name a file"
    names = sorted(entry.name for entry in path.parent.iterdir() if entry.is_file())
    close = near(path.name, names)
    hint = f"did you mean '{close}'?" if close else "check the path"
    return f"there is no file '{shown_path(path)}'", hint


def _content(path: FilePath, shown: str, asked: tuple[Document, Path] | None) -> bytes | Fault:
    try:
        if not path.is_file():
            raise FileNotFoundError(path)
        return path.read_bytes()
    except (FileNotFoundError, IsADirectoryError, NotADirectoryError):
        text, remedy = missing_file(path)
    except OSError as error:
        text, remedy = f"'{shown}' cannot be read: {error.strerror}", "check its permissions"
    if asked:
        return asked[0].fault(asked[1], text, remedy)
    return _fault(shown, 1, text, remedy)


def _fault(shown: str, line: int, text: str, remedy: str) -> Fault:
    return Fault(file=shown, line=line, key="(the whole file)", text=text, remedy=remedy)


def _syntax_fault(shown: str, text: str, said: str) -> Fault:
    """The TOML reader's message with its position and the likeliest cause."""
    found = _WHERE.search(said)
    lines = text.splitlines()
    line = int(found[1]) if found and found[1] else len(lines)
    column = f", column {found[2]}" if found and found[2] else ""
    said = _WHERE.sub("", said)
    here = lines[min(line, len(lines)) - 1]
    remedy = "see the example scenarios for how this is written"
    bare = _BARE_QUANTITY.search(here)
    if bare:
        value = bare[1].strip().strip('"')
        remedy = f'put quantities in quotes: {here[: bare.start() + 1].strip()} "{value}"'
    elif said.startswith("Cannot"):
        said, remedy = "a key or table is written twice", "keep one of them"
    return Fault(
        file=shown,
        line=line,
        key="(TOML)",
        text=f"is not TOML{column}: {said[0].lower()}{said[1:]}",
        remedy=remedy,
    )
