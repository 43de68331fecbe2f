"""Files to triangles or points: takes bytes, promises the mesh they contain, or a fault."""
