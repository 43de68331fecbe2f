"""Another mesh laid on the boat's: takes triangles and picked pairs, gives where it lies.

Promises to say what speaks against it (`register`) and where the two differ (`find_patches`).
"""

from fitcheck.registration.faults import pair_faults
from fitcheck.registration.laid import Picks, Scale, register
from fitcheck.registration.patches import FARTHEST, find_patches, offsets

__all__ = [
    "FARTHEST",
    "Picks",
    "Scale",
    "find_patches",
    "offsets",
    "pair_faults",
    "register",
]
