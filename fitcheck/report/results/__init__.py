"""A result as data: written, and read back."""
