"""What the sea can do at every opening: run dry, flow back, be siphoned out, flood the plant at
rest.

Limits are common practice, no source: an intake 0.15 m under water in every attitude, an outlet
0.10 m above the sea at rest, a loop 0.20 m above the sea where an outlet dips under.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from fitcheck.findings.said import Said, length, say
from fitcheck.hydraulics.network.plant import Plant
from fitcheck.hydraulics.network.solve import Operation, first_inlet
from fitcheck.hydraulics.rules.judging import COMMON_PRACTICE, Table, note, suction_lines
from fitcheck.hydraulics.rules.outlets import Outlet, outlets
from fitcheck.hydraulics.rules.standing import attitudes, upright
from fitcheck.model.finding import Finding, Remedy
from fitcheck.model.given.boat import BoatPort
from fitcheck.units import Metre

IMMERSION: Metre = 0.15
OUTLET_HEIGHT: Metre = 0.10
LOOP_HEIGHT: Metre = 0.20
#: A suction side that rises less than this above the sea fills by itself.
FILLS: Metre = 0.01


def opening_findings(table: Table) -> Iterator[Finding]:
    """Intake, outlets, priming lift, and modules below the sea."""
    yield from _intake(table)
    yield from _outlet_height(table)
    yield from _dips(table)
    yield from _siphon(table)
    yield from _first_fill(table)
    yield from _below_the_sea(table)


def _port(plant: Plant, node: str) -> BoatPort | None:
    name = node.removeprefix("boat.")
    return next((port for port in plant.scenario.boat.ports if port.name == name), None)


def opening_height(plant: Plant, node: str, operation: Operation) -> Metre:
    """Height of the opening in the hull above the sea in a state [m]."""
    port, state = _port(plant, node), operation.state
    below = 0.0 if port is None else port.opening_below
    return operation.heights[node] - below * math.cos(state.heel) * math.cos(state.trim)


def intake(plant: Plant) -> str | None:
    """The boat port the plant draws from."""
    lines = suction_lines(plant)
    return str(lines[0].start) if lines and lines[0].start.owner == "boat" else None


def _intake(table: Table) -> Iterator[Finding]:
    plant, node = table.plant, intake(table.plant)
    port = None if node is None else _port(plant, node)
    if node is None or port is None or port.role == "tank":
        return
    highest = max(attitudes(table), key=lambda op: opening_height(plant, node, op))
    height = opening_height(plant, node, highest)
    if height <= -IMMERSION:
        return
    where = say("pickup-immersion.above", height=length(height))
    if height <= 0.0:
        where = say("pickup-immersion.below", depth=length(-height))
    yield Finding(
        severity="caution",
        rule="pickup-immersion",
        subject=port.name,
        said=say(
            "pickup-immersion.known" if port.opening_below else "pickup-immersion.not-known",
            port=port.name,
            where=where,
            state=highest.state.said,
            wanted=length(IMMERSION),
        ),
        source=COMMON_PRACTICE,
        value=-height,
        limit=IMMERSION,
        unit="m",
        place=plant.ports[node],
        remedy=Remedy(said=say("pickup-immersion.remedy", deeper=length(IMMERSION + height))),
        # Above the sea the pump draws air; slightly under water is the skipper's decision.
        bars=("order_hoses",) if height >= 0.0 else (),
    )


def _outlet_height(table: Table) -> Iterator[Finding]:
    """At rest the brine should leave above the sea."""
    plant, level = table.plant, upright(table)
    for outlet in outlets(plant):
        port = _port(plant, outlet.opening)
        if outlet.water != "brine" or port is None or port.role == "tank":
            continue
        height = opening_height(plant, outlet.opening, level)
        if 0.0 <= height < OUTLET_HEIGHT:
            yield Finding(
                severity="caution",
                rule="outlet-height",
                subject=port.name,
                said=say("outlet-height", height=length(height), wanted=length(OUTLET_HEIGHT)),
                source=COMMON_PRACTICE,
                value=height,
                limit=OUTLET_HEIGHT,
                unit="m",
                place=plant.ports[outlet.opening],
            )


def _dips(table: Table) -> Iterator[Finding]:
    """An outlet that comes under water, and the height of its line's loop above that waterline."""
    plant = table.plant
    for outlet in outlets(plant):
        port = _port(plant, outlet.opening)
        if port is None or port.role == "tank":
            continue
        lowest = min(attitudes(table), key=lambda op: opening_height(plant, outlet.opening, op))
        height = opening_height(plant, outlet.opening, lowest)
        if height >= 0.0 or any(line.name not in plant.runs for line in outlet.lines):
            continue
        loop = max(
            float(plant.heights_along(line.name, lowest.state).max()) for line in outlet.lines
        )
        holds = loop >= LOOP_HEIGHT
        yield Finding(
            severity="note" if holds else "caution",
            rule="outlet-under-water",
            subject=port.name,
            said=_dipped(outlet, -height, loop, lowest.state.said),
            source=COMMON_PRACTICE,
            value=loop,
            limit=LOOP_HEIGHT,
            unit="m",
            place=plant.ports[outlet.opening],
            remedy=None
            if holds
            else Remedy(
                said=say(
                    "outlet-under-water.remedy",
                    line=outlet.name,
                    higher=length(LOOP_HEIGHT - loop),
                )
            ),
        )


