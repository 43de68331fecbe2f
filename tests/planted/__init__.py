"""Seeded routing problems: obstacles placed around hoses that are laid out first."""
