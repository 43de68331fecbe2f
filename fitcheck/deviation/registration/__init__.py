"""Another mesh laid on the boat's: takes triangles and picked pairs, gives where it lies."""
