"""Mesh to Space: takes a scenario, gives labelled cells and a distance that never overestimates.

Promises that a cell called free was seen to be free, or says on whose word it is.
"""

from fitcheck.space.gate import MeshFacts, describe
from fitcheck.space.survey import survey

__all__ = ["MeshFacts", "describe", "survey"]
