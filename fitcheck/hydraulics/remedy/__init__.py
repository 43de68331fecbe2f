"""Remedies for fails: proposed, routed and solved again, then reported."""
