"""The result of reading one format, and the messages with which files are refused."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fitcheck.errors import MeshError
from fitcheck.findings.said import Said
from fitcheck.units import Metre

#: A larger file is not a compartment, and would not fit in memory either.
MAX_BYTES = 1_000_000_000
MAX_TRIANGLES = 10_000_000
#: Points are read some at a time and thinned, so that a cloud may be larger.
MAX_CLOUD_BYTES = 6_000_000_000

REEXPORT = "export it again from the program that made it, as binary PLY or GLB"
REPAIR = "repair the mesh where it was made and export it again"
THIN = "cut the compartment out of it or thin the mesh"


def _none() -> NDArray[np.float64]:
    return np.empty((0, 3))


@dataclass(frozen=True, eq=False, kw_only=True)
class Reading:
    """Triangles (n, 3, 3) or points (m, 3) of a file, in its own axes and unit.

    short : coordinates are 32-bit, so there are only about seven digits
    promised : number of triangles declared in its header, None if there is none
    unit : the unit the file declares; `up` the up axis of the format, "" if undefined
    said : remarks on how it was read
    doubts : why it may not be the complete export
    normals : (m, 3) of the points, out of the surface, or empty
    stations : (k, 3) scanner positions; station : (m,) which of them saw a point, or empty; where
    the positions are in another file, the number of the frame that saw it
    """

    triangles: NDArray[np.float64] = field(default_factory=lambda: np.empty((0, 3, 3)))
    short: bool = False
    promised: int | None = None
    unit: Metre | None = None
    up: str = ""
    said: tuple[str | Said, ...] = ()
    doubts: tuple[str, ...] = ()
    points: NDArray[np.float64] = field(default_factory=_none)
    normals: NDArray[np.float64] = field(default_factory=_none)
    stations: NDArray[np.float64] = field(default_factory=_none)
    station: NDArray[np.int32] = field(default_factory=lambda: np.empty(0, dtype=np.int32))


def thinned_to(count: int, kept: int) -> tuple[str, ...]:
    """A remark that a cloud was thinned, empty if it was not."""
    return (f"{count:,} points were thinned to {kept:,}",) if kept < count else ()


def decimals(words: Iterable[bytes], name: str) -> NDArray[np.float64]:
    """Words of a text as numbers. Raises MeshError for anything else."""
    try:
        return np.fromiter((decimal(word) for word in words), dtype=np.float64)
    except ValueError as error:
        raise MeshError(name, f"a word is not a number ({error})"[:120], REPAIR) from None


def decimal(word: bytes) -> float:
    """A word of a text as a number. Raises ValueError for anything else."""
    # Python reads 1_000, but no mesh format does.
    if b"_" in word:
        raise ValueError(repr(word))
    return float(word)


def whole(word: bytes) -> int:
    """A word of a text as a whole number. Raises ValueError for anything else."""
    if b"_" in word:
        raise ValueError(repr(word))
    return int(word)


def refuse_count(triangles: int, name: str) -> None:
    """Raise MeshError for a file with no triangles, or more than can be held."""
    if triangles == 0:
        raise MeshError(name, "the file has no triangles", REEXPORT)
    if triangles > MAX_TRIANGLES:
        count = f"{triangles:,}" if triangles < 10**15 else f"{float(min(triangles, 10**300)):.0e}"
        seen = f"the file contains {count} triangles, the maximum is {MAX_TRIANGLES:,}"
        raise MeshError(name, seen, THIN)


def moved(triangles: NDArray[np.float64], matrix: NDArray[np.float64]) -> NDArray[np.float64]:
    """(n, 3, 3) triangles transformed by a 4 x 4 matrix; a mirrored one keeps its front side."""
    # NaN in the result is refused by the gate, with a message.
    with np.errstate(all="ignore"):
        result: NDArray[np.float64] = triangles @ matrix[:3, :3].T
        result += matrix[:3, 3]
    return result[:, ::-1] if np.linalg.det(matrix[:3, :3]) < 0.0 else result
