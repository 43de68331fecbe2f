"""One reader per format, and shared code."""
