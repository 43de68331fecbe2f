"""Cut length of each hose and its derivation (rules: model/given/cutting.py)."""

from __future__ import annotations

import math

from fitcheck.findings.said import Said, length, quantity, say
from fitcheck.model.found.order import Cut
from fitcheck.model.found.routes import Assembly, HoseRoute
from fitcheck.model.given.cutting import (
    assembly_length,
    assembly_step,
    is_assembly,
    rounded_up,
    service_slack,
    tube_length,
)
from fitcheck.model.given.kit import Allowances, Hose, Line
from fitcheck.units import Metre


def cut_of(route: HoseRoute, line: Line, hose: Hose, allowances: Allowances) -> Cut:
    """The piece a routed line needs, with any coil, and how its length was calculated."""
    if route.assembly and route.assembly.laid:
        whole, said = route.assembly.length, _laid(route.assembly, route, line)
    elif is_assembly(line, hose):
        whole, said = _assembly(route, allowances)
    else:
        whole, said = _tube(route, allowances)
    if (coil := line.coil) is not None:
        whole = rounded_up(whole + coil.length, allowances.rounding)
        more, turns = quantity(coil.length, "run"), quantity(coil.turns, "factor")
        said = say("cut.coil", because=said, more=more, turns=turns)
    return Cut(
        line=route.line,
        hose=hose.name,
        routed_length=route.length,
        cut_length=whole,
        said=said,
    )


def _tube(route: HoseRoute, allowances: Allowances) -> tuple[Metre, Said]:
    slack = service_slack(route.length, allowances)
    spare = route.mounting_spare if math.isfinite(route.mounting_spare) else 0.0
    play = None
    if spare > 0.0:
        play = say("cut.play", spare=length(spare), within=length(allowances.mounting))
    plain = tube_length(route.length, allowances, route.uncertainty)
    return rounded_up(plain + spare, allowances.rounding), say(
        "cut.tube",
        routed=quantity(route.length, "run"),
        end=length(allowances.end_allowance),
        slack=length(slack),
        unsure=_unsure(route),
        play=play,
        step=length(allowances.rounding),
    )


def _unsure(route: HoseRoute) -> Said | None:
    if route.uncertainty < 5e-4:
        return None
    return say("cut.unsure", short=length(route.uncertainty))


def _laid(assembly: Assembly, route: HoseRoute, line: Line) -> Said:
    reasons = []
    if line.duty == "high pressure":
        reasons.append(say("cut.for-pressure"))
    if route.mounting_spare > 0.0:
        reasons.append(say("cut.for-modules"))
    if _unsure(route):
        reasons.append(say("cut.for-scan", short=length(route.uncertainty)))
    return say(
        "cut.bow",
        routed=quantity(route.length, "run"),
        more=length(assembly.length - route.length),
        why=say("cut.for", reasons=reasons) if reasons else None,
        sold=say("cut.stock" if assembly.stock else "cut.to-length"),
    )


def _assembly(route: HoseRoute, allowances: Allowances) -> tuple[Metre, Said]:
    whole = (route.length + route.uncertainty) * (1.0 + allowances.high_pressure_slack)
    step = assembly_step(whole)
    return assembly_length(route.length, allowances, route.uncertainty), say(
        "cut.assembly",
        routed=quantity(route.length, "run"),
        unsure=_unsure(route),
        share=quantity(allowances.high_pressure_slack, "fraction"),
        step=length(step),
    )
