"""The same results as text for a terminal."""
