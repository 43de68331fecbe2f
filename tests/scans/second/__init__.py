"""A second simulator of phone scans, written apart from the first.

    scan = make_scan("wet locker", tuning_seed(3), "middle")
    scan.boat(path)        the boat file an owner would write
    scan.truth.parts(p)    how deep points lie in bodies and out of the compartment
    scan.rays()            every measured point and the place it was measured from

What both simulators say is no habit of one: they share neither rooms, walk, sensor nor fusion.
Here bodies are closed meshes of any shape and rays meet triangles; the first has convex bodies and
planes. Open `scan` first, then
`families`, `phone`, `volume`, `level`.
"""

from tests.scans.second.level import FAMILIES, LEVELS, held_out_seeds, tuning_seed
from tests.scans.second.scan import Scan, make_scan

__all__ = ["FAMILIES", "LEVELS", "Scan", "held_out_seeds", "make_scan", "tuning_seed"]
