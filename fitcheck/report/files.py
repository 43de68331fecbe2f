"""Write the files of a result as one set: whatever happens, either the old set or the new one is
complete.

The new files are created in a folder of their own inside the target. Renaming that folder commits
the new set: whoever next opens the target moves the files that have not been moved yet. The JSON
file of the set lists the others with their SHA-256 and is moved last, so that a partly moved set,
or a file edited since, is detected.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from fitcheck.errors import FitcheckError
from fitcheck.writing import refuse_device, sync_folder, write_through

_MAKING, _READY, _LOCK = ".fitcheck-new", ".fitcheck-ready", ".fitcheck-lock"


def replace_all(folder: Path, contents: Mapping[str, bytes]) -> tuple[Path, ...]:
    """Put every named content into the folder, all of them or none.

    Files listed by the previous set but not in this one are removed. A second run waits its turn.
    Raises FitcheckError when the folder cannot be written; its contents are then unchanged.
    """
    making = folder / _MAKING
    refuse_device(folder)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with _alone(folder):
            _move_ready(folder)
            try:
                shutil.rmtree(making, ignore_errors=True)  # from a run that was killed
                making.mkdir()
                for name, content in _sealed(contents).items():
                    write_through(making / name, content)
                sync_folder(making)
                os.replace(making, folder / _READY)
                sync_folder(folder)
            finally:
                shutil.rmtree(making, ignore_errors=True)
            _move_ready(folder)
    except OSError as error:
        raise FitcheckError(f"{folder}: cannot be written: {error.strerror or error}") from error
    return tuple(folder / name for name in contents)


State = Literal["whole", "mixed", "unfinished", "none"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FileSet:
    """The state of a manifest and its files.

    state : whole; mixed: not the files it lists; unfinished: a newer set could not be moved
    missing, changed : listed files that are missing, or not as they were written
    count : files that belong together, including the manifest
    finished : a run had been stopped while it moved its files, and the rest has been moved now
    given_up : a later run was stopped before its set was complete; nothing of it counts
    """

    manifest: Path
    state: State
    count: int
    missing: tuple[str, ...] = ()
    changed: tuple[str, ...] = ()
    finished: bool = False
    given_up: bool = False


def file_sets(folder: Path) -> tuple[FileSet, ...]:
    """Every set of files in a folder, by manifest; an interrupted run is completed first.

    Waits for a run that is writing there.
    """
    if not folder.is_dir():
        return ()
    finished = given_up = False
    with suppress(OSError), _alone(folder):
        left = (folder / _READY).is_dir()
        given_up = (folder / _MAKING).is_dir()
        _move_ready(folder)
        finished = left
    stuck = (folder / _READY).is_dir()
    found = []
    for manifest in sorted(folder.glob("*.json")):
        listed = _listed(manifest)
        if not listed:
            continue
        missing = tuple(name for name in listed if not (folder / name).is_file())
        there = {name: digest for name, digest in listed.items() if name not in missing}
        changed = tuple(name for name, digest in there.items() if _digest(folder / name) != digest)
        state: State = "unfinished" if stuck else "mixed" if missing or changed else "whole"
        found.append(
            FileSet(
                manifest=manifest,
                state=state,
                count=len(listed) + 1,
                missing=missing,
                changed=changed,
                finished=finished,
                given_up=given_up,
            )
        )
    return tuple(found)


def set_state(folder: Path, manifest: str = "result.json") -> State:
    """The state of the set of one manifest; "none" if there is none."""
    return next((one.state for one in file_sets(folder) if one.manifest.name == manifest), "none")


def _digest(path: Path) -> str:
    """SHA-256 of a file, "" where it cannot be read."""
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError:
        return ""


def _sealed(contents: Mapping[str, bytes]) -> dict[str, bytes]:
    """The contents, with the others and their digests listed as the last key of their
    JSON object.
    """
    rows = [
        {"file": name, "sha256": hashlib.sha256(content).hexdigest()}
        for name, content in contents.items()
        if not name.endswith(".json")
    ]
    listing = f',\n "files": {json.dumps(rows)}\n}}\n'.encode()
    return {
        name: content.rstrip().removesuffix(b"}").rstrip() + listing
        if name.endswith(".json")
        else content
        for name, content in contents.items()
    }


def _listed(manifest: Path) -> dict[str, str]:
    """File names and digests listed in a manifest; names in other folders are left out."""
    try:
        rows = json.loads(manifest.read_bytes())["files"]
        named = {str(row["file"]): str(row["sha256"]) for row in rows}
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return {}
    return {name: digest for name, digest in named.items() if Path(name).name == name}


def _move_ready(folder: Path) -> None:
    """Move a finished set into place, its manifest last; can be interrupted and resumed."""
    ready = folder / _READY
    if not ready.is_dir():
        return
    moved = sorted(ready.iterdir(), key=lambda path: path.suffix == ".json")
    for path in moved:
        if path.suffix == ".json":
            for name in _listed(folder / path.name).keys() - _listed(path).keys():
                (folder / name).unlink(missing_ok=True)
        os.replace(path, folder / path.name)
    sync_folder(folder)
    ready.rmdir()


@contextmanager
def _alone(folder: Path) -> Iterator[None]:
    """Lock the folder against other runs; the system releases the lock whenever a process ends."""
    if sys.platform == "win32":
        import msvcrt

        handle = os.open(folder / _LOCK, os.O_RDWR | os.O_CREAT)
        try:
            msvcrt.locking(handle, msvcrt.LK_LOCK, 1)
            yield
        finally:
            os.close(handle)
            with suppress(OSError):
                (folder / _LOCK).unlink()
    else:
        import fcntl

        handle = os.open(folder, os.O_RDONLY)
        try:
            with suppress(OSError):  # some network drives do not support locks
                fcntl.flock(handle, fcntl.LOCK_EX)
            yield
        finally:
            os.close(handle)
