"""Small unconnected bodies of the mesh: brackets, or noise of the scan."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fitcheck.geometry.box import as_point
from fitcheck.meshfiles.topology import Topology, body_bounds, topology
from fitcheck.model.found.space import LooseBit
from fitcheck.units import Metre

#: Smaller bodies are called loose pieces [m]; common practice, no source.
BIT: Metre = 0.060


def loose_bits(
    surface: NDArray[np.float64], found: Topology | None = None
) -> tuple[LooseBit, ...]:
    """Bodies smaller than BIT among (n, 3, 3) triangles [m], as enclosing balls."""
    low, high = body_bounds(surface, found or topology(surface))
    small = (high - low).max(axis=1) < BIT
    return tuple(
        LooseBit(centre=as_point((a + b) / 2.0), radius=float(np.linalg.norm(b - a)) / 2.0)
        for a, b in zip(low[small], high[small], strict=True)
    )
