"""Align another mesh with the boat's: takes triangles and picked pairs, returns the position."""
