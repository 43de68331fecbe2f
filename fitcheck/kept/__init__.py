"""The cache between runs: a Result as bytes and back, and where those bytes are stored.

Takes and returns frozen dataclasses of the model; promises that what is returned equals what was
stored, or that nothing is returned.
"""

from fitcheck.kept.inputs import inputs_of
from fitcheck.kept.results import (
    PICTURE,
    keep_explanations,
    keep_files,
    keep_result,
    kept_explanations,
    kept_files,
    kept_result,
)
from fitcheck.kept.spaces import keep_space, kept_space

__all__ = [
    "PICTURE",
    "inputs_of",
    "keep_explanations",
    "keep_files",
    "keep_result",
    "keep_space",
    "kept_explanations",
    "kept_files",
    "kept_result",
    "kept_space",
]
