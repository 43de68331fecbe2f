"""Progress output: a line for each step, on a terminal the time left."""

from __future__ import annotations

import io
import sys
from types import SimpleNamespace

import pytest

from fitcheck import progress
from fitcheck.ending import PASSED, complain
from fitcheck.model.finding import silent
from fitcheck.model.progress import part
from fitcheck.progress import Progress, left


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


class Clock:
    """Every reading is a second later."""

    def __init__(self) -> None:
        self.now = 0.0

    def perf_counter(self) -> float:
        self.now += 1.0
        return self.now


def watched(monkeypatch: pytest.MonkeyPatch, stream: io.StringIO) -> io.StringIO:
    """Standard error from here on; no kernels are loaded."""
    monkeypatch.setattr(sys, "stderr", stream)
    monkeypatch.setattr(progress, "time", Clock())
    monkeypatch.setitem(sys.modules, "fitcheck.kernels", None)  # type: ignore[arg-type]
    return stream


def drawn(stream: io.StringIO) -> list[str]:
    """Lines as they appear after overwriting, without trailing spaces."""
    lines = stream.getvalue().replace("\n", "\r").split("\r")
    return [line.strip() for line in lines if line.strip()]


def test_a_terminal_shows_the_time_left(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Begun at 2 s; at 4 s a fifth is done in 2 s, so four times as long is left."""
    shown = watched(monkeypatch, Terminal())
    tell = Progress()
    part(tell, "hoses routed", 0, 10)
    part(tell, "hoses routed", 1, 10)
    part(tell, "hoses routed", 2, 10)
    assert [line.split("  ", 1)[1] for line in drawn(shown)] == [
        "hoses routed: 0 of 10",
        "hoses routed: 1 of 10",
        "hoses routed: 2 of 10, about 8 s left",
    ]
    tell("10 hoses routed")
    assert shown.getvalue().endswith("\n")
    assert drawn(shown)[-1].endswith("s  10 hoses routed")


def test_an_error_replaces_the_live_line(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing of the longer line remains next to it."""
    shown = watched(monkeypatch, Terminal())
    part(Progress(), "hoses routed and everything else besides", 0, 10)
    complain("no.toml: no such file", PASSED)
    before, last = shown.getvalue().removesuffix("\n").rsplit("\r", 1)
    assert last == "no.toml: no such file"
    assert before.endswith(" " * 60)


def test_time_left_continues_across_printed_lines(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Begun at 2 s, five of ten done at 12 s."""
    shown = watched(monkeypatch, Terminal())
    tell = Progress()
    for done in range(5):
        part(tell, "hoses routed", done, 10)
        tell(f"hose {done}")
    part(tell, "hoses routed", 5, 10)
    assert drawn(shown)[-1].endswith("hoses routed: 5 of 10, about 10 s left")
    part(tell, "hoses routed", 0, 4)
    part(tell, "hoses routed", 1, 4)
    assert "left" not in drawn(shown)[-1]


def test_each_step_is_timed_from_its_own_start(monkeypatch: pytest.MonkeyPatch) -> None:
    shown = watched(monkeypatch, Terminal())
    tell = Progress()
    part(tell, "hoses routed", 0, 2)
    part(tell, "hoses routed", 1, 2)
    part(tell, "states solved", 0, 24)
    part(tell, "states solved", 12, 24)
    assert "left" not in drawn(shown)[-1]


def test_a_pipe_gets_one_line_per_step(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    pipe = watched(monkeypatch, io.StringIO())
    tell = Progress()
    for done in range(10):
        part(tell, "hoses routed", done, 10)
    tell("10 hoses routed")
    assert "\r" not in pipe.getvalue()
    assert pipe.getvalue().count("\n") == 1
    assert drawn(pipe)[0].endswith("10 hoses routed")


def test_a_listener_without_parts_gets_lines_only() -> None:
    steps: list[str] = []
    for tell in (steps.append, silent):
        part(tell, "hoses routed", 1, 2)
    assert steps == []


def test_kernels_are_counted_while_they_compile(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    shown = watched(monkeypatch, Terminal())
    counts = iter([(0, 194), (40, 194), (40, 194)])
    stand_in = SimpleNamespace(compiled=lambda: next(counts))
    monkeypatch.setitem(sys.modules, "fitcheck.kernels", stand_in)  # type: ignore[arg-type]
    tell = Progress()
    for step in ("read", "labelled", "found"):
        tell(step)
    first, second, third = drawn(shown)
    assert "0 of at most 194 kernels" in first
    assert "40 of at most 194 kernels" in second
    assert third.endswith("found")


def test_kernels_cached_by_an_earlier_run_are_not_reported(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    shown = watched(monkeypatch, Terminal())
    stand_in = SimpleNamespace(compiled=lambda: (157, 194))
    monkeypatch.setitem(sys.modules, "fitcheck.kernels", stand_in)  # type: ignore[arg-type]
    tell = Progress()
    tell("read")
    assert drawn(shown)[0].endswith("read")


@pytest.mark.parametrize(
    ("done", "whole", "spent", "told"),
    [(1, 3, 10.0, "20 s"), (1, 11, 30.0, "5 min"), (3, 3, 9.0, "0 s")],
)
def test_time_left_is_extrapolated_from_time_spent(
    done: int, whole: int, spent: float, told: str
) -> None:
    assert left(done, whole, spent) == told
