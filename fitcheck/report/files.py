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
from pathlib import Path
from typing import Literal

from fitcheck.errors import FitcheckError

_MAKING, _READY, _LOCK = ".fitcheck-new", ".fitcheck-ready", ".fitcheck-lock"


def replace_all(folder: Path, contents: Mapping[str, bytes]) -> tuple[Path, ...]:
    """Put every named content into the folder, all of them or none.

    Files that the set before listed and this one lacks are removed. A second run waits its turn.
    Raises FitcheckError when the folder cannot be written; what was there is then untouched.
    """
    making = folder / _MAKING
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with _alone(folder):
            _move_ready(folder)
            try:
                shutil.rmtree(making, ignore_errors=True)  # a run that was killed
                making.mkdir()
                for name, content in _sealed(contents).items():
                    (making / name).write_bytes(content)
                os.replace(making, folder / _READY)
            finally:
                shutil.rmtree(making, ignore_errors=True)
            _move_ready(folder)
    except OSError as error:
        raise FitcheckError(f"{folder}: cannot be written: {error.strerror or error}") from error
    return tuple(folder / name for name in contents)


def set_state(folder: Path, manifest: str = "result.json") -> Literal["whole", "mixed", "none"]:
    """Whether the files beside `manifest` are those it lists; a killed run is finished first.

    "none" where there is no manifest, or one that lists no files.
    """
    if not folder.is_dir():
        return "none"
    with suppress(OSError), _alone(folder):
        _move_ready(folder)
    listed = _listed(folder / manifest)
    if not listed:
        return "none"
    whole = all(
        (folder / name).is_file()
        and hashlib.sha256((folder / name).read_bytes()).hexdigest() == digest
        for name, digest in listed.items()
    )
    return "whole" if whole else "mixed"


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
