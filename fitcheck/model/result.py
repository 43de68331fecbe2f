"""Everything the main job found, and its conclusions."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from fitcheck.findings.said import Said, say
from fitcheck.model.finding import SEVERITIES, Assumption, Finding, Remedy
from fitcheck.model.found.fit import Fit
from fitcheck.model.found.hydraulics import Hydraulics
from fitcheck.model.found.order import Order
from fitcheck.model.found.routes import Routes
from fitcheck.model.found.space import Space
from fitcheck.model.given.scenario import Scenario


@dataclass(frozen=True, slots=True, kw_only=True)
class Hold:
    """Whether a step is safe, why, and the findings that bar it."""

    safe: bool
    said: Said
    reasons: tuple[Finding, ...] = ()

    @property
    def because(self) -> str:
        """Why, in words."""
        return self.said.text()


@dataclass(frozen=True, eq=False, kw_only=True)
class Result:
    """All stages of one run; `date` is the day of it, as 2026-01-31, "" where unknown.

    near : notes on unscanned space near boxes and hoses
    frame : the key of the boat frame that is probably wrong
    """

    scenario: Scenario
    space: Space
    fit: Fit
    routes: Routes
    hydraulics: Hydraulics
    order: Order
    near: tuple[Finding, ...] = ()
    frame: tuple[Finding, ...] = ()
    date: str = ""

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Findings of all stages, worst first, otherwise in the order of the stages."""
        stages = (self.fit, self.routes, self.hydraulics, self.order)
        every = [*self.frame, *self.space.findings, *self.near]
        every += [finding for stage in stages for finding in stage.findings]
        return tuple(sorted(every, key=lambda finding: SEVERITIES.index(finding.severity)))

    @property
    def remedies(self) -> tuple[Remedy, ...]:
        """Remedies that name keys to write, each once, in the order of the findings.

        A remedy is referred to by its position here, from 1.
        """
        every = [
            remedy
            for row in self.findings
            if row.remedy is not None
            for remedy in (row.remedy, *row.alternatives)
        ]
        return tuple(dict.fromkeys(remedy for remedy in every if remedy.changes))

    @property
    def assumptions(self) -> tuple[Assumption, ...]:
        """What was assumed rather than measured; first what could change the verdict."""
        stages = (self.space, self.fit, self.routes, self.hydraulics, self.order)
        every = {row: None for stage in stages for row in stage.assumptions}
        return tuple(sorted(every, key=lambda row: not row.can_flip))

    @property
    def verdict(self) -> Literal["pass", "caution", "fail"]:
        """The worst severity found."""
        worst = {finding.severity for finding in self.findings}
        return "fail" if "fail" in worst else "caution" if "caution" in worst else "pass"

    @property
    def cut_joinery(self) -> Hold:
        """Whether joinery may be cut: space and fit without a fail, and no finding that bars it.

        If the scan itself shows an overlap or a short service clearance, its uncertainty is no
        reason to cut.
        """
        stands = self.frame + self.space.findings + self.near + self.fit.findings
        reasons = [
            row
            for row in self.findings
            if "cut_joinery" in row.bars or (row in stands and row.severity == "fail")
        ]
        return _hold(reasons, stands, say("hold.may-cut"))

    @property
    def order_hoses(self) -> Hold:
        """Whether hoses may be ordered: no fail anywhere, because a moved box moves its hoses."""
        rows = self.findings
        reasons = [row for row in rows if row.severity == "fail" or "order_hoses" in row.bars]
        return _hold(reasons, rows, say("hold.may-order"))

    @property
    def ready(self) -> bool:
        """Whether joinery may be cut and hoses may be ordered."""
        return self.cut_joinery.safe and self.order_hoses.safe


def _hold(reasons: list[Finding], rows: tuple[Finding, ...], good: Said) -> Hold:
    if reasons:
        said = say("hold.reason", reason=reasons[0].said)
        if len(reasons) > 1:
            said = say("hold.reasons", reason=reasons[0].said, more=len(reasons) - 1)
        return Hold(safe=False, said=said, reasons=tuple(reasons))
    cautions = sum(finding.severity == "caution" for finding in rows)
    said = say("hold.read", good=good, cautions=cautions) if cautions else good
    return Hold(safe=True, said=said)
