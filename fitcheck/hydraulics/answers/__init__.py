"""Additional answers: one line explained, the envelope, a kit alone."""
