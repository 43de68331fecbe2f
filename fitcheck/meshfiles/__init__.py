"""Files to triangles or points: takes bytes, promises the mesh they hold, or a fault."""
