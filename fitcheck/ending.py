"""How a command ends: every error becomes one line with a remedy, and the right exit status."""

from __future__ import annotations

import codecs
import os
import shutil
import signal
import sys
import tempfile
import threading
import time
import traceback
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import TextIO

from fitcheck.errors import ConvergenceError, FitcheckError, in_words, shown
from fitcheck.units import ASCII

PASSED, FAILED, BAD_INPUT, NOT_CONVERGED, OWN_FAULT, INTERRUPTED = 0, 1, 2, 3, 4, 130


def ended(command: Callable[[], int]) -> int:
    """Run a command and return its exit status; it only raises `SystemExit`."""
    for stream in (sys.stdout, sys.stderr):
        _spell_out(stream)
    _listen(True)
    try:
        status = command()
        sys.stdout.flush()
    except ConvergenceError as error:
        return complain(str(error), NOT_CONVERGED)
    except FitcheckError as error:
        return complain(str(error), BAD_INPUT)
    except KeyboardInterrupt as stop:
        how = stop.status if isinstance(stop, Stopped) else INTERRUPTED
        return complain(str(stop) or "stopped; existing files are unchanged", how)
    except BrokenPipeError:
        silence(sys.stdout)
        return PASSED
    except OSError as error:
        silence(sys.stdout)
        return complain(in_words(error), BAD_INPUT)
    except MemoryError as error:
        return complain(in_words(error), BAD_INPUT)
    except Exception as error:
        trace = "".join(traceback.format_exception(error))
        return complain(f"{in_words(error)}; {keep_trace(trace)}", OWN_FAULT)
    finally:
        _listen(False)
    return status


class Stopped(KeyboardInterrupt):
    """The run was ended by a signal, or by the keyboard with a message."""

    def __init__(self, said: str = "", status: int = INTERRUPTED) -> None:
        self.status = status
        super().__init__(said)


def _stop(number: int, _: object) -> None:
    raise Stopped(status=128 + number)


def _listen(begin: bool) -> None:
    """Make signals that ask a program to end act like the keyboard, or restore them."""
    if threading.current_thread() is not threading.main_thread():
        return
    for name in ("SIGTERM", "SIGHUP"):
        number = getattr(signal, name, None)
        if number is not None and signal.getsignal(number) in (signal.SIG_DFL, _stop):
            signal.signal(number, _stop if begin else signal.SIG_DFL)


class LiveLine:
    """A line on a terminal that the next output replaces."""

    def __init__(self) -> None:
        self._on: TextIO | None = None

    def draw(self, line: str) -> None:
        """Write it to standard error, replacing the previous one."""
        self._on = sys.stderr
        self._write(shown(line))

    def wipe(self) -> None:
        """Erase it."""
        if self._on is not None:
            self._write("", "\r")
            self._on = None

    def _write(self, line: str, then: str = "") -> None:
        width = shutil.get_terminal_size().columns - 1
        with suppress(OSError, ValueError):
            if self._on is not None:
                self._on.write("\r" + line[:width].ljust(width) + then)
                self._on.flush()


LIVE = LiveLine()


def spoken(say: Callable[[], object]) -> None:
    """Print, and carry on silently if the reader has closed the pipe."""
    LIVE.wipe()
    try:
        say()
        sys.stdout.flush()
    except BrokenPipeError:
        silence(sys.stdout)
    except SystemExit:  # raised by the printing library on a closed pipe
        silence(sys.stdout)


def complain(text: str, status: int) -> int:
    """Print one message to standard error, without anything a terminal would interpret."""
    LIVE.wipe()
    with suppress(OSError, ValueError):
        sys.stderr.write("\n".join(shown(line) for line in text.splitlines()) + "\n")
        sys.stderr.flush()
    return status


def silence(stream: TextIO) -> None:
    """Discard all further output, so that exiting does not fail either."""
    with suppress(OSError, ValueError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, stream.fileno())
        os.close(nowhere)


def _spell_out(stream: object) -> None:
    """A character that the terminal lacks is shown in ASCII, or by number, without failing."""
    codecs.register_error("fitcheck.ascii", _in_ascii)
    with suppress(AttributeError, OSError, ValueError):
        stream.reconfigure(errors="fitcheck.ascii")  # type: ignore[attr-defined]


def _in_ascii(error: UnicodeError) -> tuple[str | bytes, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    for signs in (2, 1):  # "°C" before "°"
        end = error.start + signs
        if (spelled := ASCII.get(error.object[error.start : end])) is not None:
            return spelled, end
    error.end = error.start + 1
    return codecs.backslashreplace_errors(error)


def keep_trace(told: str) -> str:
    """Write the traceback of a program fault to a file; returns the words that name it."""
    name = f"fitcheck-fault-{time.strftime('%Y%m%d-%H%M%S')}-{os.getpid()}.txt"
    for place in ("fitcheck-out", ""):
        try:
            folder = Path(place or tempfile.gettempdir())
            folder.mkdir(parents=True, exist_ok=True)
            (folder / name).write_text(told, "utf-8", "backslashreplace")
        except OSError:
            continue
        return f"the details are in {folder / name}; send it with the scenario to the authors"
    return "no place to write what happened"
