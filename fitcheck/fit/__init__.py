"""Scenario and Space -> Fit: the position of every module, and remedies where it does not fit.

Promises a verdict for each placed module; a box that does not fit is a finding, never an error.
"""

from fitcheck.fit.explain_gaps import explain_gaps
from fitcheck.fit.offered.lower import stands_lower
from fitcheck.fit.stage import check_fit, mend_fit

__all__ = ["check_fit", "explain_gaps", "mend_fit", "stands_lower"]
