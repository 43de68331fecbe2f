"""Compiled kernels are kept only while all that is compiled into them is as it was.

numba keeps a compiled kernel beside its source and compiles it anew when that file changes. It
does not when a kernel or a constant changes that the kernel takes from another file: the old one
goes on being used, mended or not. So whatever was compiled before the newest of all the files it
draws on is thrown away when the package is first imported, before any kernel is loaded.
"""

from __future__ import annotations

import atexit
import os
import re
import shutil
import tempfile
from collections.abc import Iterator
from functools import cache
from pathlib import Path

_IMPORT = re.compile(r"^from (fitcheck[\w.]*) import (\([^)]*\)|[^\n]*)", re.MULTILINE)
_CONSTANT = re.compile(r"\b_?[A-Z][A-Z0-9_]+\b")


def drop_stale(package: Path) -> tuple[Path, ...]:
    """Delete and return the index of every compiled kernel older than what it draws on.

    package : folder of the package; a folder that may not be written is left alone
    """
    kept = _Sources(package)
    dropped = []
    for index in sorted(package.rglob("__pycache__/*.nbi")):
        module = index.parent.parent / f"{index.name.split('.')[0]}.py"
        try:
            if module.exists() and index.stat().st_mtime < kept.newest(module):
                index.unlink()
                dropped.append(index)
        except OSError:
            continue
    return tuple(dropped)


def keep_elsewhere(package: Path) -> Path | None:
    """Give numba a folder of this run's own if it can keep kernels nowhere; return that folder.

    numba refuses to compile a kernel it is asked to keep and cannot. The folder is deleted when
    this process ends: kernels are compiled again by the next, and no other user can plant one.
    Where no such folder can be made either, kernels are compiled in memory and not kept.

    package : folder of the package, asked before anything imports numba
    """
    homes = [folder.parent / "__pycache__" for folder in package.rglob("__init__.py")]
    if os.environ.get("NUMBA_CACHE_DIR") or all(_takes_files(home) for home in homes):
        return None
    if (user := _user_cache()) is not None and _takes_files(user):
        return None  # numba keeps kernels there by itself
    try:
        folder = Path(tempfile.mkdtemp(prefix="fitcheck-kernels-"))
    except OSError:
        _keep_nowhere()
        return None
    os.environ["NUMBA_CACHE_DIR"] = str(folder)
    atexit.register(_remove, folder, os.getpid())
    return folder


def _keep_nowhere() -> None:
    """Let kernels that ask to be kept be compiled all the same."""
    # Heavy, and wanted before any kernel is defined; it is the compilation that takes the time.
    from numba.core.dispatcher import Dispatcher

    setattr(Dispatcher, "enable_caching", lambda _: None)  # noqa: B010


def _user_cache() -> Path | None:
    """Where a user's programs keep what can be made again, None without a home."""
    named = os.environ.get("XDG_CACHE_HOME") or os.environ.get("LOCALAPPDATA")
    try:
        return Path(named) if named else Path.home() / ".cache"
    except RuntimeError:
        return None


def _takes_files(folder: Path) -> bool:
    """Whether a file can be made there; permissions alone do not tell."""
    try:
        folder.mkdir(exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            return True
    except OSError:
        return False


def _remove(folder: Path, owner: int) -> None:
    """Delete the folder when the process that made it ends, not when a fork of it does."""
    if os.getpid() == owner:
        shutil.rmtree(folder, ignore_errors=True)


class _Sources:
    """When the files of a package, with all that is compiled into their kernels, were changed."""

    def __init__(self, package: Path) -> None:
        self._package = package
        self._text = cache(lambda path: path.read_text(encoding="utf-8"))
        self.newest = cache(self._newest)

    def _newest(self, module: Path) -> float:
        """Time of the last change of a file or of any it draws on, directly or not."""
        known, waiting = {module}, [module]
        while waiting:
            fresh = set(self._drawn_on(waiting.pop())) - known
            known |= fresh
            waiting += fresh
        return max(path.stat().st_mtime for path in known)

    def _drawn_on(self, module: Path) -> Iterator[Path]:
        """Files with kernels, and those with constants, that a file imports from."""
        for dotted, names in _IMPORT.findall(self._text(module)):
            path = self._package.joinpath(*dotted.split(".")[1:]).with_suffix(".py")
            if path.is_file() and (_CONSTANT.search(names) or "njit" in self._text(path)):
                yield path
