"""Time to move one box and recalculate everything, as in the window.

Run: python -m tests.bench.moving SCENARIO [millimetres]

Every module is moved to and fro along each axis of the boat; only what the move disturbs is
routed again. Moves that leave a box meeting something count too: the answer is then quick.
"""

from __future__ import annotations

import statistics
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np

from fitcheck.model.found.routes import HoseRoute
from fitcheck.model.given.scenario import Placement
from fitcheck.pipeline import Tryout


def moves(placement: Placement, step: float) -> list[Placement]:
    """Back and forth along x, y and z."""
    out = []
    for axis in range(3):
        for sign in (1.0, -1.0):
            at = np.array(placement.at)
            at[axis] += sign * step
            out += [replace(placement, at=(float(at[0]), float(at[1]), float(at[2]))), placement]
    return out


def main() -> None:
    """A row per module, then all moves together."""
    file, step = Path(sys.argv[1]), float(sys.argv[2]) / 1e3 if len(sys.argv) > 2 else 0.010
    tryout = Tryout(file)
    placements = tryout.result.scenario.layout.placements
    tryout.move(placements[0])
    every: list[float] = []
    for placement in placements:
        times, changed = [], []
        for place in moves(placement, step):
            before = _lengths(tryout)
            start = time.perf_counter()
            tryout.move(place)
            times.append(time.perf_counter() - start)
            changed.append(sum(a != b for a, b in zip(before, _lengths(tryout), strict=True)))
        every += times
        print(
            f"{placement.module:16} median {statistics.median(times):.2f} s, worst "
            f"{max(times):.2f} s; hoses changed a move: {statistics.mean(changed):.1f}",
            flush=True,
        )
    far = float(np.quantile(every, 0.95))
    print(
        f"{len(every)} moves of {1e3 * step:.0f} mm: median {statistics.median(every):.2f} s, "
        f"95 % within {far:.2f} s, worst {max(every):.2f} s"
    )


def _lengths(tryout: Tryout) -> list[float]:
    hoses = tryout.result.routes.hoses
    return [hose.length if isinstance(hose, HoseRoute) else 0.0 for hose in hoses]


if __name__ == "__main__":
    main()
