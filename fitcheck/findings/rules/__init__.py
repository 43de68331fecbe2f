"""The rows of the catalogue, a chapter a file."""
