"""The catalogue as text, for `fitcheck rules`."""

from __future__ import annotations

import difflib
import textwrap

from fitcheck.errors import FitcheckError
from fitcheck.findings.catalogue import CATALOGUE, CHAPTERS
from fitcheck.findings.rule import RemedyKind, Rule, Step

WIDTH = 80

STEPS: dict[Step, str] = {"cut_joinery": "cutting joinery", "order_hoses": "ordering hoses"}
BRIEF: dict[Step, str] = {"cut_joinery": "cut", "order_hoses": "order"}
REMEDIES: dict[RemedyKind, str] = {
    "keys": "keys to write (fitcheck apply writes them)",
    "move": "a new position for a module (fitcheck apply writes it)",
    "words": "words",
    "none": "none",
}
FAILS = (
    "A fail bars ordering hoses; one on the mesh, level, modules or boards also bars cutting "
    "joinery. The column `bars` lists what a rule may bar on its own, whatever its severity."
)


def rules_table() -> str:
    """Every rule with its severities, what it may bar and what it means."""
    lead = max(map(len, CATALOGUE)) + 2
    head = f"{'rule':<{lead}}{'may be':<21}bars"
    lines = [textwrap.fill(FAILS, WIDTH), "", head]
    for chapter, rows in CHAPTERS:
        lines += ["", chapter]
        for row in rows:
            may, bars = ", ".join(row.severities), ", ".join(BRIEF[step] for step in row.bars)
            lines.append(f"{row.rule:<{lead}}{may:<21}{bars}".rstrip())
            lines.append(_wrapped("    ", row.meaning))
    return "\n".join(lines) + "\n"


def rule_told(rule: str) -> str:
    """One rule in full; FitcheckError for an unknown name."""
    if rule not in CATALOGUE:
        near = difflib.get_close_matches(rule, CATALOGUE, 3)
        meant = f"; did you mean {' or '.join(near)}?" if near else ""
        raise FitcheckError(f"{rule}: no such rule{meant} `fitcheck rules` lists all")
    return _in_full(CATALOGUE[rule])


def _in_full(row: Rule) -> str:
    origins = "; ".join(row.origins)
    said = (
        ("rule", f"{row.rule} ({row.title})"),
        ("meaning", row.meaning),
        ("may be", ", ".join(row.severities)),
        ("limit", f"{row.limit} (from {origins})" if row.limit else "none"),
        ("may bar", ", ".join(STEPS[step] for step in row.bars) or "nothing on its own"),
        ("remedy", "; ".join(REMEDIES[kind] for kind in row.remedies)),
    )
    return "\n".join(_wrapped(f"{word:<10}", text) for word, text in said) + "\n"


def _wrapped(start: str, text: str) -> str:
    return textwrap.fill(
        text,
        WIDTH,
        initial_indent=start,
        subsequent_indent=" " * len(start),
        break_on_hyphens=False,
    )
