"""Rows for parts that go with the hoses: ends, clamps, clips, valves.

Common practice, no source: two clamps on every tail that can come below the sea, one elsewhere; a
clip every 0.4 m where no surface is within reach; one of each end and two clamps of each size as
spares.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from fitcheck.findings.said import length, quantity, say
from fitcheck.geometry.heel import height_above_sea
from fitcheck.model.found.order import OrderItem
from fitcheck.model.found.routes import HoseRoute
from fitcheck.model.given.boat import Conditions
from fitcheck.model.given.cutting import is_assembly
from fitcheck.model.given.kit import Hose, Line, PortRef
from fitcheck.model.given.scenario import Scenario
from fitcheck.units import BAR, Metre, Point

CLIP_SPACING: Metre = 0.4
#: A hose end this close above the sea counts as below it: waves and load.
WET_MARGIN: Metre = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class End:
    """One end of one routed hose."""

    line: str
    hose: Hose
    connection: str
    thread: str
    made_up: bool
    wet: bool

    @property
    def is_tail(self) -> bool:
        """Whether the hose is pushed over a tail and clamped."""
        return not self.made_up and "tail" in self.connection.lower()


def fitting_items(
    scenario: Scenario, flotation: Point, routes: Sequence[HoseRoute]
) -> list[OrderItem]:
    """Ends by connection and thread, clamps, clips and valves of the routed hoses."""
    ends = [end for route in routes for end in ends_of(scenario, flotation, route)]
    return [
        *_port_rows(scenario, routes),
        *_end_rows(ends),
        *_clamp_rows(ends),
        *_clip_rows(routes),
        *_valves(scenario, routes),
    ]


def ends_of(scenario: Scenario, flotation: Point, route: HoseRoute) -> tuple[End, End]:
    """Both ends of a routed hose, with the connection and thread of its ports."""
    line = scenario.kit.line(route.line)
    conditions = scenario.boat.conditions
    wet = [
        lowest_height(at, flotation, conditions) < WET_MARGIN for at in (route.start, route.end)
    ]
    return _end(scenario, line, line.start, wet[0]), _end(scenario, line, line.end, wet[1])


def _end(scenario: Scenario, line: Line, ref: PortRef, wet: bool) -> End:
    hose = scenario.hose_of(line)
    connection, thread = _port(scenario, ref)
    return End(
        line=line.name,
        hose=hose,
        connection=connection,
        thread=thread,
        made_up=is_assembly(line, hose),
        wet=wet,
    )


def _port(scenario: Scenario, ref: PortRef) -> tuple[str, str]:
    ports = scenario.boat.ports if ref.owner == "boat" else scenario.kit.module(ref.owner).ports
    port = next(port for port in ports if port.name == ref.port)
    return port.connection, port.thread


def lowest_height(at: Point, flotation: Point, conditions: Conditions) -> Metre:
    """Lowest height above the sea of a point over all heels and trims [m]."""
    return min(
        height_above_sea(at, flotation, heel, trim)
        for heel in conditions.heel
        for trim in conditions.trim
    )


# --- rows -------------------------------------------------------------------------------------


def _port_rows(scenario: Scenario, routes: Sequence[HoseRoute]) -> Iterator[OrderItem]:
    """The fittings at hose ends where the kit offers a choice, by name."""
    for fitting in scenario.kit.fittings:
        lines = [route.line for route in routes for name in route.fittings if name == fitting.name]
        if lines:
            kind = say("item.elbow" if fitting.kind == "elbow" else "item.straight")
            parts = (fitting.name, kind, fitting.connection)
            yield OrderItem(
                said=say("item.fitting", parts=[part for part in parts if part]),
                quantity=float(len(lines)),
                unit="piece",
                length=None,
                for_lines=tuple(dict.fromkeys(lines)),
                remark=say("note.shortest-way"),
                price=None,
            )


def _end_rows(ends: Iterable[End]) -> Iterator[OrderItem]:
    groups: dict[tuple[str, str, str, bool], list[End]] = {}
    for end in ends:
        groups.setdefault((end.hose.name, end.connection, end.thread, end.made_up), []).append(end)
    for (hose, connection, thread, made_up), alike in groups.items():
        tail = alike[0].hose.tail_bore
        bore = None if tail is None else say("item.end-bore", bore=quantity(tail, "bore"))
        parts = [part for part in (connection, thread, bore) if part]
        yield OrderItem(
            said=say("item.end", hose=hose, parts=parts),
            quantity=float(len(alike)),
            unit="piece",
            length=None,
            for_lines=_lines(alike),
            remark=say("note.made-on" if made_up else "note.one-spare"),
            price=None,
        )


def _clamp_rows(ends: Iterable[End]) -> Iterator[OrderItem]:
    """Counted per outside diameter."""
    groups: dict[Metre, list[End]] = {}
    for end in ends:
        if end.is_tail:
            groups.setdefault(end.hose.outside_diameter, []).append(end)
    for outside, alike in groups.items():
        wet = sum(end.wet for end in alike)
        yield OrderItem(
            said=say("item.clamp", outside=length(outside)),
            quantity=float(len(alike) + wet),
            unit="piece",
            length=None,
            for_lines=_lines(alike),
            remark=say("note.clamps", wet=wet, dry=len(alike) - wet),
            price=None,
        )


def _lines(ends: Iterable[End]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(end.line for end in ends))


def _clip_rows(routes: Sequence[HoseRoute]) -> Iterator[OrderItem]:
    groups: dict[Metre, list[HoseRoute]] = {}
    for route in routes:
        groups.setdefault(route.outside_diameter, []).append(route)
    for outside, alike in groups.items():
        placed = sum(len(route.clips) for route in alike)
        hanging = sum(on_brackets(span.length) for route in alike for span in route.unsupported)
        if placed + hanging == 0:
            continue
        remark = say("note.clips", placed=placed)
        if hanging:
            remark = say("note.clips-and-brackets", placed=placed, hanging=hanging)
        yield OrderItem(
            said=say("item.clip", outside=length(outside)),
            quantity=float(placed + hanging),
            unit="piece",
            length=None,
            for_lines=tuple(route.line for route in alike),
            remark=remark,
            price=None,
        )


def on_brackets(span: Metre) -> int:
    """Clips needed by an unsupported span between its ends, one every CLIP_SPACING [1]."""
    return max(0, math.ceil(span / CLIP_SPACING - 1e-9) - 1)


def _valves(scenario: Scenario, routes: Sequence[HoseRoute]) -> Iterator[OrderItem]:
    for route in routes:
        line = scenario.kit.line(route.line)
        if line.valve_flow is not None:
            yield OrderItem(
                said=say(
                    "item.valve",
                    flow=quantity(line.valve_flow, "valve flow"),
                    pressure=quantity(BAR, "pressure"),
                ),
                quantity=1.0,
                unit="piece",
                length=None,
                for_lines=(route.line,),
                price=None,
            )
