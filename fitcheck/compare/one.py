"""One of several scenarios: run, its files written, its picture drawn; every failure
is recorded.
"""

from __future__ import annotations

import traceback
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from fitcheck.compare.condensed import condensed
from fitcheck.errors import ConvergenceError, FitcheckError, in_words
from fitcheck.kept import PICTURE, inputs_of, kept_files, kept_result
from fitcheck.model.finding import Tell
from fitcheck.model.found.comparison import Candidate, Stopped
from fitcheck.model.result import Result
from fitcheck.opened import opened
from fitcheck.report.files import replace_all
from fitcheck.report.write import write_all, write_undrawn
from fitcheck.units import System, faults_in
from fitcheck.view import picture_or_why


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """A scenario file, the folder for its files, and their units."""

    file: Path
    folder: Path
    units: System


def settle(job: Job, tell: Tell, ready: Callable[[Candidate], None]) -> Candidate:
    """Run a whole job; it raises nothing, only the end of the process can stop it.

    ready : receives the result as soon as its files are written, before anything is drawn
    """
    try:
        with faults_in(job.units):
            return _settled(job, tell, ready)
    except ConvergenceError as error:
        return stopped(job, "converged", str(error))
    except (FitcheckError, OSError, MemoryError) as error:
        return stopped(job, "read", in_words(error))
    except Exception as error:
        lost = stopped(job, "fault", in_words(error))
        return replace(lost, trace="".join(traceback.format_exception(error)))


def opened_whole(job: Job) -> Candidate | None:
    """A job whose result and files were cached by an earlier run; None if it has to run."""
    inputs = inputs_of(job.file)
    files = {} if inputs is None else kept_files(inputs, job.units)
    result = None if inputs is None or not files else kept_result(inputs)
    if result is None:
        return None
    picture = files.pop(PICTURE)
    return Candidate(
        file=str(job.file),
        name=result.scenario.name,
        ran=condensed(result),
        stopped="",
        why=_written(lambda: replace_all(job.folder, files)),
        picture=picture,
        folder=str(job.folder),
    )


def _settled(job: Job, tell: Tell, ready: Callable[[Candidate], None]) -> Candidate:
    result = opened(job.file, tell)
    found = Candidate(
        file=str(job.file),
        name=result.scenario.name,
        ran=condensed(result),
        stopped="",
        why=_written(lambda: write_undrawn(result, job.folder, job.units)),
        picture=None,
        folder=str(job.folder),
    )
    ready(found)
    picture, missing = picture_or_why(result, job.units, tell)
    why = found.why or _written(lambda: _write_drawn(result, job, picture, missing, tell))
    return replace(found, picture=picture, why=why)


def _write_drawn(
    result: Result, job: Job, picture: bytes | None, missing: tuple[str, ...], tell: Tell
) -> None:
    write_all(result, job.folder, picture, job.units, missing, tell)


def _written(write: Callable[[], object]) -> str:
    """Why the files could not be written, "" if they were: the numbers are not lost with them."""
    try:
        write()
    except FitcheckError as error:
        return str(error)
    return ""


def stopped(job: Job, how: Stopped, why: str) -> Candidate:
    """A scenario without a result."""
    return Candidate(
        file=str(job.file),
        name=job.file.stem,
        ran=None,
        stopped=how,
        why=why,
        picture=None,
    )
