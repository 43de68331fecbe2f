"""Seeds to tune on and seeds kept for the acceptance run alone."""

from __future__ import annotations

SHAPES = ("hull side", "locker", "engine space")
#: How many tuning seeds there are; every shape has the same.
TUNING = 40
#: The second set: of the first (50_100 ..) 44 scans were run, and the rule changed after them.
_HELD_OUT = {"hull side": 70_100, "locker": 70_200, "engine space": 70_300}


def tuning_seed(number: int) -> int:
    """The seed of that number, 0 .. TUNING - 1, to look at as often as one likes."""
    if not 0 <= number < TUNING:
        raise ValueError(f"no tuning seed {number}")
    return 1_000 + number


def held_out_seeds(shape: str, *, acceptance: bool = False) -> tuple[int, ...]:
    """Ten seeds nothing was ever tuned on; only the acceptance run may ask."""
    if not acceptance:
        raise PermissionError("held-out seeds are for the acceptance run")
    return tuple(range(_HELD_OUT[shape], _HELD_OUT[shape] + 10))


def check_seed(seed: int, *, acceptance: bool) -> None:
    """Raise PermissionError for a seed that is no tuning seed, unless it is the acceptance run."""
    if not acceptance and not 1_000 <= seed < 1_000 + TUNING:
        raise PermissionError(f"{seed} is no tuning seed")
