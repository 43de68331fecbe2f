"""How bad a scan of the second simulator is, and the seeds to tune on and to keep.

Figures are invented after common experience with phones, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

FAMILIES = (
    "lazarette",
    "under berth",
    "twin tanks",
    "l shape",
    "wet locker",
    "ribbed",
)
#: How many tuning seeds there are; every family has the same.
TUNING = 40
_FIRST_TUNING, _FIRST_HELD_OUT = 2_000, 40_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """What goes wrong in one scan; metres, radians, shares.

    stated          : accuracy its owner writes into the boat file
    frames          : depth images taken; reach: how far from the opening the phone gets
    care            : share of looks aimed at what was not looked at before
    base, far       : range noise, one sigma: base + far * range^2, over the cosine of incidence
    ripple          : noise common to patches of an image, one sigma at 1 m
    coarse          : pixels from one true measurement to the next, between which it interpolates
    grazing         : cosine of incidence from which returns begin to be lost
    mixed           : share of pixels at an edge that lie between front and back
    dark, dark_lost : share of bodies that are dark, and of their returns that are lost
    glossy, patch   : glossy patches that mirror, and the largest radius of one
    drift, swing    : how far the last frames lie off the first, and how far they are turned
    wander          : unsteadiness of the pose on top of that, one sigma
    rolling, scale  : amplitude of a scale error that changes along the path; sigma of a steady one
    lumps           : bodies of 60 to 160 mm that noise has made
    least           : weight, near enough the number of frames, from which a surface is shown
    keep            : share of the triangles left by decimation
    pick            : one sigma of a point picked on the mesh, per axis
    """

    name: str
    stated: float
    frames: int
    reach: float
    care: float
    base: float
    far: float
    ripple: float
    coarse: int
    grazing: float
    mixed: float
    dark: float
    dark_lost: float
    glossy: int
    patch: float
    drift: float
    swing: float
    wander: float
    rolling: float
    scale: float
    lumps: int
    least: float
    keep: float
    pick: float


LIGHT = Level(
    name="light",
    stated=0.015,
    frames=110,
    reach=0.9,
    care=0.95,
    base=0.002,
    far=0.001,
    ripple=0.002,
    coarse=1,
    grazing=0.15,
    mixed=0.2,
    dark=0.1,
    dark_lost=0.3,
    glossy=0,
    patch=0.0,
    drift=0.004,
    swing=0.002,
    wander=0.001,
    rolling=0.002,
    scale=0.003,
    lumps=1,
    least=1.5,
    keep=0.4,
    pick=0.004,
)
MIDDLE = Level(
    name="middle",
    stated=0.025,
    frames=90,
    reach=0.75,
    care=0.8,
    base=0.003,
    far=0.003,
    ripple=0.004,
    coarse=2,
    grazing=0.25,
    mixed=0.5,
    dark=0.25,
    dark_lost=0.6,
    glossy=2,
    patch=0.14,
    drift=0.012,
    swing=0.005,
    wander=0.003,
    rolling=0.005,
    scale=0.008,
    lumps=3,
    least=1.8,
    keep=0.25,
    pick=0.006,
)
HARSH = Level(
    name="harsh",
    stated=0.045,
    frames=70,
    reach=0.6,
    care=0.6,
    base=0.005,
    far=0.006,
    ripple=0.007,
    coarse=3,
    grazing=0.35,
    mixed=0.8,
    dark=0.4,
    dark_lost=0.85,
    glossy=4,
    patch=0.22,
    drift=0.025,
    swing=0.010,
    wander=0.005,
    rolling=0.010,
    scale=0.015,
    lumps=6,
    least=2.0,
    keep=0.15,
    pick=0.009,
)
LEVELS = {level.name: level for level in (LIGHT, MIDDLE, HARSH)}


def tuning_seed(number: int) -> int:
    """The seed of that number, 0 .. TUNING - 1, to look at as often as one likes."""
    if not 0 <= number < TUNING:
        raise ValueError(f"no tuning seed {number}")
    return _FIRST_TUNING + number


def held_out_seeds(family: str, *, acceptance: bool = False) -> tuple[int, ...]:
    """Ten seeds nothing was ever tuned on; only the acceptance run may ask."""
    if not acceptance:
        raise PermissionError("held-out seeds are for the acceptance run")
    first = _FIRST_HELD_OUT + 100 * FAMILIES.index(family)
    return tuple(range(first, first + 10))


def check_seed(seed: int, *, acceptance: bool) -> None:
    """Raise PermissionError for a seed that is not for tuning, but for acceptance."""
    if not acceptance and not _FIRST_TUNING <= seed < _FIRST_TUNING + TUNING:
        raise PermissionError(f"{seed} is no tuning seed")
