"""Scans with known truth: bays drawn as closed solids, scanned by a simulated phone.

    scan = make_scan("locker", tuning_seed(3), "middle")
    scan.boat(path)        the boat file an owner would write, picked with his errors
    scan.truth.label(p)    what is really at a point
    scan.mesh_to_truth(p)  where a point of the mesh really is

Open `scan` first, then `shapes`, `sensor`, `fusion`, `seeds`.
"""

from tests.scans.scan import Scan, make_scan
from tests.scans.seeds import SHAPES, held_out_seeds, tuning_seed
from tests.scans.severity import SEVERITIES

__all__ = ["SEVERITIES", "SHAPES", "Scan", "held_out_seeds", "make_scan", "tuning_seed"]
