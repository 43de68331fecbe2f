"""The cut or order length of each hose, step by step."""

from __future__ import annotations

import math
from collections.abc import Iterator

from fitcheck.model.found.explanation import Explanation, Step, given, typed
from fitcheck.model.found.order import Order
from fitcheck.model.found.routes import HoseRoute, Routes
from fitcheck.model.found.space import Space
from fitcheck.model.given.cutting import (
    LEAST_SLACK,
    NOTHING,
    assembly_step,
    is_assembly,
    lasting_length,
    rounded_up,
    service_slack,
)
from fitcheck.model.given.kit import Allowances, Line
from fitcheck.model.given.scenario import Scenario
from fitcheck.model.uncertainty import COVERAGE
from fitcheck.units import Metre

_PRACTICE = "common practice, no source"


def explain_cuts(
    scenario: Scenario, space: Space, routes: Routes, order: Order
) -> Iterator[Explanation]:
    """The length of every piece of the cut list."""
    for cut in order.cuts:
        route, line = routes.hose(cut.line), scenario.kit.line(cut.line)
        if isinstance(route, HoseRoute):
            steps = [*_routed(route), _unsure(space, route, line)]
            made_up = is_assembly(line, scenario.hose_of(line))
            steps += (_assembly if made_up else _tube)(route, line, scenario.kit.allowances)
            coil = line.coil
            if coil is not None:
                steps += _rounded(
                    "with the coil",
                    f"{typed(steps[-1].value)} + {typed(coil.turns)} * pi"
                    f" * {typed(coil.diameter)}",
                    steps[-1].value + coil.length,
                    scenario.kit.allowances.rounding,
                )
            yield Explanation(
                names=(cut.line,),
                number="cut",
                said=f"length to {'order' if made_up else 'cut'} of {cut.hose}",
                state=None,
                steps=tuple(steps),
            )


def _routed(route: HoseRoute) -> Iterator[Step]:
    """Straight pieces and arcs, and the length added by the end fittings."""
    legs = [math.dist(leg.start, leg.end) for leg in route.legs]
    parts = [typed(leg) for leg in legs]
    parts += [f"{typed(bend.radius)} * {typed(bend.angle)}" for bend in route.bends]
    rest = route.length - sum(legs) - sum(bend.radius * bend.angle for bend in route.bends)
    if abs(rest) > 1e-6:
        parts.append(typed(rest))
    yield Step(
        what="routed length",
        formula="straight lengths + radius * angle of each bend"
        + (" + fittings" if abs(rest) > 1e-6 else ""),
        numbers=" + ".join(parts),
        value=route.length,
        unit="m",
        source="the route, port face to port face",
    )


def _unsure(space: Space, route: HoseRoute, line: Line) -> Step:
    known = space.uncertainty
    picked = sum(end.owner == "boat" for end in (line.start, line.end))
    return Step(
        what="uncertainty of the length, 95 %",
        formula="1.96 sqrt((scale L)^2 + 2 surface^2 + picked ends * pick^2)",
        numbers=f"{COVERAGE} * sqrt(({typed(known.scale)} * {typed(route.length)})**2"
        f" + 2 * {typed(known.surface)}**2 + {picked} * {typed(known.pick)}**2)",
        value=route.uncertainty,
        unit="m",
        source="JCGM 100:2008, 5.1.2 and 6.2",
    )


def _rounded(what: str, numbers: str, whole: Metre, step: Metre) -> Iterator[Step]:
    """A sum, rounded up to the next multiple of a step."""
    yield Step(what=what, formula="sum", numbers=numbers, value=whole, unit="m", source=_PRACTICE)
    if step > 0.0:
        yield Step(
            what=f"{what}, rounded up",
            formula="ceil(L / step) * step",
            numbers=f"ceil(({whole:.9g} - {NOTHING}) / {typed(step)}) * {typed(step)}",
            value=rounded_up(whole, step),
            unit="m",
            source=_PRACTICE,
        )


def _tube(route: HoseRoute, line: Line, allowances: Allowances) -> Iterator[Step]:
    slack = service_slack(route.length, allowances)
    yield Step(
        what="service slack",
        formula="max(slack L, least slack)",
        numbers=f"max({typed(allowances.slack)} * {typed(route.length)}, {LEAST_SLACK})",
        value=slack,
        unit="m",
        source=f"the kit's allowances; {_PRACTICE}",
    )
    parts = (route.length, route.uncertainty, 2 * allowances.end_allowance, slack)
    plain = sum(parts)
    numbers = f"{typed(route.length)} + {typed(route.uncertainty)}"
    numbers += f" + 2 * {typed(allowances.end_allowance)} + {typed(slack)}"
    yield from _rounded("with the ends and the slack", numbers, plain, allowances.rounding)
    spare = route.mounting_spare if math.isfinite(route.mounting_spare) else 0.0
    if spare > 0.0:
        least = rounded_up(plain, allowances.rounding)
        yield from _rounded(
            "with what modules that stand off need",
            f"{typed(least)} + {typed(spare)}",
            least + spare,
            allowances.rounding,
        )


def _assembly(route: HoseRoute, line: Line, allowances: Allowances) -> Iterator[Step]:
    share, known = allowances.high_pressure_slack, route.length + route.uncertainty
    sure = f"({typed(route.length)} + {typed(route.uncertainty)})"
    whole = known * (1.0 + share)
    yield from _rounded(
        "longer by what it may shorten",
        f"{sure} * (1 + {typed(share)})",
        whole,
        assembly_step(whole),
    )
    lasting = known / (1.0 - share)
    if line.duty == "high pressure" and lasting > rounded_up(whole, assembly_step(whole)):
        yield from _rounded(
            "so that it reaches when it has shortened",
            f"{sure} / (1 - {typed(share)})",
            lasting,
            assembly_step(lasting),
        )
    made = route.assembly
    needed = lasting_length(route.length, line, allowances, route.uncertainty)
    if made is not None and made.laid and abs(made.length - needed) > 1e-9:
        source = "longer, so that it reaches wherever the modules may stand off"
        yield given(
            "length that is sold" if made.stock else "length to order",
            made.length,
            "m",
            "the shortest stock length that reaches and can be installed"
            if made.stock
            else source,
        )
