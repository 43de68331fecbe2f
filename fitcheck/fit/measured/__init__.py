"""What one box meets, and the judgement of its place."""
