"""Whether ordered lengths fit: mounting tolerance of the modules, assemblies, coils."""
