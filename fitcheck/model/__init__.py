"""Frozen dataclasses that are passed between the stages, one file per stage.

Nothing here computes more than a sum or a lookup.
"""
