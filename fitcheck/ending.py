"""How a command ends: whatever happens is one line with a remedy, and the right exit status."""

from __future__ import annotations

import os
import sys
import tempfile
import time
import traceback
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import TextIO

from fitcheck.errors import ConvergenceError, FitcheckError, shown

PASSED, FAILED, BAD_INPUT, NOT_CONVERGED, OWN_FAULT, INTERRUPTED = 0, 1, 2, 3, 4, 130


def ended(command: Callable[[], int]) -> int:
    """Run a command and return its exit status; nothing but `SystemExit` leaves it."""
    for stream in (sys.stdout, sys.stderr):
        _spell_out(stream)
    try:
        status = command()
        sys.stdout.flush()
    except ConvergenceError as error:
        return complain(str(error), NOT_CONVERGED)
    except FitcheckError as error:
        return complain(str(error), BAD_INPUT)
    except KeyboardInterrupt:
        return complain("stopped; files that were there are as they were", INTERRUPTED)
    except BrokenPipeError:
        silence(sys.stdout)
        return PASSED
    except OSError as error:
        silence(sys.stdout)
        return complain(_refused(error), BAD_INPUT)
    except MemoryError:
        return complain(
            "not enough memory; take a coarser pitch, thin the mesh or free memory", BAD_INPUT
        )
    except Exception as error:
        return _own_fault(error)
    return status


def spoken(say: Callable[[], object]) -> None:
    """Print, and carry on in silence when whoever reads it has gone."""
    try:
        say()
        sys.stdout.flush()
    except BrokenPipeError:
        silence(sys.stdout)
    except SystemExit:  # what the printing library makes of a closed pipe
        silence(sys.stdout)


def complain(text: str, status: int) -> int:
    """One thing to standard error, nothing in it that a terminal would act on."""
    with suppress(OSError, ValueError):
        sys.stderr.write("\n".join(shown(line) for line in text.splitlines()) + "\n")
        sys.stderr.flush()
    return status


def silence(stream: TextIO) -> None:
    """Send what is still to come nowhere, so that leaving the program does not fail either."""
    with suppress(OSError, ValueError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, stream.fileno())
        os.close(nowhere)


def _spell_out(stream: object) -> None:
    """A terminal that lacks a character shows its number, never a failure."""
    with suppress(AttributeError, OSError, ValueError):
        stream.reconfigure(errors="backslashreplace")  # type: ignore[attr-defined]


def _refused(error: OSError) -> str:
    where = error.filename if error.filename is not None else "the output"
    return (
        f"{where}: {error.strerror or error}; check that it can be read or written and that "
        "there is room"
    )


def _own_fault(error: Exception) -> int:
    """Keep the traceback in a file and name it; status 1 would read as "fails"."""
    told = "".join(traceback.format_exception(error))
    name = f"fitcheck-fault-{time.strftime('%Y%m%d-%H%M%S')}-{os.getpid()}.txt"
    kept = "no place to write what happened"
    for folder in (Path("fitcheck-out"), Path(tempfile.gettempdir())):
        try:
            folder.mkdir(parents=True, exist_ok=True)
            (folder / name).write_text(told, "utf-8", "backslashreplace")
        except OSError:
            continue
        kept = f"what happened is in {folder / name}; send it with the scenario to the authors"
        break
    said = " ".join(str(error).split())
    return complain(
        f"a fault of fitcheck itself, not of your files ({type(error).__name__}: {said[:120]}); "
        f"{kept}",
        OWN_FAULT,
    )
