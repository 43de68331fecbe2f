"""A folder contains one complete set of files, however its run ended."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from fitcheck.cli import BAD_INPUT, FAILED, PASSED, main
from fitcheck.errors import FitcheckError
from fitcheck.report.files import replace_all, set_state
from fitcheck.writing import write_one
from tests import ROOT
from tests.specimens.file_sets import a_set, is_one_set, kill_once


def test_a_mixed_set_is_reported(tmp_path: Path) -> None:
    assert set_state(tmp_path) == "none"
    replace_all(tmp_path, a_set(2))
    assert set_state(tmp_path) == "whole"
    replace_all(tmp_path, a_set(3))
    assert is_one_set(tmp_path)
    (tmp_path / "order.csv").write_bytes(a_set(2)["order.csv"])
    assert set_state(tmp_path) == "mixed"


def test_the_command_reports_whole_mixed_and_abandoned_sets(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def said(*folders: Path) -> tuple[int, str]:
        status = main(["files", *map(str, folders)])
        out, err = capsys.readouterr()
        return status, out + err

    assert said(tmp_path)[0] == BAD_INPUT
    assert "no such folder" in said(tmp_path / "none")[1]
    replace_all(tmp_path, a_set(2))
    assert said(tmp_path) == (
        PASSED,
        f"{tmp_path / 'result.json'}: complete, 6 files of one run\n",
    )
    (tmp_path / ".fitcheck-new").mkdir()
    assert "whole" in said(tmp_path)[1]
    assert "it is ignored" in said(tmp_path)[1]
    (tmp_path / "order.csv").write_bytes(a_set(3)["order.csv"])
    (tmp_path / "hoses.csv").unlink()
    status, words = said(tmp_path)
    assert status == FAILED
    assert "missing: hoses.csv; changed since they were written: order.csv" in words


def test_the_command_completes_an_interrupted_run_or_says_why_not(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    replace_all(tmp_path, a_set(2))
    replaced = os.replace

    def killed(source: Path, target: Path) -> None:
        if source.name == "order.csv":
            raise PermissionError(13, "Permission denied")
        replaced(source, target)

    monkeypatch.setattr("fitcheck.report.files.os.replace", killed)
    with pytest.raises(FitcheckError):
        replace_all(tmp_path, a_set(3))
    assert main(["files", str(tmp_path)]) == FAILED
    assert "unfinished" in capsys.readouterr().out
    monkeypatch.setattr("fitcheck.report.files.os.replace", replaced)
    assert main(["files", str(tmp_path)]) == PASSED
    assert "the rest has been moved now" in capsys.readouterr().out
    assert is_one_set(tmp_path)


def test_contents_are_synced_before_renaming(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A rename may be persisted before the contents."""
    done: list[str] = []
    replaced, synced = os.replace, os.fsync
    monkeypatch.setattr(
        os, "replace", lambda a, b: (done.append(f"rename {Path(a).name}"), replaced(a, b))[1]
    )

    def sync(handle: int) -> None:
        done.append("sync")
        synced(handle)

    monkeypatch.setattr(os, "fsync", sync)
    contents = a_set(2)
    replace_all(tmp_path, contents)
    first = done.index("rename .fitcheck-new")
    assert done[:first].count("sync") >= len(contents)
    done.clear()
    write_one(tmp_path / "one.toml", b"a = 1")
    assert done.index("rename .one.toml.part") > done.index("sync")
    assert (tmp_path / "one.toml").read_bytes() == b"a = 1"


@pytest.mark.parametrize("name", ["con", "NUL.png", "Aux .toml", "com1", "lpt\u00b9.x"])
def test_a_windows_device_name_is_refused(name: str, tmp_path: Path) -> None:
    with pytest.raises(FitcheckError, match="name of a device on Windows"):
        write_one(tmp_path / name, b"")
    with pytest.raises(FitcheckError, match="name of a device on Windows"):
        replace_all(tmp_path / name / "out", a_set(1))
    assert list(tmp_path.iterdir()) == []
    assert write_one(tmp_path / f"a{name}".replace(" ", ""), b"x").read_bytes() == b"x"


def test_an_existing_folder_with_such_a_name_is_used(tmp_path: Path) -> None:
    (tmp_path / "aux").mkdir()
    replace_all(tmp_path / "aux", a_set(1))
    assert set_state(tmp_path / "aux") == "whole"


def test_a_failed_file_leaves_the_old_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write_one(tmp_path / "one.toml", b"old")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("fitcheck.writing.os.fsync", full)
    with pytest.raises(FitcheckError, match="No space left"):
        write_one(tmp_path / "one.toml", b"new")
    assert (tmp_path / "one.toml").read_bytes() == b"old"
    assert [path.name for path in tmp_path.iterdir()] == ["one.toml"]


@pytest.mark.parametrize("stop", range(1, 7))
def test_an_interrupted_move_is_completed(
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
def test_a_run_killed_at_any_point_leaves_one_set(tmp_path: Path) -> None:
    replace_all(tmp_path, a_set(0))
    for number, wait in enumerate((0.0, 0.004, 0.011)):
        assert kill_once(tmp_path, 1000 * number, wait)[1]


@pytest.mark.skipif(os.name == "nt", reason="kill -9 and file size limits are not there")
def test_a_full_disk_and_two_runs_at_once(tmp_path: Path) -> None:
    replace_all(tmp_path, a_set(1))
    code = (
        "import resource, signal; from pathlib import Path; from fitcheck.report.files import *\n"
        "from tests.specimens.file_sets import a_set\n"
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (30000, 30000))\n"
        f"replace_all(Path({str(tmp_path)!r}), a_set(12))"
    )
    full = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, check=False)
    assert b"cannot be written: File too large" in full.stderr
    assert set_state(tmp_path) == "whole"
    assert (tmp_path / "order.csv").read_bytes() == a_set(1)["order.csv"]
    write = "import sys; from pathlib import Path; from tests.specimens.file_sets import *\n"
    write += "for n in range(40): replace_all(Path(sys.argv[1]), a_set(2 * n + int(sys.argv[2])))"
    commands = [[sys.executable, "-c", write, str(tmp_path), str(n)] for n in (100, 201)]
    runs = [subprocess.Popen(command, cwd=ROOT) for command in commands]
    assert [run.wait() for run in runs] == [0, 0]
    assert set_state(tmp_path) == "whole"
    assert is_one_set(tmp_path)


def test_an_impossible_folder_is_one_error(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("here")
    with pytest.raises(FitcheckError, match="cannot be written"):
        replace_all(tmp_path / "file" / "out", a_set(1))
