"""Pages and their drawings."""
