"""What would put a fail right: thought of, routed and solved again, then told."""
