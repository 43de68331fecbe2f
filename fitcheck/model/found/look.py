"""Colours and words for results on the page, in the window and in the terminal.

Colours are from the eight that Okabe and Ito chose to be distinguishable for colour-blind readers
("Color Universal Design", 2008). The closest two of the six used here are 12 apart (CIEDE2000,
worst of three simulated deficiencies), too close to rely on alone: every duty also has a line
style, a width and its name in words.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from fitcheck.model.finding import Severity
from fitcheck.model.found.fit import FitVerdict
from fitcheck.model.given.kit import Duty
from fitcheck.units import Ratio


@dataclass(frozen=True, slots=True, kw_only=True)
class DutyLook:
    """A line's colour and style; `dash` is (drawn, left out, ...) in line widths, () for a solid
    line.
    """

    colour: str
    style: str
    dash: tuple[Ratio, ...]
    width: Ratio


# Tubing is sold in colours that people read: the product tube is often blue or yellow, the feed
# tube red, white or green, the brine tube black or red (common practice, no source). A line on the
# page must not suggest a tube of that colour, so none of the three uses one of its own here: feed
# is sky blue, brine reddish purple, product bluish green. Vermillion, the loudest, marks the
# dangerous pressure. Yellow (invisible on white) and orange (too close to vermillion) are left
# out.
DUTY_LOOKS: dict[Duty, DutyLook] = {
    "suction": DutyLook(colour="#0072B2", style="solid", dash=(), width=1.5),
    "feed": DutyLook(colour="#56B4E9", style="long dashes", dash=(6.0, 2.0), width=1.3),
    "bypass": DutyLook(colour="#000000", style="dots", dash=(1.0, 1.5), width=1.0),
    "high pressure": DutyLook(colour="#D55E00", style="short dashes", dash=(2.5, 1.5), width=1.3),
    "brine": DutyLook(
        colour="#CC79A7", style="dash and dot", dash=(5.0, 1.5, 1.2, 1.5), width=1.3
    ),
    "product": DutyLook(
        colour="#009E73",
        style="dash and two dots",
        dash=(5.0, 1.5, 1.2, 1.5, 1.2, 1.5),
        width=1.0,
    ),
}

SCAN_COLOUR = "#B4B4AC"
UNSEEN_COLOUR = "#8A8A8A"
MODULE_COLOUR = "#E9E4D4"
BOARD_COLOUR = "#B9A27C"
MODULE_EDGE_COLOUR = "#3A3A3A"
CLIP_COLOUR = "#3C454C"
WATER_COLOUR = "#9CC3D9"
#: The picked item gets this colour and everything else fades to FADED opacity.
PICKED_COLOUR = "#000000"
FADED: Ratio = 0.15


@dataclass(frozen=True, slots=True, kw_only=True)
class VerdictLook:
    """A verdict's word, a mark that survives a grey print, and a colour dark enough for text."""

    word: str
    mark: str
    colour: str


SEVERITY_LOOKS: dict[Severity, VerdictLook] = {
    "fail": VerdictLook(word="fail", mark="X", colour="#9C2A00"),
    "caution": VerdictLook(word="caution", mark="!", colour="#7A4E00"),
    "note": VerdictLook(word="note", mark="i", colour="#3D4A54"),
}

VERDICT_LOOKS: dict[Literal["pass", "caution", "fail"], VerdictLook] = {
    "fail": VerdictLook(word="does not work as drawn", mark="X", colour="#9C2A00"),
    "caution": VerdictLook(word="works, with cautions", mark="!", colour="#7A4E00"),
    "pass": VerdictLook(word="works", mark="ok", colour="#00573F"),
}


def verdict_words(verdict: Literal["pass", "caution", "fail"], *, ready: bool) -> str:
    """The verdict in a few words; without a fail it is still "not ready" while a step is barred.

    ready : whether joinery may be cut and hoses may be ordered
    """
    return VERDICT_LOOKS[verdict].word if ready or verdict == "fail" else "not ready yet"


#: Meaning and severity of each verdict on a module (None: good).
FIT_WORDS: dict[FitVerdict, tuple[str, Severity | None]] = {
    "fits": ("fits", None),
    "touch": ("fits by what was scanned: check by hand", "caution"),
    "tight": ("fits, but tight", "caution"),
    "clash": ("does not fit", "fail"),
    "unseen": ("in unscanned space", "fail"),
}
