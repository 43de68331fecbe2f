"""Layouts judged by a person: how many sound ones, and how many dangers, get a "yes".

    python -m tests.bench.layouts sound [NUMBER ...]
    python -m tests.bench.layouts dangers [NAME ...]

A line each: what was found, the seconds, and the reasons of a "not yet".
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from fitcheck.errors import FitcheckError
from fitcheck.model.result import Hold
from fitcheck.pipeline import run
from tests.layouts import Bay, dangers, sound

_SHOWN = 2


def main(arguments: list[str]) -> int:
    """Run one of the two sets and print its counts."""
    which, chosen = arguments[0], set(arguments[1:])
    with tempfile.TemporaryDirectory() as folder:
        rows = _sound if which == "sound" else _dangers
        wrong = sum(not good for good in rows(Path(folder), chosen))
    print(f"{wrong} not as they should be")
    return wrong > 0


def _sound(folder: Path, chosen: set[str]) -> Iterator[bool]:
    for number, made in enumerate(sound()):
        if not chosen or str(number) in chosen:
            cut, order = _judged(made, folder)
            yield cut and order


def _dangers(folder: Path, chosen: set[str]) -> Iterator[bool]:
    for danger in dangers():
        if not chosen or danger.bay.name in chosen:
            cut, order = _judged(danger.bay, folder)
            yield (danger.cut or not cut) and (danger.order or not order)


def _judged(made: Bay, folder: Path) -> tuple[bool, bool]:
    began = time.perf_counter()
    try:
        result = run(made.write(folder / made.name))
    except FitcheckError as error:
        print(f"{made.name}: refused: {' '.join(str(error).split())[:300]}", flush=True)
        return False, False
    took = time.perf_counter() - began
    print(f"{made.name}: {result.verdict}, {took:.0f} s", flush=True)
    for step, hold in (("cut", result.cut_joinery), ("order", result.order_hoses)):
        print(f"    {step}: {_words(hold)}", flush=True)
    return result.cut_joinery.safe, result.order_hoses.safe


def _words(hold: Hold) -> str:
    if hold.safe:
        return "yes"
    shown = [f"[{row.rule}] {row.text[:160]}" for row in hold.reasons[:_SHOWN]]
    return f"not yet ({len(hold.reasons)}): " + " | ".join(shown)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
