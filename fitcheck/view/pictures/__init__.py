"""Pictures without a window, each with a guard round it."""
