"""Hoses: ways, bends, clearances, what holds them."""

from __future__ import annotations

SENTENCES = {
    "mounting.kept": "Mount the modules within +-{usual} of their places: every ordered length "
    "holds.",
    "mounting.short": "With the modules within +-{usual} of their places not every ordered length "
    "holds. These ask for more: {hoses}.",
    "mounting.play": "{line} +-{within}",
    "mounting.no-play": "{line} no play at all",
    "mounting.remedy": "Measure these once the modules stand, or route them another way: {hoses}. "
    "Or mount the modules within +-{least} of their places and write that as "
    "kit.allowances.mounting.",
    "mounting.no-length": "{line}: no length was found that would hold",
    "mounting.longer": "{line}: {spare} more than {whole} would hold",
}
