"""What is drawn: bodies, captions, cameras."""
