"""The user's input."""
