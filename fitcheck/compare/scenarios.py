"""Scenarios one after the other, each added to the comparison as soon as it is done."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

from fitcheck.compare.one import Job, opened_whole, stopped
from fitcheck.compare.worker import Worker
from fitcheck.model.finding import Tell, silent
from fitcheck.model.found.comparison import Candidate, Comparison
from fitcheck.report.words.side_by_side import letter
from fitcheck.units import System

#: Called with the whole comparison whenever it grows.
Done = Callable[[Comparison], None]


def compare_scenarios(
    files: Sequence[Path],
    folder: Path,
    units: System = "metric",
    tell: Tell = silent,
    done: Done = lambda _: None,
) -> Comparison:
    """Run every scenario, write its own files and compare the results side by side.

    The files of each go into a folder of their own in `folder`. One that cannot be read, does not
    converge, or crashes its process is reported and does not stop the others.
    """
    jobs = [
        Job(file=file, folder=folder / f"{letter(number)}-{file.stem}", units=units)
        for number, file in enumerate(files)
    ]
    found = [stopped(job, "waiting", "not run yet") for job in jobs]
    worker = Worker()
    try:
        for number, job in enumerate(jobs):
            tell(f"{number + 1} of {len(jobs)}: {job.file}")

            def ready(candidate: Candidate, number: int = number) -> None:
                found[number] = candidate
                done(_laid(found))

            ready(opened_whole(job) or worker.do(job, tell, ready))
    finally:
        worker.close()
    return _laid(found)


def _laid(found: list[Candidate]) -> Comparison:
    """Side by side; duplicate names get their file's name appended."""
    names = [one.name for one in found]
    return Comparison(
        candidates=tuple(
            replace(one, name=f"{one.name} ({Path(one.file).stem})")
            if names.count(one.name) > 1
            else one
            for one in found
        )
    )
