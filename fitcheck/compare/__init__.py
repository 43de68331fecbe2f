"""More than one: scenarios side by side, or another mesh laid on the boat's.

Takes files; every run is sequential, what one of them cannot do is said of it alone, and what is
done is written before the next begins.
"""

from fitcheck.compare.meshes import compare_meshes
from fitcheck.compare.scenarios import compare_scenarios

__all__ = ["compare_meshes", "compare_scenarios"]
