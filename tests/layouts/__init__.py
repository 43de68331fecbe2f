"""Invented layouts judged by a person: sound ones, and sound ones with a danger added.

    for made in sound(): ...        every one fully declared and safe to cut and order for
    for danger in dangers(): ...    each with one fault a person would notice

Open `bay` first (a compartment and its kit as tables), then `sound`, then `dangers`.
"""

from tests.layouts.bay import Bay
from tests.layouts.dangers import Danger, dangers
from tests.layouts.sound import sound

__all__ = ["Bay", "Danger", "dangers", "sound"]
