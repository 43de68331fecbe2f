"""Cells: free, solid or unseen, and their distance to the nearest surface."""
