"""Seeds for tuning and seeds reserved for the acceptance run."""

from __future__ import annotations

SHAPES = ("hull side", "locker", "engine space")
#: Number of tuning seeds, the same for every shape.
TUNING = 40
#: The third set. Of the first (50_100 ..) 44 scans were run, of the second (70_100 ..) all 90; the
#: rule for free space was changed after each, based on what they had shown.
_HELD_OUT = {"hull side": 90_100, "locker": 90_200, "engine space": 90_300}
#: The first seeds of those sets, ten per shape: burnt, and so free to examine.
_BURNT = (50_100, 50_200, 50_300, 70_100, 70_200, 70_300)


def tuning_seed(number: int) -> int:
    """The seed of that number, 0 .. TUNING - 1, which may be examined freely."""
    if not 0 <= number < TUNING:
        raise ValueError(f"no tuning seed {number}")
    return 1_000 + number


def held_out_seeds(shape: str, *, acceptance: bool = False) -> tuple[int, ...]:
    """Ten seeds never used for tuning; only for the acceptance run."""
    if not acceptance:
        raise PermissionError("held-out seeds are for the acceptance run")
    return tuple(range(_HELD_OUT[shape], _HELD_OUT[shape] + 10))


def check_seed(seed: int, *, acceptance: bool) -> None:
    """Raise PermissionError for a seed that is neither tuning nor burnt, except for acceptance."""
    burnt = any(first <= seed < first + 10 for first in _BURNT)
    if not acceptance and not burnt and not 1_000 <= seed < 1_000 + TUNING:
        raise PermissionError(f"{seed} is no tuning seed")
