"""Route single lines and sets of lines: through holes, along structure, past one another."""
