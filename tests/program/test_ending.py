"""Every command ends with one line, the right status, no traceback."""

from __future__ import annotations

import io
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from fitcheck.cli import BAD_INPUT, main
from fitcheck.ending import INTERRUPTED, OWN_FAULT, _spell_out, ended, spoken
from fitcheck.errors import Fault, shown
from tests import ROOT


@pytest.mark.parametrize(
    ("raised", "status"),
    [
        (PermissionError(13, "Permission denied", "out"), BAD_INPUT),
        (OSError(28, "No space left on device"), BAD_INPUT),
        (MemoryError(), BAD_INPUT),
        (RecursionError("too deep"), OWN_FAULT),
        (ValueError("of a\nlibrary"), OWN_FAULT),
        (KeyboardInterrupt(), INTERRUPTED),
    ],
)
def test_every_exception_becomes_one_line(
    raised: BaseException,
    status: int,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capfd: pytest.CaptureFixture[str],
) -> None:
    def command() -> int:
        raise raised

    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("fitcheck.ending.silence", lambda _: None)
    assert ended(command) == status
    err = capfd.readouterr().err
    assert err.count("\n") == 1
    assert "Traceback" not in err
    kept = list(tmp_path.glob("fitcheck-out/*.txt"))
    assert len(kept) == (status == OWN_FAULT)
    assert all("Traceback" in one.read_text() and one.name in err for one in kept)


def test_a_fault_without_a_writable_folder_is_one_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    def command() -> int:
        raise ValueError("of a library")

    def nowhere() -> str:
        raise FileNotFoundError(2, "No usable temporary directory found")

    monkeypatch.chdir(tmp_path)
    (tmp_path / "fitcheck-out").touch()
    with monkeypatch.context() as patch:
        patch.setattr("fitcheck.ending.tempfile.gettempdir", nowhere)
        assert ended(command) == OWN_FAULT
    assert capfd.readouterr().err.endswith("; no place to write what happened\n")


def test_file_text_cannot_control_the_terminal() -> None:
    fault = Fault(file="a", line=1, key="k", text="\x1b[2J\n" + "9" * 9000, remedy="mend it")
    text = str(fault)
    assert text.isprintable()
    assert "\\x1b[2J\\n" in text
    assert len(text) < 700
    assert text.endswith("mend it")
    assert shown("caf\u00e9") == "caf\u00e9"


@pytest.mark.skipif(not hasattr(signal, "SIGTERM"), reason="no such signal here")
def test_a_termination_signal_is_one_line(capfd: pytest.CaptureFixture[str]) -> None:
    def command() -> int:
        os.kill(os.getpid(), signal.SIGTERM)
        time.sleep(10.0)
        return 0

    assert ended(command) == 128 + signal.SIGTERM
    assert capfd.readouterr().err == "stopped; existing files are unchanged\n"
    assert signal.getsignal(signal.SIGTERM) is signal.SIG_DFL


@pytest.mark.parametrize(
    "text", ["a = " + "9" * 10_000, 'uses = ["a\\u0000.toml"]', "a = " + "[" * 20_000]
)
def test_a_scenario_that_crashes_a_reader_is_bad_input(
    text: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "s.toml").write_text(text)
    assert main(["check", str(tmp_path / "s.toml"), "--out", str(tmp_path)]) == BAD_INPUT
    assert "Traceback" not in capsys.readouterr().err


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with a name here")
def test_a_pipe_or_device_is_not_a_scenario(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    os.mkfifo(tmp_path / "pipe.toml")
    pipe = str(tmp_path / "pipe.toml")
    (tmp_path / "s.toml").write_text('uses = ["pipe.toml"]\n[boat]\nmesh = "pipe.toml"\n')
    good = str(ROOT / "scenarios" / "demo_cad.toml")
    mesh = str(ROOT / "meshes" / "demo_cad.stl")
    commands = [
        *(["check", name] for name in (pipe, "/dev/zero", str(tmp_path / "s.toml"))),
        *(["scan", name] for name in (pipe, "/dev/zero")),
        *(["envelope", name] for name in (pipe, "/dev/zero")),
        ["deviation", good, "/dev/zero", "--pairs", str(ROOT / "scenarios" / "demo_pairs.toml")],
        ["deviation", good, mesh, "--pairs", "/dev/zero"],
    ]
    for command in commands:
        assert main([*command, "--out", str(tmp_path)]) == BAD_INPUT
        assert "a pipe or a device; name a" in capsys.readouterr().err


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no full device here")
@pytest.mark.parametrize("coding", ["ascii", "cp1252", "utf-8"])
def test_output_to_a_full_disk(coding: str) -> None:
    code = "import sys; from fitcheck.ending import ended; "
    code += r"sys.exit(ended(lambda: print('\u00b1 \u2260') or 0))"
    environment = os.environ | {"PYTHONIOENCODING": coding, "PYTHONPATH": str(ROOT)}
    command = [sys.executable, "-c", code]
    good = subprocess.run(command, capture_output=True, env=environment, check=False)
    assert (good.returncode, good.stderr) == (0, b"")
    with Path("/dev/full").open("wb") as full:
        bad = subprocess.run(
            command, stdout=full, stderr=subprocess.PIPE, env=environment, check=False
        )
    assert bad.returncode == BAD_INPUT
    assert bad.stderr.count(b"\n") == 1
    assert b"No space left" in bad.stderr


def test_a_file_in_place_of_the_folder_is_reported_before_calculating(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def never(*_: object) -> None:
        raise AssertionError("computed first")

    monkeypatch.setattr("fitcheck.pipeline.run", never)
    (tmp_path / "file").write_text("here")
    assert main(["check", "any.toml", "--out", str(tmp_path / "file" / "out")]) == BAD_INPUT
    assert "is a file; give --out another folder" in capsys.readouterr().err


def test_a_closed_pipe_does_not_change_the_status(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("fitcheck.ending.silence", lambda _: None)

    def gone() -> None:
        raise SystemExit(1)

    def command() -> int:
        spoken(gone)
        return 0

    assert ended(command) == 0


@pytest.mark.parametrize(
    ("shown", "spelled"),
    [
        ("41 ± 12 mm, 20° to port, 5 °C, 41 °F", "41 +- 12 mm, 20 deg to port, 5 degC, 41 degF"),
        ("0.5 m³/h, 2 m², 5 µm, \u2693", "0.5 m3/h, 2 m2, 5 um, \\u2693"),
        ("3\u20134, ≤ 1, ≥ 2", "3-4, <= 1, >= 2"),
    ],
)
def test_missing_signs_are_printed_in_ascii(shown: str, spelled: str) -> None:
    stream = io.TextIOWrapper(io.BytesIO(), encoding="ascii")
    _spell_out(stream)
    stream.write(shown)
    stream.flush()
    assert stream.buffer.getvalue().decode() == spelled  # type: ignore[attr-defined]
