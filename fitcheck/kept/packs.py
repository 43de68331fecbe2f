"""A pack: one zip with every input file of a result, and the files of the result.

pack.json lists all of them with their SHA-256 and names the scenario. Inputs keep their relative
positions below inputs/, the files of the result are below result/. A pack may come from anybody:
only what it lists is unpacked, completely or not at all, below one folder.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import tomllib
import zipfile
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path, PurePosixPath
from typing import Any

from fitcheck.errors import FitcheckError
from fitcheck.kept.cache import shelf
from fitcheck.kept.inputs import BOAT_FILES, are_whole, digest, inputs_of
from fitcheck.model.given.scenario import InputFile
from fitcheck.writing import refuse_device

LIST = "pack.json"
FORMAT = 1
_PARTS = (("inputs",), ("result",))
#: Limits of a pack: files, and bytes unpacked.
MOST_FILES, MOST_BYTES = 500, 4_000_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Unpacked:
    """A pack as files: its scenario, and the folder with the files of its result."""

    scenario: Path
    result: Path


def packed_whole(inputs: tuple[InputFile, ...], files: Mapping[str, bytes]) -> bytes:
    """The bytes of a pack.

    inputs : as they were when the result was calculated, the scenario first
    files : of the result, by name. Raises FitcheckError where an input has changed, or refers to
    others by absolute paths.
    """
    if not are_whole(inputs):
        raise FitcheckError(f"{inputs[-1].path}: refers to files next to it; use GLB")
    names = _names(inputs)
    contents = {}
    for one, name in zip(inputs, names, strict=True):
        contents[name] = Path(one.path).read_bytes()
        if _sha256(contents[name]) != one.sha256:
            raise FitcheckError(f"{one.path}: has changed since; check the scenario again")
        _refuse_absolute(one.path, contents[name])
    contents |= {f"result/{name}": content for name, content in files.items()}
    listing = {
        "kind": "fitcheck pack",
        "format": FORMAT,
        "scenario": names[0],
        "inputs": [
            {"file": name, "was": one.path} for one, name in zip(inputs, names, strict=True)
        ],
        "files": [{"file": name, "sha256": _sha256(one)} for name, one in contents.items()],
    }
    whole = BytesIO()
    with zipfile.ZipFile(whole, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(LIST, json.dumps(listing, indent=1))
        for name, content in contents.items():
            archive.writestr(name, content)
    return whole.getvalue()


def _names(inputs: tuple[InputFile, ...]) -> tuple[str, ...]:
    """Names below inputs/ that keep the files' relative positions."""
    paths = [os.path.abspath(one.path) for one in inputs]
    try:
        above = Path(os.path.commonpath([os.path.dirname(path) for path in paths]))
    except ValueError as error:  # several drives
        raise FitcheckError("the files of the scenario lie on several drives") from error
    return tuple(f"inputs/{Path(path).relative_to(above).as_posix()}" for path in paths)


def _refuse_absolute(path: str, content: bytes) -> None:
    """Refuse a file with an absolute path, which would not exist on another computer."""
    with suppress(ValueError):
        data = tomllib.loads(content.decode("utf-8-sig"))
        boat = data.get("boat", {})
        named = [*data.get("uses", ()), *(boat.get(key, "") for key in BOAT_FILES)]
        for name in named:
            if os.path.isabs(name):
                raise FitcheckError(f"{path}: names {name}; write its path relative to this file")


def is_pack(path: Path) -> bool:
    """Whether a file is a pack; its contents are not checked."""
    if not path.is_file():  # reading from a pipe would block
        return False
    with suppress(OSError, zipfile.BadZipFile), zipfile.ZipFile(path) as archive:
        return LIST in archive.namelist()
    return False


def unpack(pack: Path, folder: Path | None = None) -> Unpacked:
    """Unpack into a folder, completely or not at all; existing files are left.

    folder : a cache folder by default. Raises FitcheckError for a pack that is invalid, damaged or
    names a place outside the folder.
    """
    try:
        with zipfile.ZipFile(pack) as archive:
            listing = json.loads(archive.read(_entry(archive, LIST)))
            scenario, listed = _listed(listing)
            where = folder or shelf(f"pack-{digest(pack)}")
            if not _as_listed(where, listed):
                _unpack(archive, listed, where, replace=folder is None)
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise FitcheckError(f"{pack}: cannot be opened as a pack ({error})") from error
    except (zipfile.BadZipFile, NotImplementedError, RuntimeError) as error:
        raise FitcheckError(f"{pack}: is damaged, or no pack ({error})") from error
    found = Unpacked(scenario=where / scenario, result=where / "result")
    inside = {(where / name).resolve() for name in listed}
    inputs = inputs_of(found.scenario)
    if inputs is None or not {Path(one.path).resolve() for one in inputs} <= inside:
        raise FitcheckError(f"{pack}: its scenario takes files that are not in it")
    return found


def _listed(listing: Any) -> tuple[str, dict[str, str]]:
    """The scenario's name, and the digest of every file by its name."""
    if listing["kind"] != "fitcheck pack" or listing["format"] != FORMAT:
        raise ValueError("it is of another version")
    listed = {str(row["file"]): str(row["sha256"]) for row in listing["files"]}
    if len(listed) > MOST_FILES:
        raise ValueError("it holds too many files")
    for name in listed:
        plain = PurePosixPath(name)
        bad = plain.is_absolute() or ".." in plain.parts or plain.as_posix() != name
        if bad or set(name) & set('\\:*?"<>|\0') or plain.parts[:1] not in _PARTS:
            raise ValueError(f"{name!r} is no place in it")
        refuse_device(Path(name))
    if listing["scenario"] not in listed:
        raise ValueError("its scenario is not in it")
    return str(listing["scenario"]), listed


def _entry(archive: zipfile.ZipFile, name: str) -> zipfile.ZipInfo:
    """An entry that may be read into memory."""
    entry = archive.getinfo(name)
    if entry.file_size > MOST_BYTES:
        raise ValueError(f"{name} is too large")
    return entry


def _unpack(
    archive: zipfile.ZipFile, listed: Mapping[str, str], folder: Path, *, replace: bool
) -> None:
    if sum(_entry(archive, name).file_size for name in listed) > MOST_BYTES:
        raise ValueError("it is too large")
    if folder.exists() and not replace:
        raise ValueError(f"{folder} is there already and holds other files; move it away")
    part = folder.with_name(f".{folder.name}.part-{os.getpid()}")
    try:
        for name, sha256 in listed.items():
            content = archive.read(_entry(archive, name))
            if _sha256(content) != sha256:
                raise ValueError(f"{name} is not as it was packed")
            (part / name).parent.mkdir(parents=True, exist_ok=True)
            (part / name).write_bytes(content)
        if folder.exists():
            shutil.rmtree(folder)
        os.replace(part, folder)
    finally:
        shutil.rmtree(part, ignore_errors=True)


def _as_listed(folder: Path, listed: Mapping[str, str]) -> bool:
    """Whether every file of a pack is present as it was packed."""
    try:
        return all(digest(folder / name) == sha256 for name, sha256 in listed.items())
    except OSError:
        return False


def _sha256(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()
