"""Findings on the piping: lines that carry nothing, run backward or dry, and extra consumers."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from fitcheck.findings.said import Said, say
from fitcheck.hydraulics.network.setting import AIR_RESISTANCE, STILL, Setting
from fitcheck.hydraulics.rules.judging import Table
from fitcheck.hydraulics.rules.limits import feed_lines
from fitcheck.model.finding import Finding, Remedy
from fitcheck.units import Pascal

#: Suction on an opening in air below which nothing is reported.
LEAST: Pascal = 1.0


def piping_findings(table: Table) -> Iterator[Finding]:
    """Lines that carry nothing, branches to unnamed consumers, water with nowhere to go."""
    circuit = table.plant.circuit
    yield from _branches(table)
    known = feed_lines(table.plant) if circuit.branches else ()
    for name in circuit.orphans:
        if name not in {line.name for line in known}:
            yield _piping(name, "line-without-flow", say("line-without-flow", line=name))
    for node in circuit.stranded:
        yield _piping(node.split(".")[0], "water-stranded", say("water-stranded", port=node))
    yield from _backward(table)
    yield from _dry_ends(table)


def _branches(table: Table) -> Iterator[Finding]:
    """A consumer with an unknown flow on the suction side makes the vacuum there unknown."""
    for node in table.plant.circuit.branches:
        module = node.split(".")[0]
        yield _piping(
            module,
            "consumer-unknown",
            say("consumer-unknown", port=node),
            remedy=Remedy(said=say("consumer-unknown.remedy", module=module, port=node)),
            bars=("order_hoses",),
        )


def _backward(table: Table) -> Iterator[Finding]:
    told = set()
    for op in table.operations:
        for name in op.losses:
            if op.flows[name] < -STILL and name not in told:
                told.add(name)
                yield _piping(
                    name,
                    "backward-flow",
                    say("backward-flow", line=name, state=op.state.said),
                )


def _dry_ends(table: Table) -> Iterator[Finding]:
    """Openings in air that the others draw empty: no water comes back out of them."""
    told = set()
    for op in table.running:
        setting = Setting(table.plant, op.state)
        for element in table.plant.circuit.elements.values():
            flow = op.flows.get(element.name, 0.0)
            if element.end in told or not setting.in_air(element):
                continue
            if flow * AIR_RESISTANCE < LEAST:
                continue
            told.add(element.end)
            port = element.end.removeprefix("boat.")
            yield _piping(port, "outlet-dry", say("outlet-dry", port=port, state=op.state.said))


def _piping(subject: str, rule: str, said: Said, **more: Any) -> Finding:
    return Finding(
        severity="caution", rule=rule, subject=subject, said=said, source="the kit's lines", **more
    )
