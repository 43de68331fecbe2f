"""What one box touches or is close to, and the judgement of its position."""
