"""Faults that no single key shows."""
