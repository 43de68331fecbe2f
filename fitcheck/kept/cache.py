"""Cached calculations in the user's cache folder, under a key of everything they depend on.

FITCHECK_CACHE names another folder, or "off". At most LIMIT is kept; the least recently used goes
first. Failures here only cost time.
"""

from __future__ import annotations

import atexit
import hashlib
import os
import shutil
import tempfile
from collections.abc import Iterable
from contextlib import suppress
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from fitcheck.errors import FitcheckError
from fitcheck.writing import write_one

#: Maximum size [byte]: about twenty scenarios of the demo's size, with space and files.
LIMIT = 500_000_000
#: Libraries a result depends on.
SOURCES_OF_NUMBERS = ("numpy", "scipy", "networkx", "trimesh", "numba", "edt", "fluids", "gsw")
#: Value that disables the cache.
OFF = "off"


def key_of(kind: str, parts: Iterable[str]) -> str:
    """The key of something calculated from these parts by this version of the program."""
    digest = hashlib.sha256(_program().encode())
    for part in (kind, *parts):
        digest.update(len(part.encode()).to_bytes(8, "big") + part.encode())
    return f"{kind.replace(' ', '-')}-{digest.hexdigest()}"


def kept(key: str) -> bytes | None:
    """The content stored under that key, None if there is none."""
    folder = _folder()
    if folder is None:
        return None
    try:
        content = (folder / key).read_bytes()
        os.utime(folder / key)
    except OSError:
        return None
    return content


def keep(key: str, content: bytes) -> None:
    """Store something under a key, and evict the least recently used beyond the limit."""
    folder = _folder()
    if folder is None or len(content) > LIMIT:
        return
    with suppress(FitcheckError, OSError):
        write_one(folder / key, content)
        _shrink(folder)


def shelf(name: str) -> Path:
    """A folder for a cached item of several files, to be created by the caller.

    If the cache is off it belongs to this run and is deleted when the program ends.
    """
    folder = _folder()
    if folder is None:
        own = Path(tempfile.mkdtemp(prefix="fitcheck-"))
        atexit.register(shutil.rmtree, own, ignore_errors=True)
        return own / name
    folder.mkdir(parents=True, exist_ok=True)
    _shrink(folder)
    with suppress(OSError):
        os.utime(folder / name)
    return folder / name


def _shrink(folder: Path) -> None:
    rows = []
    for path in folder.iterdir():
        with suppress(OSError):
            rows.append((path.stat().st_mtime, _size(path), path))
    total = sum(size for _, size, _ in rows)
    for _, size, path in sorted(rows):
        if total <= LIMIT:
            break
        if path.is_dir():
            shutil.rmtree(path, ignore_errors=True)
        else:
            path.unlink(missing_ok=True)
        total -= size


def _size(path: Path) -> int:
    """Bytes of a file, or of all files in a folder."""
    every = path.rglob("*") if path.is_dir() else (path,)
    return sum(one.stat().st_size for one in every)


def _folder() -> Path | None:
    """The cache folder, None if the cache is off or there is no home."""
    named = os.environ.get("FITCHECK_CACHE", "")
    if named:
        return None if named == OFF else Path(named)
    base = os.environ.get("XDG_CACHE_HOME") or os.environ.get("LOCALAPPDATA")
    try:
        return (Path(base) if base else Path.home() / ".cache") / "fitcheck"
    except RuntimeError:
        return None


@cache
def _program() -> str:
    """A digest of the program's own files and of the versions of the numerical libraries.

    Results of another version of either are not opened.
    """
    package = Path(__file__).resolve().parent.parent
    digest = hashlib.sha256()
    for path in sorted(package.rglob("*.py")):
        digest.update(path.relative_to(package).as_posix().encode())
        digest.update(path.read_bytes())
    for name in SOURCES_OF_NUMBERS:
        with suppress(PackageNotFoundError):
            digest.update(f"{name} {version(name)}".encode())
    return digest.hexdigest()
