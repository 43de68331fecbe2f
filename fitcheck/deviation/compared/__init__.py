"""Where two registered meshes differ, and the same layout tried in both."""
