"""Compare another mesh of the same compartment with the boat's.

Takes files: a boat's, another mesh, and pairs picked on both. Promises where the two differ, the
uncertainty, the evidence against the alignment, and how the same layout fits in the other mesh;
prints it and writes its files completely or not at all.
"""

from fitcheck.deviation.compared.meshes import compare_meshes
from fitcheck.deviation.files import write_deviation
from fitcheck.deviation.terminal import print_deviation

__all__ = ["compare_meshes", "print_deviation", "write_deviation"]
