"""Whether the kit has every line its plant needs, from the sea to the tank."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise

import networkx as nx

from fitcheck.findings.said import Said, say
from fitcheck.hydraulics.network.circuit import OPEN, Circuit, build_circuit
from fitcheck.hydraulics.rules.judging import COMMON_PRACTICE
from fitcheck.model.finding import Change, Finding, Remedy
from fitcheck.model.given.kit import Kit, Line
from fitcheck.model.given.scenario import Scenario

#: Permitted roles of a boat port for each water; "other" is the user's own word for both.
ROLES: dict[str, tuple[str, ...]] = {
    "suction": ("seacock", "other"),
    "brine": ("overboard", "other"),
    "product": ("tank", "other"),
}
_SAID = {
    "seacock": say("boat-port-role.seacock"),
    "overboard": say("boat-port-role.overboard"),
    "tank": say("boat-port-role.tank"),
}


def complete_findings(scenario: Scenario) -> tuple[Finding, ...]:
    """A finding for every missing or reversed line, every wrong boat port and every missing device
    without which no water can be judged.

    Each bars the order of hoses: a hose that is not in the kit is neither routed nor judged.
    """
    return (*_devices(scenario.kit), *_lines(scenario))


def _devices(kit: Kit) -> Iterator[Finding]:
    """The missing high-pressure pump, without which the water side is not judged."""
    if kit.high_pressure_pump is not None and kit.membrane is None:
        yield Finding(
            severity="caution",
            rule="device-missing",
            subject=kit.name,
            said=say("device-missing.no-membrane"),
            source="the kit",
            remedy=Remedy(said=say("device-missing.give-membrane")),
            bars=("order_hoses",),
        )


def _lines(scenario: Scenario) -> Iterator[Finding]:
    kit = scenario.kit
    circuit = build_circuit(kit)
    both, along = _ways(circuit), _ways_along(circuit)
    taken: set[str] = set()
    against: set[tuple[str, str]] = set()
    for duty, start, end in _needed(kit):
        if not _joined(both, start, end):
            turned = _turned(kit, start, end)
            if turned is None:
                yield _missing(kit, duty, start, end)
            else:
                against.add((str(turned.end), str(turned.start)))
            continue
        if not _joined(along, start, end):
            against.update(_against(both, along, start, end))
            continue
        if OPEN in (start, end):
            ports = _boat_ports(along, start, end)
            fit = [port for port in ports if _role(scenario, port) in ROLES[duty]]
            if not set(fit) - taken:
                yield _wrong_port(scenario, duty, (fit or ports)[0], bool(fit))
            if duty == "suction":
                taken.update(fit)
    for line in kit.lines:
        if (str(line.end), str(line.start)) in against:
            yield _against_flow(scenario, line)


def _turned(kit: Kit, start: str, end: str) -> Line | None:
    """The line that joins two ports once reversed, through a module whose passage is assumed."""
    for line in kit.lines:
        other = replace(line, start=line.end, end=line.start)
        lines = tuple(other if row is line else row for row in kit.lines)
        if _joined(_ways_along(build_circuit(replace(kit, lines=lines))), start, end):
            return line
    return None


def _missing(kit: Kit, duty: str, start: str, end: str) -> Finding:
    first, last = _place(start), _place(end)
    return Finding(
        severity="fail",
        rule="line-missing",
        subject=kit.name,
        said=say("line-missing", duty=duty, start=first, end=last),
        source=COMMON_PRACTICE,
        remedy=Remedy(said=say("line-missing.remedy", start=first, end=last)),
        bars=("order_hoses",),
    )


def _place(port: str) -> Said | str:
    return say("line-missing.boat") if port == OPEN else port


def _wrong_port(scenario: Scenario, duty: str, port: str, intake: bool) -> Finding:
    """A boat port that cannot give or take this water, or that the plant already draws from."""
    name, right = port.removeprefix("boat."), ROLES[duty][0]
    role = _role(scenario, port)
    if intake:
        wrong = say("boat-port-role.intake")
        remedy = say("boat-port-role.another", right=_SAID[right])
    else:
        wrong = say("boat-port-role.is-not", role=_SAID[role], right=_SAID[right])
        remedy = say("boat-port-role.remedy", right=_SAID[right], port=port, name=name, role=right)
    return Finding(
        severity="fail",
        rule="boat-port-role",
        subject=name,
        said=say(
            "boat-port-role.from" if duty == "suction" else "boat-port-role.to",
            duty=duty,
            port=port,
            wrong=wrong,
        ),
        source=COMMON_PRACTICE,
        remedy=Remedy(said=remedy),
        bars=("order_hoses",),
    )


def _against_flow(scenario: Scenario, line: Line) -> Finding:
    """A line written from where its water arrives to where it comes from."""
    key = f"kit.lines.{line.name}"
    start, end = str(line.start), str(line.end)
    return Finding(
        severity="fail",
        rule="line-reversed",
        subject=line.name,
        said=say("line-reversed", line=line.name, start=end, end=start),
        source="the kit's lines",
        remedy=Remedy(
            said=say("line-reversed.remedy", line=line.name, start=end, end=start),
            changes=(
                Change(file=scenario.kit_file, key=f"{key}.from", value=end),
                Change(file=scenario.kit_file, key=f"{key}.to", value=start),
            ),
        ),
        bars=("order_hoses",),
    )


def _needed(kit: Kit) -> Iterator[tuple[str, str, str]]:
    """Which water must flow from where to where; the sea and the tank are the open end."""
    feed, high, membrane = kit.feed_pump, kit.high_pressure_pump, kit.membrane
    if feed is not None:
        yield "suction", OPEN, f"{feed.module}.{feed.inlet}"
    if high is not None:
        inlet = f"{high.module}.{high.inlet}"
        if feed is None:
            yield "suction", OPEN, inlet
        else:
            yield "feed", f"{feed.module}.{feed.outlet}", inlet
    if membrane is None:
        return
    if high is not None:
        yield (
            "high-pressure",
            f"{high.module}.{high.outlet}",
            f"{membrane.module}.{membrane.feed}",
        )
    yield "brine", f"{membrane.module}.{membrane.brine}", OPEN
    yield "product", f"{membrane.module}.{membrane.product}", OPEN


def _ways(circuit: Circuit) -> nx.DiGraph[str]:
    """Everything water can pass except the feed pump, which is between two of the lines."""
    ways: nx.DiGraph[str] = nx.DiGraph()
    for row in circuit.elements.values():
        if row.kind != "feed pump":
            ways.add_edge(row.start, row.end)
            ways.add_edge(row.end, row.start)
    return ways


def _ways_along(circuit: Circuit) -> nx.DiGraph[str]:
    """The same with lines only in their written direction, from start to end."""
    ways = _ways(circuit)
    written = {(row.start, row.end) for row in circuit.elements.values() if row.kind == "line"}
    ways.remove_edges_from({(end, start) for start, end in written} - written)
    return ways


def _joined(ways: nx.DiGraph[str], start: str, end: str) -> bool:
    """Whether water gets from one port to the other without passing through the open sea."""
    if start == end:
        return True
    if start not in ways or end not in ways:
        return False
    if OPEN in (start, end):
        return bool(nx.has_path(ways, start, end))
    return bool(nx.has_path(ways.subgraph(set(ways) - {OPEN}), start, end))


def _boat_ports(ways: nx.DiGraph[str], start: str, end: str) -> list[str]:
    """Boat ports from or to which water runs, the others left out."""
    inner = ways.subgraph(set(ways) - {OPEN})
    reached = nx.ancestors(inner, end) if start == OPEN else nx.descendants(inner, start)
    return sorted(node for node in reached if node.startswith("boat."))


def _against(
    both: nx.DiGraph[str], along: nx.DiGraph[str], start: str, end: str
) -> Iterator[tuple[str, str]]:
    """Ports of lines that must be passed from end to start, as few as possible."""

    def turned(first: str, last: str, _: dict[str, object]) -> int:
        return 1 if along.has_edge(first, last) else 1000

    path = nx.shortest_path(both, start, end, weight=turned)
    yield from ((a, b) for a, b in pairwise(path) if not along.has_edge(a, b))


def _role(scenario: Scenario, port: str) -> str:
    name = port.removeprefix("boat.")
    return next(row.role for row in scenario.boat.ports if row.name == name)
