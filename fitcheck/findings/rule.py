"""One row of the catalogue."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Severity = Literal["note", "caution", "fail"]
SEVERITIES: tuple[Severity, ...] = ("fail", "caution", "note")

#: Steps a user takes on the strength of a result.
Step = Literal["cut_joinery", "order_hoses"]

#: Where a limit comes from.
Origin = Literal[
    "a published source", "your files", "what was measured", "common practice, no source"
]
#: The form of a remedy: keys to write, a module to move, words for a person, or none.
RemedyKind = Literal["keys", "move", "words", "none"]

#: A limit, or a size that is required.
Against = Literal["limit", "required"]

CUT: tuple[Step, ...] = ("cut_joinery",)
ORDER: tuple[Step, ...] = ("order_hoses",)
BOTH: tuple[Step, ...] = ("cut_joinery", "order_hoses")

PUBLISHED: Origin = "a published source"
FILES: Origin = "your files"
MEASURED: Origin = "what was measured"
PRACTICE: Origin = "common practice, no source"


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """The permitted properties of findings of one rule.

    `title` names it in a few words; `meaning` is what was found, in one sentence; `limit` is what
    it is compared with, empty where the rule has no limit, and `origins` are its possible sources;
    `against` is the word for the comparison when a number is printed; `shown_as` is the kind for
    `units.show` where the unit is ambiguous; `bars` are the steps that a finding may bar by
    itself, whatever its severity.
    """

    rule: str
    title: str
    meaning: str
    severities: tuple[Severity, ...]
    limit: str = ""
    against: Against = "limit"
    shown_as: str = ""
    origins: tuple[Origin, ...] = ()
    bars: tuple[Step, ...] = ()
    remedies: tuple[RemedyKind, ...] = ("none",)
