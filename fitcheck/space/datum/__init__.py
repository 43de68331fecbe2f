"""Scale, level and the boat frame from what was measured on board."""
