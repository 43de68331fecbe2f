"""The program starts on a read-only system, under a memory limit, on a slow machine."""

import os
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import pytest

import fitcheck
from fitcheck.errors import MeshError
from fitcheck.meshfiles import apart
from fitcheck.meshfiles.foreign import MEMORY, SECONDS, limits
from fitcheck.view.pictures.probe import find_renderer

KERNEL = """
import os
from pathlib import Path
from fitcheck.geometry import raster
from fitcheck.kernels import home_of
kept = home_of(Path(raster.__file__))
assert os.path.isdir(kept)
print(kept)
"""

IN_MEMORY = """
import os
import numpy as np
from fitcheck.geometry.grid import Grid
from fitcheck.geometry.raster import touched_cells
from fitcheck.kernels import compiled
assert compiled()[0] == 0
grid = Grid(origin=(0.0, 0.0, 0.0), pitch=1.0, shape=(4, 4, 4))
flat = np.array([[[0.5, 0.5, 1.5], [1.5, 0.5, 1.5], [0.5, 1.5, 1.5]]])
print(int(touched_cells(flat, grid).sum()))
"""


def test_kernels_compile_with_a_read_only_package_and_home(
    tmp_path: Path,
) -> None:
    """A file named __pycache__ stops writing even for a superuser."""
    package = tmp_path / "fitcheck"
    shutil.copytree(
        Path(fitcheck.__file__).parent, package, ignore=shutil.ignore_patterns("__pycache__")
    )
    for start in package.rglob("__init__.py"):
        (start.parent / "__pycache__").touch()
    gone = ("HOME", "NUMBA_CACHE_DIR")
    bare = {name: value for name, value in os.environ.items() if name not in gone}
    bare |= {"HOME": "/dev/null/none", "XDG_CACHE_HOME": "/dev/null/none"}
    bare |= {"PYTHONPATH": str(tmp_path)}
    ran = subprocess.run(
        [sys.executable, "-c", KERNEL], cwd=tmp_path, env=bare, capture_output=True, text=True
    )
    assert ran.returncode == 0, ran.stderr
    assert not Path(ran.stdout.strip()).exists()


def test_kernels_compile_in_memory_on_a_read_only_system(tmp_path: Path) -> None:
    package = tmp_path / "fitcheck"
    shutil.copytree(
        Path(fitcheck.__file__).parent, package, ignore=shutil.ignore_patterns("__pycache__")
    )
    for start in package.rglob("__init__.py"):
        (start.parent / "__pycache__").touch()
    # What the system returns when neither TMPDIR nor its usual places can be written.
    nowhere = "import tempfile; tempfile._candidate_tempdir_list = lambda: ['/dev/null/none']\n"
    bare = {name: value for name, value in os.environ.items() if name != "NUMBA_CACHE_DIR"}
    bare |= {"HOME": "/dev/null/none", "XDG_CACHE_HOME": "/dev/null/none"}
    bare |= {"PYTHONPATH": str(tmp_path), "TMPDIR": "/dev/null/none"}
    ran = subprocess.run(
        [sys.executable, "-c", nowhere + IN_MEMORY],
        cwd=tmp_path,
        env=bare,
        capture_output=True,
        text=True,
    )
    assert ran.returncode == 0, ran.stderr
    assert ran.stdout.strip() == "4"


def test_limits_of_a_reader_grow_with_the_file() -> None:
    small, large = limits(7_000), limits(1_000_000_000)
    assert small[0] <= MEMORY / 2 + 10_000_000
    assert small[1] <= SECONDS / 10
    assert large == (MEMORY, SECONDS)


def test_a_hanging_reader_is_stopped_and_reported(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "endless.step"
    file.write_text("ISO-10303-21;\n")
    script = tmp_path / "endless.py"
    script.write_text("import time; time.sleep(60)")
    monkeypatch.setattr(apart.foreign, "__file__", str(script))
    monkeypatch.setattr(apart.foreign, "limits", lambda _: (10**9, 1))
    with pytest.raises(MeshError, match="was not read within 2 s"):
        apart.read_step(file, "endless.step")


@pytest.mark.skipif(not hasattr(signal, "SIGXCPU"), reason="no such signal here")
def test_a_slow_reader_is_not_reported_as_broken(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "busy.step"
    file.write_text("ISO-10303-21;\n")
    script = tmp_path / "busy.py"
    limit = "from fitcheck.meshfiles import foreign; foreign.limits = lambda _: (10**12, 1)\n"
    script.write_text(limit + "foreign._limit(0)\nwhile True: pass")
    monkeypatch.setattr(apart.foreign, "__file__", str(script))
    with pytest.raises(MeshError, match="s of computing"):
        apart.read_step(file, "busy.step")


@pytest.mark.skipif(sys.platform == "win32", reason="limits of this kind are not known there")
def test_a_lower_external_limit_is_kept() -> None:
    code = (
        "import resource as r\n"
        "r.setrlimit(r.RLIMIT_CPU, (20, 20))\n"
        "from fitcheck.meshfiles.foreign import _limit\n"
        "_limit(10**9)\n"
        "assert r.getrlimit(r.RLIMIT_CPU) == (20, 20)\n"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert ran.returncode == 0, ran.stderr


def test_a_drawing_test_that_timed_out_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys.modules[find_renderer.__module__], "SECONDS", 0.2)
    found = find_renderer((sys.executable, "-c", "import time; time.sleep(30)"))
    assert not found.works
    assert "took too long" in found.advice
    assert "nothing here can draw" not in found.advice
