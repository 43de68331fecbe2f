"""What to buy: cut lengths, tubing as it is sold, assemblies, ends, clamps, spares.

Takes the scenario, the floating position of the boat, the hoses as routed and the water side;
promises a cut list and the rows to order. A hose without a route is left out and named.
"""

from fitcheck.order.explain_cuts import explain_cuts
from fitcheck.order.stage import make_order

__all__ = ["explain_cuts", "make_order"]
