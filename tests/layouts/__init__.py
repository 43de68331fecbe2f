"""Invented layouts a person has judged: sound ones, and sound ones with a danger put in.

    for made in sound(): ...        every one fully declared and safe to cut and order for
    for danger in dangers(): ...    one thing wrong each, that a person would see

Open `bay` first (a compartment and its kit as tables), then `sound`, then `dangers`.
"""

from tests.layouts.bay import Bay
from tests.layouts.dangers import Danger, dangers
from tests.layouts.sound import sound

__all__ = ["Bay", "Danger", "dangers", "sound"]
