"""From mesh to Space: takes a scenario, returns labelled cells and a lower bound on the distance.

Promises that a cell called free was seen to be free, or states whose declaration it relies on.
"""

from fitcheck.meshfiles.gate import RawMesh, read_mesh
from fitcheck.meshfiles.splats import make_splats
from fitcheck.space.compartment import long_search
from fitcheck.space.datum.explain_scale import explain_scale
from fitcheck.space.datum.frame import to_boat
from fitcheck.space.datum.picks import accuracy_of, pick_of
from fitcheck.space.datum.scale import find_scale
from fitcheck.space.look.scan import scan
from fitcheck.space.misread import on_frame
from fitcheck.space.nearby import on_nearby
from fitcheck.space.stage import survey

__all__ = [
    "RawMesh",
    "accuracy_of",
    "explain_scale",
    "find_scale",
    "long_search",
    "make_splats",
    "on_frame",
    "on_nearby",
    "pick_of",
    "read_mesh",
    "scan",
    "survey",
    "to_boat",
]
