"""The parts of a drawing: bodies, captions, cameras."""
