"""Pictures without a window, each guarded against failures of the drawing library."""
