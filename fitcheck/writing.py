"""Write a file so that it is either complete or unchanged, whatever ends the program."""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path

from fitcheck.errors import FitcheckError

#: Names that are devices on Windows, with any ending: anything written there is lost.
DEVICES = frozenset(
    {"CON", "PRN", "AUX", "NUL", "CONIN$", "CONOUT$"}
    | {f"{port}{number}" for port in ("COM", "LPT") for number in "0123456789\u00b9\u00b2\u00b3"}
)


def write_one(path: Path, content: bytes) -> Path:
    """Write a file under a temporary name, then rename it into place; returns its path.

    Raises FitcheckError when it cannot be written; any existing file is then unchanged.
    """
    refuse_device(path)
    part = path.with_name(f".{path.name}.part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        try:
            write_through(part, content)
            os.replace(part, path)
        finally:
            with suppress(OSError):
                part.unlink()
    except OSError as error:
        raise FitcheckError(f"{path}: cannot be written: {error.strerror or error}") from error
    sync_folder(path.parent)
    return path


def write_through(path: Path, content: bytes) -> None:
    """Write a file and wait until it is on the disk, because a rename may be persisted earlier."""
    with path.open("wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())


def sync_folder(folder: Path) -> None:
    """Wait until the entries of a folder are on the disk, where the system supports that."""
    if os.name == "nt":
        return
    with suppress(OSError):  # some network drives do not
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def refuse_device(path: Path) -> None:
    """Raise FitcheckError for a path with a name that Windows reserves for a device.

    Refused on every system, because folders are passed on; an existing folder is not refused.
    """
    for place in (path, *path.parents):
        stem = place.name.split(".")[0].rstrip(" ").upper()
        if stem in DEVICES and not place.is_dir():
            raise FitcheckError(
                f"{path}: '{place.name}' is the name of a device on Windows and keeps no file; "
                "choose another name"
            )
