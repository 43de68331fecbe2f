"""The scene as bodies, for the page and for files."""
