"""Writes the files of a result, all of them or none."""

from __future__ import annotations

import os
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path

from fitcheck.errors import FitcheckError


def replace_all(folder: Path, contents: Mapping[str, bytes]) -> tuple[Path, ...]:
    """Put every named content into the folder: written beside its place first, renamed last.

    Raises FitcheckError when the folder cannot be written; what was there is then untouched.
    """
    parts = {folder / name: folder / f".{name}.part" for name in contents}
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for path, part in parts.items():
            part.write_bytes(contents[path.name])
        for path, part in parts.items():
            os.replace(part, path)
    except OSError as error:
        raise FitcheckError(f"{folder}: cannot be written: {error.strerror or error}") from error
    finally:
        for part in parts.values():
            with suppress(OSError):
                part.unlink(missing_ok=True)
    return tuple(parts)
