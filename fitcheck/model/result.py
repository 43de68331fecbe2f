"""Everything the main job found, and what it comes to."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from fitcheck.model.finding import SEVERITIES, Assumption, Finding
from fitcheck.model.fit import Fit
from fitcheck.model.hydraulics import Hydraulics
from fitcheck.model.order import Order
from fitcheck.model.routes import Routes
from fitcheck.model.scenario import Scenario
from fitcheck.model.space import Space


@dataclass(frozen=True, slots=True, kw_only=True)
class Hold:
    """Whether something is safe to do, and because of what."""

    safe: bool
    because: str


@dataclass(frozen=True, eq=False, kw_only=True)
class Result:
    """All stages of one run."""

    scenario: Scenario
    space: Space
    fit: Fit
    routes: Routes
    hydraulics: Hydraulics
    order: Order

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Findings of all stages, the worst first, otherwise in the order of the stages."""
        stages = (self.space, self.fit, self.routes, self.hydraulics, self.order)
        every = [finding for stage in stages for finding in stage.findings]
        return tuple(sorted(every, key=lambda finding: SEVERITIES.index(finding.severity)))

    @property
    def assumptions(self) -> tuple[Assumption, ...]:
        """What was assumed rather than measured, first what could flip the verdict."""
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
        """Whether joinery may be cut: space and fit without a fail, and nothing in doubt.

        Where the scan itself has a box overlap or its service space short, that it may be wrong by
        as much is no reason to cut.
        """
        findings = self.space.findings + self.fit.findings
        doubted = [row for row in findings if _in_doubt(row)]
        if doubted and all(row.severity != "fail" for row in findings):
            return Hold(safe=False, because=f"it cannot be told: {doubted[0].text}")
        return _hold(findings, "every box fits with its service space")

    @property
    def order_hoses(self) -> Hold:
        """Whether hoses may be ordered: no fail anywhere, since a moved box moves its hoses."""
        return _hold(self.findings, "every hose is routed and every limit is kept")


def _in_doubt(finding: Finding) -> bool:
    """A gap or service space that is missing by the scan, within what the scan may be wrong by."""
    if finding.severity != "caution" or finding.value is None or finding.limit is None:
        return False
    if finding.rule == "tight":
        return finding.value < 0.0
    return finding.rule == "service-clearance" and finding.value < finding.limit


def _hold(findings: tuple[Finding, ...], good: str) -> Hold:
    fails = [finding for finding in findings if finding.severity == "fail"]
    if fails:
        more = f" (and {len(fails) - 1} more)" if len(fails) > 1 else ""
        return Hold(safe=False, because=fails[0].text + more)
    cautions = sum(finding.severity == "caution" for finding in findings)
    told = f"; read the {cautions} caution{'s' if cautions > 1 else ''} first" if cautions else ""
    return Hold(safe=True, because=good + told)
