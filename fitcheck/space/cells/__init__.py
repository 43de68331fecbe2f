"""Cells: seen free, solid or unseen, and how far each is from a surface."""
