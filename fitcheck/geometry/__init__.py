"""Basic geometry: grids, boxes, legs-and-bends curves, triangle distance and overlap kernels.

They know metres and cells and nothing of boats or hoses.
"""
