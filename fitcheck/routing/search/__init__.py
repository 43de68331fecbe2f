"""Search for one hose between two poses: direct curve, lattice, settling and reshaping."""
