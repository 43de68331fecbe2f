"""Bisection for the largest passing number, used for valves, lengths and heights."""

from __future__ import annotations

from collections.abc import Callable

from fitcheck.units import Ratio


def largest(
    passes: Callable[[Ratio], bool], low: Ratio, high: Ratio, halvings: int
) -> Ratio | None:
    """The largest passing number between two, None if the lower one does not pass."""
    if not passes(low):
        return None
    if passes(high):
        return high
    for _ in range(halvings):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if passes(middle) else (low, middle)
    return low
