"""Compiled kernels, cached between runs until anything compiled into them changes.

numba caches a compiled kernel under the hash of its source file, but inlines kernels and constants
of other files without checking whether those have changed. Here the hash covers all of them.
"""

from __future__ import annotations

import atexit
import hashlib
import os
import shutil
import sys
import tempfile
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numba import config, njit
from numba.core.caching import CacheImpl, _CacheLocator
from numba.core.dispatcher import Dispatcher

PACKAGE = Path(__file__).parent
#: Every kernel of the loaded modules.
_KERNELS: list[Any] = []
#: Types a kernel may import from a file as a constant.
_PLAIN = (bool, int, float, complex, str, tuple)


def kernel(function: Any = None, /, **options: Any) -> Any:
    """Compile a function on its first call, and cache it if possible.

    options : as for numba.njit
    """
    if function is None:
        return lambda later: kernel(later, **options)
    options["no_cfunc_wrapper"] = True  # no kernel is passed to another as a value
    made = njit(cache=home_of(Path(function.__code__.co_filename)) is not None, **options)(
        function
    )
    _KERNELS.append(made)
    return made


def compiled() -> tuple[int, int]:
    """Number of compiled kernels of the loaded modules, here or by an earlier run, and their
    total.

    A run needs most of them, never all.
    """
    return sum(map(_is_compiled, _KERNELS)), len(_KERNELS)


def _is_compiled(made: Any) -> bool:
    kept = getattr(made._cache, "_cache_file", None)
    return bool(made.signatures) or (kept is not None and bool(kept._load_index()))


@cache
def home_of(file: Path) -> Path | None:
    """Where kernels of a file are cached; None if nothing can be cached.

    That is the folder in NUMBA_CACHE_DIR, else beside the source, else the user's cache. If none
    of these can be written, a folder of this run's own, so that no other user can plant a kernel.
    """
    name = hashlib.sha256(str(file.parent).encode()).hexdigest()[:16]
    named = Path(config.CACHE_DIR) / name if config.CACHE_DIR else None
    places: tuple[Callable[[], Path | None], ...] = (
        lambda: named,
        lambda: file.parent / "__pycache__",
        lambda: user / "fitcheck-kernels" / name if (user := _user_cache()) else None,
        lambda: run / name if (run := _of_this_run()) else None,
    )
    return next((home for place in places if (home := place()) and _takes_files(home)), None)


@cache
def _of_this_run() -> Path | None:
    """A folder that is deleted when this process ends."""
    try:
        folder = Path(tempfile.mkdtemp(prefix="fitcheck-kernels-"))
    except OSError:
        return None
    atexit.register(_remove, folder, os.getpid())
    return folder


def _user_cache() -> Path | None:
    """The cache folder of the user, None without a home."""
    named = os.environ.get("XDG_CACHE_HOME") or os.environ.get("LOCALAPPDATA")
    try:
        return Path(named) if named else Path.home() / ".cache"
    except RuntimeError:
        return None


def _takes_files(folder: Path) -> bool:
    """Whether a file can be created there; permissions alone do not show that."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            return True
    except OSError:
        return False


def _remove(folder: Path, owner: int) -> None:
    """Delete the folder when the process that created it ends, but not when a fork of it does."""
    if os.getpid() == owner:
        shutil.rmtree(folder, ignore_errors=True)


@cache
def stamp(module: str) -> str:
    """Hash of a module's source and of the kernels and constants it imports from other modules.

    First called for the module's first kernel, when all its imports are done.
    """
    given = vars(sys.modules[module])
    whole = hashlib.sha256(Path(given["__file__"]).read_bytes())
    for name, value in sorted(given.items()):
        if isinstance(value, Dispatcher) and value.py_func.__module__ != module:
            whole.update(f"{name} {stamp(value.py_func.__module__)}".encode())
        elif isinstance(value, np.ndarray):
            whole.update(f"{name} {value.dtype} {value.shape}".encode() + value.tobytes())
        elif isinstance(value, _PLAIN) and not name.startswith("__"):
            whole.update(f"{name} {value!r}".encode())
    return whole.hexdigest()


class _Locator(_CacheLocator):
    """Tells numba where a kernel of this package is cached and what it depends on."""

    def __init__(self, function: Any, home: Path) -> None:
        self._function, self._home = function, home

    def get_cache_path(self) -> str:
        """Folder of the kernel."""
        return str(self._home)

    def get_source_stamp(self) -> str:
        """The key; the kernel is discarded when it changes."""
        return stamp(self._function.__module__)

    def get_disambiguator(self) -> str:
        """Distinguishes kernels of the same name in one file."""
        return str(self._function.__code__.co_firstlineno)

    @classmethod
    def from_function(cls, py_func: Any, py_file: str) -> _Locator | None:
        """The locator of a kernel of this package, None for anything else."""
        home = home_of(Path(py_file)) if PACKAGE in Path(py_file).parents else None
        return cls(py_func, home) if home else None


CacheImpl._locator_classes.insert(0, _Locator)
