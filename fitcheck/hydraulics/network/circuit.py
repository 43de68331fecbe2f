"""The piping as a graph: ports are nodes; hoses, module passages and the feed pump are edges.

The high-pressure pump and the membrane pass a fixed flow whatever the pressure, so they are not
edges but sources and sinks: what they take from one port they give to another. Another consumer
takes a flow of its own. Everything else is found by tracing: a spanning tree carries the fixed
flow to the sea and the tanks, and every remaining edge closes one loop (the bypass) whose flow the
pressures decide.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import networkx as nx

from fitcheck.model.given.kit import Kit, Line, Module, Resistance
from fitcheck.units import CubicMetrePerSecond, Ratio

Kind = Literal["line", "resistance", "feed pump", "passage", "open end"]
WaterName = Literal["feed", "brine", "product"]

#: The node shared by all open ends: the sea and the air above the tanks.
OPEN = "sea"


@dataclass(frozen=True, slots=True, kw_only=True)
class Element:
    """One edge: water goes from `start` to `end` when its flow is positive."""

    name: str
    kind: Kind
    start: str
    end: str
    line: Line | None = None
    resistance: Resistance | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Loop:
    """A chord and the path back through the tree; signs show which elements it runs against."""

    chord: str
    members: tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Circuit:
    """The piping of a kit.

    elements : by name
    parent : node -> (element, parent node), walking away from the open end
    order : every reached node, nearest to the open end first
    share : element -> flow per unit of feed flow when no loop flows
    drawn : element -> additional flow for other consumers, with the plant running
    loops : one for every chord
    waters : node -> which water it contains
    feed_side : nodes before the high-pressure pump
    high_side : nodes between high-pressure pump and membrane
    assumed : modules whose passage was assumed, not given
    orphans : lines that no water reaches
    branches : ports at the ends of such lines before the high-pressure pump, whose consumers are
    unknown
    stranded : things that take or give water with no source or destination
    """

    elements: dict[str, Element]
    parent: dict[str, tuple[str, str]]
    order: tuple[str, ...]
    share: dict[str, Ratio]
    drawn: dict[str, CubicMetrePerSecond]
    loops: tuple[Loop, ...]
    waters: dict[str, WaterName]
    feed_side: frozenset[str]
    high_side: frozenset[str]
    assumed: tuple[str, ...]
    orphans: tuple[str, ...]
    branches: tuple[str, ...]
    stranded: tuple[str, ...]

    def way(self, node: str) -> Iterator[Element]:
        """Elements of the tree from `node` back to its root."""
        while node in self.parent:
            name, node = self.parent[node]
            yield self.elements[name]

    def lines_on_way(self, node: str) -> tuple[Line, ...]:
        """Lines from the root of the tree to `node`, in that order."""
        lines = [element.line for element in self.way(node) if element.line is not None]
        return tuple(reversed(lines))

    def lines_in(self, nodes: frozenset[str]) -> tuple[Line, ...]:
        """Lines that have both ends among `nodes`."""
        return tuple(
            element.line
            for element in self.elements.values()
            if element.line is not None and element.start in nodes and element.end in nodes
        )


def build_circuit(kit: Kit) -> Circuit:
    """Build the piping of a kit and trace which share of the feed flow each part carries."""
    assumed, elements = _elements(kit)
    supply = _supply(kit)
    taken = [(str(row.at), -row.flow) for row in kit.consumers]
    graph = _graph(elements, [node for node, _ in (*supply, *taken)])
    parent, order, chords = _tree(graph, elements)
    share, stranded = _shares(supply, parent, elements)
    drawn, dry = _shares(taken, parent, elements)
    loops = tuple(_loop(elements[chord], parent, elements) for chord in chords)
    waters, feed_side, high_side = _waters(kit, elements, graph)
    orphans = _orphans(elements, share, loops)
    served = {
        element for node, _ in taken for element, _ in _steps_to_root(node, parent, elements)
    }
    orphans = tuple(name for name in orphans if name not in served)
    return Circuit(
        elements=elements,
        parent=parent,
        order=order,
        share=share,
        drawn=drawn,
        loops=loops,
        waters=waters,
        feed_side=feed_side,
        high_side=high_side,
        assumed=assumed,
        orphans=orphans,
        branches=_branches(orphans, parent, feed_side),
        stranded=(*stranded, *dry),
    )


def _elements(kit: Kit) -> tuple[tuple[str, ...], dict[str, Element]]:
    rows = [
        Element(name=line.name, kind="line", start=str(line.start), end=str(line.end), line=line)
        for line in kit.lines
    ]
    rows += [
        Element(
            name=f"resistance {row.name}",
            kind="resistance",
            start=f"{row.module}.{row.start}",
            end=f"{row.module}.{row.end}",
            resistance=row,
        )
        for row in kit.resistances
        if not _through_membrane(kit, row)
    ]
    pump = kit.feed_pump
    if pump is not None:
        ends = f"{pump.module}.{pump.inlet}", f"{pump.module}.{pump.outlet}"
        rows.append(Element(name="feed pump", kind="feed pump", start=ends[0], end=ends[1]))
    rows += [
        _passage(module, port.name, port.joins)
        for module in kit.modules
        for port in module.ports
        if port.joins
    ]
    assumed = _assumed_passages(kit, rows)
    open_at = {at for row in rows for at in (row.start, row.end) if at.startswith("boat.")}
    rows += [
        Element(name=f"open end {end}", kind="open end", start=OPEN, end=end)
        for end in sorted(open_at)
    ]
    names = tuple(dict.fromkeys(row.start.split(".")[0] for row in assumed))
    return names, {row.name: row for row in rows + assumed}


def _passage(module: Module, start: str, end: str) -> Element:
    return Element(
        name=f"passage {module.name}.{start}-{end}",
        kind="passage",
        start=f"{module.name}.{start}",
        end=f"{module.name}.{end}",
    )


def _assumed_passages(kit: Kit, rows: list[Element]) -> list[Element]:
    """A passage through a module where exactly one incoming and one outgoing hose are unaccounted
    for.

    Product and other water are paired separately, so that a panel may pass both.
    """
    told = {end for row in rows if row.kind != "line" for end in (row.start, row.end)}
    told |= {node for node, _ in _supply(kit)}
    found = []
    for module in kit.modules:
        for product in (True, False):
            lines = [line for line in kit.lines if (line.duty == "product") == product]
            into = {line.end.port for line in lines if line.end.owner == module.name}
            out = {line.start.port for line in lines if line.start.owner == module.name}
            into = {port for port in into if f"{module.name}.{port}" not in told}
            out = {port for port in out if f"{module.name}.{port}" not in told}
            if len(into) == len(out) == 1 and into != out:
                found.append(_passage(module, into.pop(), out.pop()))
    return found


def _through_membrane(kit: Kit, row: Resistance) -> bool:
    """Whether a resistance lies across the membrane or the high-pressure pump.

    The flow there is fixed, so its loss affects no flow and is not an edge.
    """
    membrane, pump = kit.membrane, kit.high_pressure_pump
    across = []
    if membrane is not None:
        ports = {membrane.feed, membrane.brine, membrane.product}
        across.append((membrane.module, ports))
    if pump is not None:
        across.append((pump.module, {pump.inlet, pump.outlet}))
    return any(row.module == name and {row.start, row.end} <= ports for name, ports in across)


def _supply(kit: Kit) -> list[tuple[str, Ratio]]:
    """Port and flow supplied to the piping there, per unit of feed flow; negative if taken."""
    pump, membrane = kit.high_pressure_pump, kit.membrane
    if pump is None:
        return []
    rows = [(f"{pump.module}.{pump.inlet}", -1.0), (f"{pump.module}.{pump.outlet}", 1.0)]
    if membrane is not None:
        rows.append((f"{membrane.module}.{membrane.feed}", -1.0))
        rows.append((f"{membrane.module}.{membrane.brine}", 1.0 - membrane.recovery))
        rows.append((f"{membrane.module}.{membrane.product}", membrane.recovery))
    return rows


def _graph(elements: dict[str, Element], extra: list[str]) -> nx.MultiGraph:
    graph = nx.MultiGraph()
    graph.add_nodes_from(extra)
    for element in elements.values():
        graph.add_edge(element.start, element.end, key=element.name, weight=_weight(element))
    return graph


def _weight(element: Element) -> int:
    """Bypass hoses are added to the tree last, so that they close the loops."""
    return 1 if element.line is not None and element.line.duty == "bypass" else 0


def _tree(
    graph: nx.MultiGraph, elements: dict[str, Element]
) -> tuple[dict[str, tuple[str, str]], tuple[str, ...], list[str]]:
    """Spanning forest rooted at the open end (or at any node, where a part has none)."""
    forest = nx.MultiGraph()
    forest.add_nodes_from(graph)
    kept = set()
    for start, end, key in nx.minimum_spanning_edges(graph, keys=True, data=False):
        forest.add_edge(start, end, key=key)
        kept.add(key)
    parent: dict[str, tuple[str, str]] = {}
    order: list[str] = []
    roots = [OPEN] if OPEN in forest else []
    for root in (*roots, *forest):
        if root in parent or root in order:
            continue
        order.append(root)
        for above, node in nx.bfs_edges(forest, root):
            parent[node] = (next(iter(forest[above][node])), above)
            order.append(node)
    return parent, tuple(order), [name for name in elements if name not in kept]


def _shares(
    supply: list[tuple[str, Ratio]],
    parent: dict[str, tuple[str, str]],
    elements: dict[str, Element],
) -> tuple[dict[str, Ratio], tuple[str, ...]]:
    """Flow of every tree element, by sending each supply up to its root.

    At any root other than the open end the sum must be zero, or its water is stranded.
    """
    share = dict.fromkeys(elements, 0.0)
    arrived: dict[str, Ratio] = {}
    roots: dict[str, str] = {}
    for node, amount in supply:
        at = node
        while at in parent:
            name, above = parent[at]
            share[name] += amount if elements[name].start == at else -amount
            at = above
        roots[node], arrived[at] = at, arrived.get(at, 0.0) + amount
    uneven = {root for root, total in arrived.items() if root != OPEN and abs(total) > 1e-9}
    return share, tuple(node for node, root in roots.items() if root in uneven)


def _loop(
    chord: Element, parent: dict[str, tuple[str, str]], elements: dict[str, Element]
) -> Loop:
    """Along the chord, then through the tree from its end back to its start."""
    up = _steps_to_root(chord.end, parent, elements)
    down = _steps_to_root(chord.start, parent, elements)
    while up and down and up[-1][0] == down[-1][0]:
        up.pop()
        down.pop()
    back = [(name, -sign) for name, sign in reversed(down)]
    return Loop(chord=chord.name, members=((chord.name, 1), *up, *back))


def _steps_to_root(
    node: str, parent: dict[str, tuple[str, str]], elements: dict[str, Element]
) -> list[tuple[str, int]]:
    steps = []
    while node in parent:
        name, above = parent[node]
        steps.append((name, 1 if elements[name].start == node else -1))
        node = above
    return steps


def _waters(
    kit: Kit, elements: dict[str, Element], graph: nx.MultiGraph
) -> tuple[dict[str, WaterName], frozenset[str], frozenset[str]]:
    """Which water every node contains, by what it is connected to without the open end."""
    inner = graph.copy()
    if OPEN in inner:
        inner.remove_node(OPEN)

    def part(module: str, port: str) -> frozenset[str]:
        node = f"{module}.{port}"
        return (
            frozenset(nx.node_connected_component(inner, node)) if node in inner else frozenset()
        )

    pump, membrane = kit.high_pressure_pump, kit.membrane
    feed = part(pump.module, pump.inlet) if pump else frozenset()
    high = part(pump.module, pump.outlet) if pump else frozenset()
    waters: dict[str, WaterName] = dict.fromkeys(graph, "feed")
    for element in elements.values():
        if element.line is not None and element.line.duty in ("brine", "product"):
            name: WaterName = "brine" if element.line.duty == "brine" else "product"
            waters[element.start] = waters[element.end] = name
    if membrane is not None:
        waters.update(dict.fromkeys(part(membrane.module, membrane.brine), "brine"))
        waters.update(dict.fromkeys(part(membrane.module, membrane.product), "product"))
        high |= part(membrane.module, membrane.feed)
    waters.update(dict.fromkeys(feed | high, "feed"))
    return waters, feed, high - feed


def _branches(
    orphans: tuple[str, ...], parent: dict[str, tuple[str, str]], feed_side: frozenset[str]
) -> tuple[str, ...]:
    """The far ends of lines that branch off before the high-pressure pump and lead nowhere."""
    above = {node for _, node in parent.values()}
    return tuple(
        node
        for node, (name, _) in parent.items()
        if name in orphans and node in feed_side and node not in above
    )


def _orphans(
    elements: dict[str, Element], share: dict[str, Ratio], loops: tuple[Loop, ...]
) -> tuple[str, ...]:
    """Lines that carry nothing: no supply runs through them and no loop contains them."""
    looped = {name for loop in loops for name, _ in loop.members}
    return tuple(
        element.name
        for element in elements.values()
        if element.kind == "line" and not share[element.name] and element.name not in looped
    )
