"""Steps on standard error; on a terminal also a live line with the progress of a step."""

from __future__ import annotations

import sys
import time

from fitcheck.ending import LIVE, PASSED, complain
from fitcheck.findings.said import Said
from fitcheck.units import Second, System

#: Minimum interval between updates of the live line, and time before it shows the time left.
REDRAWN: Second = 0.2
TOLD_AFTER: Second = 1.0


class Progress:
    """Prints each step with the time since the last one, to standard error."""

    def __init__(self, units: System = "metric") -> None:
        self._units = units
        self._last = time.perf_counter()
        self._terminal = sys.stderr.isatty()
        self._what, self._began, self._drawn = "", 0.0, 0.0
        self._compiled: int | None = None

    def __call__(self, step: str | Said) -> None:
        """One step is done."""
        step = step.text(self._units) if isinstance(step, Said) else step
        now = time.perf_counter()
        complain(f"{now - self._last:6.2f} s  {step}{self._kernels()}", PASSED)
        self._last = now

    def part(self, what: str, done: int, whole: int) -> None:
        """`done` of `whole` parts of a step are done; the time left is estimated from that."""
        now = time.perf_counter()
        if what != self._what or not done:
            self._what, self._began = what, now
        if not self._terminal or now - self._drawn < REDRAWN:
            return
        told = f"{now - self._last:6.1f} s  {what}: {done:,} of {whole:,}"
        spent = now - self._began
        if done and spent > TOLD_AFTER:
            told += f", about {left(done, whole, spent)} left"
        LIVE.draw(told)
        self._drawn = now

    def _kernels(self) -> str:
        """Number of compiled kernels, after steps that compiled some; "" otherwise."""
        # numba is slow to import: only if already loaded
        loaded = sys.modules.get("fitcheck.kernels")
        if loaded is None:
            return ""
        done, whole = loaded.compiled()
        before, self._compiled = self._compiled, done
        if not whole or (done == before if before is not None else 2 * done > whole):
            return ""
        return f" (compiling, first run only: {done} of at most {whole} kernels)"


def left(done: int, whole: int, spent: Second) -> str:
    """Estimated time left, at the rate of the parts done so far."""
    rest = spent / done * (whole - done)
    return f"{rest:.0f} s" if rest < 100.0 else f"{rest / 60.0:.0f} min"
