"""Scale, level and the boat frame from measurements taken on board."""
