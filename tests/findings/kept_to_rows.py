"""Check every finding that the program builds against its row of the catalogue during tests.

python -m pytest -p tests.findings.kept_to_rows tests/fit/test_fit.py
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from typing import Any

from fitcheck.findings import CATALOGUE, RemedyKind
from fitcheck.model.finding import Finding, Remedy

#: Code that reads findings from a file builds whatever the file contains.
READERS = ("fitcheck.kept", "fitcheck.report")
_OPEN = ExitStack()


def faults(finding: Finding) -> list[str]:
    """Properties of a finding that its row does not allow."""
    row = CATALOGUE.get(finding.rule)
    if row is None:
        return [f"{finding.rule}: no row"]
    kinds = {kind_of(one) for one in (finding.remedy, *finding.alternatives)}
    said = [
        *({finding.severity} - set(row.severities)),
        *(set(finding.bars) - set(row.bars)),
        *(kinds - set(row.remedies)),
    ]
    if finding.limit is not None and not row.limit:
        said.append("a limit")
    practice = "common practice, no source"
    if practice in finding.source and row.limit and practice not in row.origins:
        said.append(practice)
    return [f"{finding.rule}: {word}" for word in said]


def kind_of(remedy: Remedy | None) -> RemedyKind:
    """The kind of a remedy, by what it writes."""
    if remedy is None:
        return "none"
    if not remedy.changes:
        return "words"
    moved = all(change.key.startswith("layout.modules.") for change in remedy.changes)
    return "move" if moved else "keys"


@contextmanager
def watched() -> Iterator[list[Finding]]:
    """Collect the findings the program builds, and reject those their row does not allow."""
    built: list[Finding] = []
    plain = Finding.__init__

    def watching(self: Finding, *values: Any, **named: Any) -> None:
        plain(self, *values, **named)
        frame = sys._getframe(1)
        while frame.f_back is not None and frame.f_globals["__name__"] in ("dataclasses", "copy"):
            frame = frame.f_back
        home = str(frame.f_globals["__name__"])
        if home.startswith("fitcheck.") and not home.startswith(READERS):
            built.append(self)
            # the water side adds its remedies last, for all verdicts together
            assert [row for row in faults(self) if not row.endswith(": none")] == [], self

    Finding.__init__ = watching  # type: ignore[method-assign]
    try:
        yield built
    finally:
        Finding.__init__ = plain  # type: ignore[method-assign]


def pytest_runtestloop() -> None:
    """As a plugin: watched from the first test to the last."""
    _OPEN.enter_context(watched())
