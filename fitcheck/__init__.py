"""fitcheck: does a modular seawater watermaker fit this boat, and will it be fed?"""

from pathlib import Path

from fitcheck.kernels import drop_stale, keep_elsewhere

__version__ = "0.1.0"

drop_stale(Path(__file__).parent)
keep_elsewhere(Path(__file__).parent)
