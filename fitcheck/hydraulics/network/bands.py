"""The same plant on the unfavourable and the favourable side of its uncertainties.

Bores are within each hose's tolerance, lengths and heights above the sea within the survey's
uncertainty. All are taken at one end at once, which is more than will occur together; verdicts are
given on the unfavourable side.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

from fitcheck.hydraulics.network.plant import Plant, Run
from fitcheck.units import Metre, Ratio


def unfavourable(plant: Plant) -> Plant:
    """Narrower hoses, a wider bypass, longer runs, the plant higher above the sea."""
    return _shifted(plant, 1.0)


def favourable(plant: Plant) -> Plant:
    """Wider hoses, a narrower bypass, shorter runs, the plant lower."""
    return _shifted(plant, -1.0)


def narrowed(plant: Plant) -> Plant:
    """Only the bores on the unfavourable side."""
    runs = {name: _bore(run, 1.0) for name, run in plant.runs.items()}
    return replace(plant, runs=runs)


def raised(plant: Plant, by: Metre) -> Plant:
    """The whole plant higher, the sea where it was."""
    x, y, z = plant.flotation
    return replace(plant, flotation=(x, y, z - by))


def _shifted(plant: Plant, side: Ratio) -> Plant:
    runs = {name: _run(run, side) for name, run in plant.runs.items()}
    return raised(replace(plant, runs=runs), side * plant.height_uncertainty)


@lru_cache(maxsize=1024)
def _run(run: Run, side: Ratio) -> Run:
    """Return the same object for the same run, so that cached solutions are reused."""
    return replace(_bore(run, side), length=run.length + side * _length_spread(run))


def _length_spread(run: Run) -> Metre:
    return min(run.uncertainty, 0.5 * run.length)


@lru_cache(maxsize=1024)
def _bore(run: Run, side: Ratio) -> Run:
    """What is bad for a hose that must let water through is good for one that bleeds it off."""
    narrower = -side if run.line.duty == "bypass" else side
    bore = run.hose.bore * (1.0 - narrower * run.hose.bore_tolerance)
    return replace(run, hose=replace(run.hose, bore=bore))
