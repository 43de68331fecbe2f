"""The frame every page stands in: its outline, its styles, its scripts."""
