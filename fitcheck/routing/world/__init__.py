"""What a hose runs among: obstacles, distances, ports, what is barred, what is kept."""
