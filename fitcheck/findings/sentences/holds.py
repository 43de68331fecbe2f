"""Whether a step is safe, and why."""

from __future__ import annotations

SENTENCES = {
    "hold.reason": "{reason}",
    "hold.reasons": "{reason} (and {more} more)",
    "hold.may-cut": "every module fits with its service clearances",
    "hold.may-order": "every hose is routed and every limit is met",
    "hold.read": "{good}; read the {cautions} {cautions:caution|cautions} first",
}
