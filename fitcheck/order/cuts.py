"""How long to cut each hose, and how that came about in words (rules: model/given/cutting.py)."""

from __future__ import annotations

import math

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
from fitcheck.model.given.kit import Allowances, Coil, Hose, Line
from fitcheck.units import Metre, show


def cut_of(
    route: HoseRoute, line: Line, hose: Hose, allowances: Allowances, coil: Coil | None = None
) -> Cut:
    """The piece a routed line needs, a coil besides, and how its length came about in words."""
    if route.assembly and route.assembly.laid:
        length, because = route.assembly.length, _laid(route.assembly, route, line)
    elif is_assembly(line, hose):
        length, because = _assembly(route, allowances)
    else:
        length, because = _tube(route, allowances)
    if coil is not None:
        step = allowances.rounding
        length = rounded_up(length + coil.length, step)
        because += f"; {show(coil.length, 'run')} more in a coil of {coil.turns:g} turns"
    return Cut(
        line=route.line,
        hose=hose.name,
        routed_length=route.length,
        cut_length=length,
        because=because,
    )


def _tube(route: HoseRoute, allowances: Allowances) -> tuple[Metre, str]:
    slack = service_slack(route.length, allowances)
    spare = route.mounting_spare if math.isfinite(route.mounting_spare) else 0.0
    play = ""
    if spare > 0.0:
        play = f", {show(spare, 'length')} for modules that stand off by "
        play += show(allowances.mounting, "length")
    step = allowances.rounding
    plain = tube_length(route.length, allowances, route.uncertainty)
    return rounded_up(plain + spare, step), (
        f"{show(route.length, 'run')} routed, {show(allowances.end_allowance, 'length')} at each "
        f"end, {show(slack, 'length')} slack{_unsure(route)}{play}, rounded up to "
        f"{show(allowances.rounding, 'length')}"
    )


def _unsure(route: HoseRoute) -> str:
    if route.uncertainty < 5e-4:
        return ""
    return f", {show(route.uncertainty, 'length')} that the scan may be short of"


def _laid(assembly: Assembly, route: HoseRoute, line: Line) -> str:
    more = show(assembly.length - route.length, "length")
    sold = "the shortest sold that can be laid" if assembly.stock else "rounded up"
    why = " for shortening under pressure" if line.duty == "high pressure" else ""
    if route.mounting_spare > 0.0:
        why += f"{' and' if why else ' for'} modules that stand off"
    if _unsure(route):
        why += f"{' and' if why else ' for'} the {show(route.uncertainty, 'length')} the scan may "
        why += "be short of"
    return (
        f"{show(route.length, 'run')} routed, {more} more{why}, laid in a bow, {sold}; "
        "face to face, ends included"
    )


def _assembly(route: HoseRoute, allowances: Allowances) -> tuple[Metre, str]:
    whole = (route.length + route.uncertainty) * (1.0 + allowances.high_pressure_slack)
    step = assembly_step(whole)
    return assembly_length(route.length, allowances, route.uncertainty), (
        f"{show(route.length, 'run')} routed{_unsure(route)}, "
        f"{show(allowances.high_pressure_slack, 'fraction')} for "
        f"shortening under pressure, rounded up to {show(step, 'length')}; face to face, ends "
        "included"
    )
