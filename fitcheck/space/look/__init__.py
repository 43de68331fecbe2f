"""A scan looked at on board, before there is a scenario."""
