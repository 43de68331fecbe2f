"""Writes the files of a result as one set: after any end, the earlier set or the new one, whole.

The new files are made in a folder of their own inside the target. Renaming that folder is the
moment at which the new set counts: whoever next opens the target moves what is still to be moved.
The JSON file of the set lists the others with their SHA-256 and is moved last, so that a reader
who comes in between, or a file edited since, shows.
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

    Files that the set before listed and this one lacks are removed. A second run waits its turn.
    Raises FitcheckError when the folder cannot be written; what was there is then untouched.
    """
    making = folder / _MAKING
    refuse_device(folder)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with _alone(folder):
            _move_ready(folder)
            try:
                shutil.rmtree(making, ignore_errors=True)  # a run that was killed
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
    """What stands beside a manifest.

    state    : whole; mixed: not the files it lists; unfinished: a newer set could not be moved
    missing, changed : listed files that are not there, or not as they were written
    count    : files that belong together, the manifest among them
    finished : a run had been stopped while it moved its files, and the rest is moved now
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
    """Every set of files in a folder, by manifest; a run that was killed is finished first.

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
    """The state of the set of one manifest; "none" where there is none."""
    return next((one.state for one in file_sets(folder) if one.manifest.name == manifest), "none")


def _digest(path: Path) -> str:
    """SHA-256 of a file, "" where it cannot be read."""
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError:
        return ""


def _sealed(contents: Mapping[str, bytes]) -> dict[str, bytes]:
    """The contents, their JSON object listing the others with digests as its last key."""
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
    """File names and digests that a manifest lists; names of other folders are left out."""
    try:
        rows = json.loads(manifest.read_bytes())["files"]
        named = {str(row["file"]): str(row["sha256"]) for row in rows}
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return {}
    return {name: digest for name, digest in named.items() if Path(name).name == name}


def _move_ready(folder: Path) -> None:
    """Move a finished set into place, its manifest last; may be stopped and taken up again."""
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
    """Hold the folder against other runs; the system lets go when a process ends, however."""
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
            with suppress(OSError):  # some shared disks know no locks
                fcntl.flock(handle, fcntl.LOCK_EX)
            yield
        finally:
            os.close(handle)
