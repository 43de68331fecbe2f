"""Answers beside the check: one line explained, the envelope, a kit alone."""