def _dipped(outlet: Outlet, depth: Metre, loop: Metre, state: Said) -> Said:
    if loop >= LOOP_HEIGHT:
        return say(
            "outlet-under-water.holds",
            water=outlet.water,
            depth=length(depth),
            state=state,
            loop=length(loop),
            wanted=length(LOOP_HEIGHT),
        )
    return say(
        "outlet-under-water.runs-back",
        water=outlet.water,
        depth=length(depth),
        state=state,
        loop=length(loop),
        wanted=length(LOOP_HEIGHT),
        line=outlet.name,
    )


def _siphon(table: Table) -> Iterator[Finding]:
    """An outlet that ends below its source siphons it empty when the plant stops."""
    plant, level = table.plant, upright(table)
    for outlet in outlets(plant):
        port = _port(plant, outlet.opening)
        if port is None:
            continue
        fall = level.heights[outlet.felt_at] - max(level.heights[outlet.opening], 0.0)
        if outlet.water == "product":
            if fall < 0.0:
                yield note(
                    "siphon",
                    port.name,
                    say("siphon.product", port=port.name, above=length(-fall)),
                )
        elif fall > 0.0:
            yield note(
                "siphon",
                outlet.name,
                say(
                    "siphon.brine",
                    line=outlet.name,
                    below=length(fall),
                    start=outlet.felt_at,
                ),
            )


def _first_fill(table: Table) -> Iterator[Finding]:
    """A pump above the sea contains air before its first start."""
    plant, level = table.plant, upright(table)
    pump, lines = plant.scenario.kit.feed_pump, suction_lines(plant)
    if pump is None or any(line.name not in plant.runs for line in lines) or not lines:
        return
    lift = first_fill_lift(table)
    if lift is None or lift <= FILLS:
        return
    if pump.primes_to is None:
        if pump.kind == "diaphragm":
            return
        said = say("first-fill.by-hand", lift=length(lift))
    elif lift <= pump.primes_to:
        return
    else:
        said = say(
            "first-fill.too-high",
            lift=length(lift),
            pump=pump.module,
            primes=length(pump.primes_to),
        )
    fails = pump.primes_to is not None and pump.primes_to > 0.0
    yield Finding(
        severity="fail" if fails else "caution",
        rule="first-fill",
        subject=pump.module,
        said=said,
        source="the kit" if pump.primes_to is not None else COMMON_PRACTICE,
        value=lift,
        limit=pump.primes_to or 0.0,
        unit="m",
        place=plant.ports[f"{pump.module}.{pump.inlet}"],
        remedy=Remedy(
            said=say(
                "first-fill.remedy",
                pump=pump.module,
                less=length(lift - (pump.primes_to or 0.0)),
                state=level.state.said,
            )
        ),
    )


def first_fill_lift(table: Table) -> Metre | None:
    """Highest point of the suction side above the sea at rest [m]; None if unknown."""
    level, lines = upright(table), suction_lines(table.plant)
    if not lines or any(line.name not in table.plant.runs for line in lines):
        return None
    return max(float(table.plant.heights_along(line.name, level.state).max()) for line in lines)


def _below_the_sea(table: Table) -> Iterator[Finding]:
    """Modules on the sea's side below sea level in some attitude flood when opened."""
    plant = table.plant
    inlet = first_inlet(plant)
    if inlet is None or intake(plant) is None:
        return
    deepest: dict[str, Metre] = {}
    for operation in attitudes(table):
        for node in plant.circuit.feed_side:
            owner = node.split(".")[0]
            if owner != "boat" and node in operation.heights:
                deepest[owner] = min(deepest.get(owner, 0.0), operation.heights[node])
    modules = [module.name for module in plant.scenario.kit.modules]
    under = [name for name in modules if deepest.get(name, 0.0) < 0.0]
    if under:
        told = [
            say("stands-below-the-sea.module", module=name, depth=length(-deepest[name]))
            for name in under
        ]
        yield note(
            "stands-below-the-sea",
            under[0],
            say("stands-below-the-sea", modules=told),
        )
