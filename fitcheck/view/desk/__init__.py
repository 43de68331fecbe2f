"""The window for working on a layout."""
