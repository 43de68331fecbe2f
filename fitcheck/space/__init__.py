"""Mesh to Space: takes a scenario, gives labelled cells and a distance that never overestimates.

Promises that a cell called free was seen to be free, or says on whose word it is.
"""

from fitcheck.meshfiles.gate import RawMesh, read_mesh
from fitcheck.meshfiles.splats import make_splats
from fitcheck.space.compartment import long_search
from fitcheck.space.datum.explain_scale import explain_scale
from fitcheck.space.datum.frame import to_boat
from fitcheck.space.datum.picks import accuracy_of, pick_of
from fitcheck.space.datum.scale import find_scale
from fitcheck.space.look.scan import scan
from fitcheck.space.nearby import on_nearby
from fitcheck.space.stage import survey

__all__ = [
    "RawMesh",
    "accuracy_of",
    "explain_scale",
    "find_scale",
    "long_search",
    "make_splats",
    "on_nearby",
    "pick_of",
    "read_mesh",
    "scan",
    "survey",
    "to_boat",
]
