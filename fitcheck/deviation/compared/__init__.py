"""Where two registered meshes differ, and the same layout checked in both."""
