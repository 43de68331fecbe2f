"""One reader a format, and what several share."""
