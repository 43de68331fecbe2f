"""Lower bound on the length of any hose of this radius and clearance."""
