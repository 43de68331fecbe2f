"""Seeded routing problems: obstacles grown round hoses that are laid first."""
