"""The rows of the catalogue, one chapter per file."""
