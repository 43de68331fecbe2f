"""Frozen dataclasses that pass between the stages, one file per stage.

Nothing here computes more than a sum or a lookup.
"""
