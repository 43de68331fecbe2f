"""Faults that involve more than one key."""
