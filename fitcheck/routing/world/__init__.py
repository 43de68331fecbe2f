"""The surroundings of a hose: obstacles, distances, ports, barred cells, clearance checks."""
