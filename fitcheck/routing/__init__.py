"""Hoses: takes Scenario, Space and Fit, promises for every line the shortest legs-and-bends curve
found that keeps its bend radius and clearance, with a length no such hose can undercut."""

from fitcheck.routing.lay.recall import Recall
from fitcheck.routing.stage import allow_wander, route_hoses
from fitcheck.routing.told.mounting import play_unknown

__all__ = ["Recall", "allow_wander", "play_unknown", "route_hoses"]
