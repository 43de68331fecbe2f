"""The part of a result that is compared: many runs need no more memory than one."""

from __future__ import annotations

import math

from fitcheck.model.found.comparison import HoseStanding, ModuleStanding, Ran
from fitcheck.model.found.routes import HoseRoute, Unrouted
from fitcheck.model.result import Result
from fitcheck.report.words.words import is_short, state_said, worst_suction
from fitcheck.units import Metre


def condensed(result: Result) -> Ran:
    """The compared part of a result."""
    clean, fouled = worst_suction(result, dirty=False), worst_suction(result, dirty=True)
    fails = tuple(row for row in result.findings if row.severity == "fail")
    return Ran(
        boat=result.scenario.boat.name,
        layout=result.scenario.layout.name,
        kit=result.scenario.kit,
        verdict=result.verdict,
        cut_joinery=result.cut_joinery,
        order_hoses=result.order_hoses,
        fails=fails,
        cautions=sum(row.severity == "caution" for row in result.findings),
        modules=_modules(result),
        hoses=tuple(_hose(result, hose) for hose in result.routes.hoses),
        vacuum_clean=clean.suction_vacuum if clean else None,
        vacuum_clean_state=state_said(result, clean),
        vacuum_fouled=fouled.suction_vacuum if fouled else None,
        vacuum_fouled_state=state_said(result, fouled),
        npsh_spare=_npsh_spare(result),
        price=_price(result),
        free_volume=result.space.free_volume,
        unseen_volume=result.space.unseen_volume,
    )


def _modules(result: Result) -> tuple[ModuleStanding, ...]:
    return tuple(
        ModuleStanding(
            name=module.name,
            verdict=module.verdict,
            gap=met.gap if (met := module.tightest) else math.inf,
            meets=met.meets if met else "",
            short=tuple(room for room in module.service if is_short(room)),
            uncertainty=met.uncertainty if met else 0.0,
        )
        for module in result.fit.modules
    )


def _hose(result: Result, hose: HoseRoute | Unrouted) -> HoseStanding:
    cut = result.order.cut(hose.line)
    return HoseStanding(
        line=hose.line,
        duty=result.scenario.kit.line(hose.line).duty,
        hose=hose.hose,
        length=hose.length if isinstance(hose, HoseRoute) else None,
        ordered=cut.cut_length if cut else None,
        reason="" if isinstance(hose, HoseRoute) else hose.reason,
        uncertainty=hose.uncertainty if isinstance(hose, HoseRoute) else 0.0,
    )


def _npsh_spare(result: Result) -> Metre | None:
    """The smallest NPSH margin of any pump."""
    spare = [
        pump.npsh_available - pump.npsh_required
        for pump in result.hydraulics.pumps
        if pump.npsh_available is not None and pump.npsh_required is not None
    ]
    return min(spare, default=None)


def _price(result: Result) -> float | None:
    """Total of the order, None where an item has no price."""
    prices = [item.price for item in result.order.items]
    known = [price for price in prices if price is not None]
    return sum(known) if prices and len(known) == len(prices) else None
