"""Whether the kit has every line its plant needs, from the sea to the tank."""

from __future__ import annotations

from collections.abc import Iterator

import networkx as nx

from fitcheck.hydraulics.circuit import OPEN, Circuit, build_circuit
from fitcheck.hydraulics.judging import COMMON_PRACTICE
from fitcheck.model.finding import Finding, Remedy
from fitcheck.model.kit import Kit


def complete_findings(kit: Kit) -> tuple[Finding, ...]:
    """A finding for every line that is missing and every device without which no water is judged.

    Each bars the order of hoses: a hose that is not in the kit is neither routed nor judged.
    """
    return (*_devices(kit), *_lines(kit))


def _devices(kit: Kit) -> Iterator[Finding]:
    """The missing high-pressure pump, without which the water side is not judged."""
    if kit.high_pressure_pump is not None and kit.membrane is None:
        yield Finding(
            severity="caution",
            rule="not-known",
            subject=kit.name,
            text="The kit names no membrane, so neither brine nor product was judged; give "
            "[kit.membrane].",
            source="the kit",
            remedy=Remedy(text="Give [kit.membrane]."),
            bars=("order_hoses",),
        )


def _lines(kit: Kit) -> Iterator[Finding]:
    ways = _ways(build_circuit(kit))
    for duty, start, end in _needed(kit):
        if _joined(ways, start, end):
            continue
        first = "the boat" if start == OPEN else start
        last = "the boat" if end == OPEN else end
        yield Finding(
            severity="fail",
            rule="line-missing",
            subject=kit.name,
            text=f"No line leads the {duty} water from {first} to {last}, so no hose was routed "
            "or judged for it.",
            source=COMMON_PRACTICE,
            remedy=Remedy(text=f"Add a line from {first} to {last} under [kit.lines]."),
            bars=("order_hoses",),
        )


def _needed(kit: Kit) -> Iterator[tuple[str, str, str]]:
    """What water must come from where to where; the sea and the tank are the open end."""
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


def _ways(circuit: Circuit) -> nx.Graph[str]:
    """Everything water can pass but the feed pump, which stands between two of the lines."""
    ways: nx.Graph[str] = nx.Graph()
    for row in circuit.elements.values():
        if row.kind != "feed pump":
            ways.add_edge(row.start, row.end)
    return ways


def _joined(ways: nx.Graph[str], start: str, end: str) -> bool:
    """Whether water gets from one port to the other without going through the open sea."""
    if start == end:
        return True
    if start not in ways or end not in ways:
        return False
    if OPEN in (start, end):
        return bool(nx.has_path(ways, start, end))
    return bool(nx.has_path(ways.subgraph(set(ways) - {OPEN}), start, end))
