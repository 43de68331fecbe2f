"""The derivation of a judged number, step by step, as an engineer would check it by hand."""

from __future__ import annotations

from dataclasses import dataclass

from fitcheck.findings.said import Said
from fitcheck.model.found.hydraulics import State
from fitcheck.units import Ratio


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step of a calculation by hand.

    numbers : the formula with its numbers in SI, as arithmetic that can be typed in; "" for a
    value that is read off rather than calculated
    value : the result, in `unit` (SI)
    size : amounts that tell one of several such steps from the others, None for none
    """

    what: str
    formula: str
    numbers: str
    value: Ratio
    unit: str
    source: str
    size: Said | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Explanation:
    """One number of a line, a pump, a module or the scale, step by step.

    names : the names it can be requested by, the thing it is judged for first
    number : which of that thing's numbers, as typed: "loss", "vacuum", "gap"
    said : what it is, in words
    state : of boat and water, None for a number that depends on none
    """

    names: tuple[str, ...]
    number: str
    said: str
    state: State | None
    steps: tuple[Step, ...]


def typed(value: Ratio) -> str:
    """A number to seven digits, as one would type it."""
    return f"{value:.7g}"


def given(what: str, value: Ratio, unit: str, source: str, formula: str = "") -> Step:
    """A value that is read off."""
    return Step(what=what, formula=formula, numbers="", value=value, unit=unit, source=source)
