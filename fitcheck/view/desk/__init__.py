"""The desk: the window that a layout is worked on in."""
