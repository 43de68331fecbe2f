"""The length that no hose of this radius and clearance undercuts."""
