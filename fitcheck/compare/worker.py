"""Scenarios in a separate process: one that is killed, or crashes, only loses its own scenario."""

from __future__ import annotations

import multiprocessing
import signal
from collections.abc import Callable
from contextlib import suppress
from multiprocessing.connection import Connection

from fitcheck.compare.one import Job, settle, stopped
from fitcheck.findings.said import Said
from fitcheck.model.finding import Tell
from fitcheck.model.found.comparison import Candidate
from fitcheck.view import start_probe

#: Seconds a process that has closed its pipe may take to end.
LAST = 10.0


class Worker:
    """A process that does one job after the other; it is replaced when it has died.

    It is spawned, not forked: a fork of a process with drawing or numerical threads may hang.
    """

    def __init__(self) -> None:
        self._pipe: Connection | None = None

    def do(self, job: Job, tell: Tell, ready: Callable[[Candidate], None]) -> Candidate:
        """The result of `settle`, or what is known of the job if its process ended."""
        found: Candidate | None = None

        def keep(candidate: Candidate) -> None:
            nonlocal found
            found = candidate
            ready(candidate)

        pipe = self._pipe or self._start()
        try:
            pipe.send(job)
            while True:
                match pipe.recv():
                    case str() | Said() as step:
                        tell(step)
                    case "ready", candidate:
                        keep(candidate)
                    case _, candidate:
                        return candidate
        except (EOFError, OSError):
            how = self._ended()
        if found is not None:
            tell(f"no picture: {how}")
            return found
        return stopped(job, "killed", f"{how}; run it alone, or free memory")

    def close(self) -> None:
        """End the process, whatever it is doing."""
        if self._pipe is not None:
            self._process.kill()
            self._ended()

    def _start(self) -> Connection:
        context = multiprocessing.get_context("spawn")
        self._pipe, theirs = context.Pipe()
        self._process = context.Process(target=serve, args=(theirs,), daemon=True)
        self._process.start()
        theirs.close()
        return self._pipe

    def _ended(self) -> str:
        """Release a process that has ended; returns how it ended."""
        self._process.join(LAST)
        status = self._process.exitcode
        if self._pipe is not None:
            self._pipe.close()
        self._pipe = None
        if status is None or status >= 0:
            return f"its process ended with status {status}"
        with suppress(ValueError):
            return f"its process was ended by {signal.Signals(-status).name}"
        return f"its process was ended by signal {-status}"


def serve(pipe: Connection) -> None:
    """Do jobs until the other end of the pipe is closed; keyboard interrupts are left
    to that end.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    start_probe()
    with suppress(EOFError, OSError):
        while True:
            job = pipe.recv()
            found = settle(job, pipe.send, lambda candidate: pipe.send(("ready", candidate)))
            pipe.send(("done", found))
