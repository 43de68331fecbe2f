"""Whether ordered lengths hold: play of the modules, assemblies, coils."""
