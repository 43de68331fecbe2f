"""A folder holds one whole set of files, whatever ended the run that wrote it."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from fitcheck.errors import FitcheckError
from fitcheck.report.files import replace_all, set_state
from tests.bench.kill_writer import ROOT, a_set, is_one_set, kill_once


def test_a_mixture_is_told(tmp_path: Path) -> None:
    assert set_state(tmp_path) == "none"
    replace_all(tmp_path, a_set(2))
    assert set_state(tmp_path) == "whole"
    replace_all(tmp_path, a_set(3))
    assert is_one_set(tmp_path)
    (tmp_path / "order.csv").write_bytes(a_set(2)["order.csv"])
    assert set_state(tmp_path) == "mixed"


@pytest.mark.parametrize("stop", range(1, 7))
def test_a_run_that_ends_while_it_moves_is_finished(
    stop: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    replace_all(tmp_path, a_set(2))
    replaced, calls = os.replace, []

    def killed(*paths: Path) -> None:
        calls.append(paths)
        if len(calls) > stop:
            raise KeyboardInterrupt
        replaced(*paths)

    with monkeypatch.context() as patch:
        patch.setattr("fitcheck.report.files.os.replace", killed)
        if stop < 6:
            with pytest.raises(KeyboardInterrupt):
                replace_all(tmp_path, a_set(3))
        else:
            replace_all(tmp_path, a_set(3))
    assert set_state(tmp_path) == "whole"
    assert is_one_set(tmp_path)
    assert (tmp_path / "order.csv").read_bytes() == a_set(3)["order.csv"]


@pytest.mark.skipif(os.name == "nt", reason="kill -9 and file size limits are not there")
def test_killed_at_some_moments(tmp_path: Path) -> None:
    replace_all(tmp_path, a_set(0))
    for number, wait in enumerate((0.0, 0.004, 0.011)):
        assert kill_once(tmp_path, 1000 * number, wait)[1]


@pytest.mark.skipif(os.name == "nt", reason="kill -9 and file size limits are not there")
def test_a_full_disk_and_two_runs_at_once(tmp_path: Path) -> None:
    replace_all(tmp_path, a_set(1))
    code = (
        "import resource, signal; from pathlib import Path; from fitcheck.report.files import *\n"
        "from tests.bench.kill_writer import a_set\n"
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (30000, 30000))\n"
        f"replace_all(Path({str(tmp_path)!r}), a_set(12))"
    )
    full = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, check=False)
    assert b"cannot be written: File too large" in full.stderr
    assert set_state(tmp_path) == "whole"
    assert (tmp_path / "order.csv").read_bytes() == a_set(1)["order.csv"]
    write = "import sys; from pathlib import Path; from tests.bench.kill_writer import *\n"
    write += "for n in range(40): replace_all(Path(sys.argv[1]), a_set(2 * n + int(sys.argv[2])))"
    commands = [[sys.executable, "-c", write, str(tmp_path), str(n)] for n in (100, 201)]
    runs = [subprocess.Popen(command, cwd=ROOT) for command in commands]
    assert [run.wait() for run in runs] == [0, 0]
    assert set_state(tmp_path) == "whole"
    assert is_one_set(tmp_path)


def test_a_folder_that_cannot_be_made_is_one_error(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("here")
    with pytest.raises(FitcheckError, match="cannot be written"):
        replace_all(tmp_path / "file" / "out", a_set(1))
