"""The same results as text in a terminal."""
