"""The frame of every page: its outline, styles and scripts."""
