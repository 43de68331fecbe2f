"""The largest number that passes, between two: one search for valves, lengths and heights."""

from __future__ import annotations

from collections.abc import Callable

from fitcheck.units import Ratio


def largest(
    passes: Callable[[Ratio], bool], low: Ratio, high: Ratio, halvings: int
) -> Ratio | None:
    """The largest number between two that passes, None if the lower does not."""
    if not passes(low):
        return None
    if passes(high):
        return high
    for _ in range(halvings):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if passes(middle) else (low, middle)
    return low
