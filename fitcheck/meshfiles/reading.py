"""What a reader of one format hands over, and the words in which files are refused."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fitcheck.errors import MeshError
from fitcheck.units import Metre

#: More than this is no compartment but a shipyard; it would not fit in memory either.
MAX_BYTES = 1_000_000_000
MAX_TRIANGLES = 10_000_000
MAX_POINTS = 60_000_000

REEXPORT = "export it again from the program that made it, as binary PLY or GLB"
REPAIR = "repair the mesh where it was made and export it again"
THIN = "cut the compartment out of it or thin the mesh"


def _none() -> NDArray[np.float64]:
    return np.empty((0, 3))


@dataclass(frozen=True, eq=False, kw_only=True)
class Reading:
    """Triangles (n, 3, 3) or points (m, 3) of a file, in its own axes and unit.

    short    : coordinates are 32-bit, so about seven digits are all there is
    promised : triangles its header speaks of, None when it does not
    unit     : the unit the file declares; `up` the axis its format calls up, "" when it does not
    said     : what is worth telling of how it was read
    doubts   : why it may not be the whole of what was exported
    normals  : (m, 3) of the points, out of the surface, or empty
    stations : (k, 3) where the scanner stood; station : (m,) which of them saw a point, or empty
    """

    triangles: NDArray[np.float64] = field(default_factory=lambda: np.empty((0, 3, 3)))
    short: bool = False
    promised: int | None = None
    unit: Metre | None = None
    up: str = ""
    said: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()
    points: NDArray[np.float64] = field(default_factory=_none)
    normals: NDArray[np.float64] = field(default_factory=_none)
    stations: NDArray[np.float64] = field(default_factory=_none)
    station: NDArray[np.int32] = field(default_factory=lambda: np.empty(0, dtype=np.int32))


def decimals(words: Iterable[bytes], name: str) -> NDArray[np.float64]:
    """Words of a text as numbers. Raises MeshError where one is none."""
    try:
        return np.fromiter((decimal(word) for word in words), dtype=np.float64)
    except ValueError as error:
        raise MeshError(name, f"a word is not a number ({error})"[:120], REPAIR) from None


def decimal(word: bytes) -> float:
    """A word of a text as a number. Raises ValueError when it is none."""
    # The language reads 1_000, no mesh format does.
    if b"_" in word:
        raise ValueError(repr(word))
    return float(word)


def whole(word: bytes) -> int:
    """A word of a text as a whole number. Raises ValueError when it is none."""
    if b"_" in word:
        raise ValueError(repr(word))
    return int(word)


def refuse_count(triangles: int, name: str) -> None:
    """Raise MeshError when a file comes to no triangles, or to more than can be held."""
    if triangles == 0:
        raise MeshError(name, "the file has no triangles", REEXPORT)
    if triangles > MAX_TRIANGLES:
        count = f"{triangles:,}" if triangles < 10**15 else f"{float(min(triangles, 10**300)):.0e}"
        seen = f"the file contains {count} triangles, the maximum is {MAX_TRIANGLES:,}"
        raise MeshError(name, seen, THIN)


def moved(triangles: NDArray[np.float64], matrix: NDArray[np.float64]) -> NDArray[np.float64]:
    """(n, 3, 3) triangles by a 4 x 4 matrix; a mirrored one keeps its front where it was."""
    # What is no number afterwards is refused by the gate, in words.
    with np.errstate(all="ignore"):
        result: NDArray[np.float64] = triangles @ matrix[:3, :3].T
        result += matrix[:3, 3]
    return result[:, ::-1] if np.linalg.det(matrix[:3, :3]) < 0.0 else result
