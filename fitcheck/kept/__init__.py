"""Results kept from run to run: a Result as bytes and back, and where those bytes lie.

Takes and gives frozen dataclasses of the model; promises that what comes back is equal to what
was kept, or that nothing comes back.
"""

from fitcheck.kept.results import keep_result, kept_result

__all__ = ["keep_result", "kept_result"]
