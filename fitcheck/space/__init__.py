"""Mesh to Space: takes a scenario, gives labelled cells and a distance that never overestimates.

Promises that a cell called free was seen to be free, or says on whose word it is.
"""

from fitcheck.space.frame import find_frame, to_boat
from fitcheck.space.gate import MeshFacts, describe, read_mesh
from fitcheck.space.survey import survey

__all__ = ["MeshFacts", "describe", "find_frame", "read_mesh", "survey", "to_boat"]
