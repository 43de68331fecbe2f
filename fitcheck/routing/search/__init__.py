"""One hose between two poses: direct curve, lattice, settled and reshaped."""
