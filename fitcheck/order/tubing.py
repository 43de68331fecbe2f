"""Rows for the hoses themselves: by the metre, in rolls, or as made-up assemblies."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import groupby

from fitcheck.findings.said import Said, quantity, say
from fitcheck.model.finding import Finding, Remedy
from fitcheck.model.found.order import Cut, OrderItem
from fitcheck.model.given.cutting import is_assembly, rounded_up
from fitcheck.model.given.kit import Hose
from fitcheck.model.given.scenario import Scenario
from fitcheck.order.rolls import KERF, Cutting, Roll, cut_from_rolls
from fitcheck.units import Metre, Price

#: A reasonable spare length of hose sold by the metre (common practice).
SPARE: Metre = 1.0
#: Hose by the metre is ordered in steps of this.
METRE_STEP: Metre = 0.1
#: Shorter remnants are not mentioned.
LEAST_REST: Metre = 0.5
#: An assembly may exceed the required length by this before its excess must be routed.
LOOSE: Metre = 0.10


def tubing(
    scenario: Scenario,
    cuts: Sequence[Cut],
    failing: frozenset[str],
    least: Mapping[str, tuple[Metre, Metre]],
) -> tuple[list[OrderItem], list[Finding]]:
    """Rows and findings, hose types in the kit's order.

    failing : lines whose hose the water side rejects; their rows say so
    least : by line, the lower bound on the length between its ports, and the piece it would need
    """
    items: list[OrderItem] = []
    findings: list[Finding] = []
    for hose in scenario.kit.hoses:
        mine = [cut for cut in cuts if cut.hose == hose.name]
        made_up = [cut for cut in mine if is_assembly(scenario.kit.line(cut.line), hose)]
        tubes = [cut for cut in mine if cut not in made_up]
        for cut in made_up:
            item, faults = _assembly(hose, cut, least[cut.line])
            items += item
            findings += faults
        if tubes and hose.sold.by == "roll":
            rows, faults = _rolls(hose, tubes, least)
            items += rows
            findings += faults
        elif tubes:
            items.append(_by_metre(hose, tubes))
    return [_warned(item, failing) for item in items], findings


def _warned(item: OrderItem, failing: frozenset[str]) -> OrderItem:
    bad = [line for line in item.for_lines if line in failing]
    if not bad:
        return item
    remark = say("note.not-yet", lines=list(dict.fromkeys(bad)))
    if item.remark is not None:
        remark = say("note.not-yet-and", not_yet=remark, note=item.remark)
    return replace(item, remark=remark)


def _name(hose: Hose) -> Said:
    return say(
        "item.hose",
        hose=hose.name,
        bore=quantity(hose.bore, "bore"),
        outside=quantity(hose.outside_diameter, "length"),
    )


def _by_metre(hose: Hose, cuts: Sequence[Cut]) -> OrderItem:
    cuts_between = KERF * (len(cuts) - 1)
    length = rounded_up(sum(cut.cut_length for cut in cuts) + cuts_between, METRE_STEP)
    prices = hose.sold.prices
    return OrderItem(
        said=say("item.by-metre", hose=_name(hose)),
        quantity=length,
        unit="m",
        length=None,
        for_lines=tuple(cut.line for cut in cuts),
        remark=say("note.spare-metre", spare=quantity(SPARE, "run")),
        price=round(length * prices[0], 2) if prices else None,
    )


# --- rolls ------------------------------------------------------------------------------------


def _rolls(
    hose: Hose, cuts: Sequence[Cut], least: Mapping[str, tuple[Metre, Metre]]
) -> tuple[list[OrderItem], list[Finding]]:
    longest = max(hose.sold.lengths, default=0.0)
    fitting = [cut for cut in cuts if cut.cut_length <= longest]
    faults = [_too_long(hose, cut, longest, least[cut.line]) for cut in cuts if cut not in fitting]
    if not fitting:
        return [], faults
    cutting = cut_from_rolls(
        [cut.cut_length for cut in fitting], hose.sold.lengths, hose.sold.prices
    )
    return _roll_rows(hose, fitting, cutting), faults


def _roll_rows(hose: Hose, cuts: Sequence[Cut], cutting: Cutting) -> list[OrderItem]:
    """One row for each roll length."""
    rows = []
    for length, alike in groupby(cutting.rolls, key=lambda roll: roll.length):
        rolls = list(alike)
        lines = [cuts[piece].line for roll in rolls for piece in roll.pieces]
        rows.append(
            OrderItem(
                said=say("item.roll", hose=_name(hose)),
                quantity=float(len(rolls)),
                unit="piece",
                length=length,
                for_lines=tuple(lines),
                remark=_roll_note(cuts, rolls, cutting.proven),
                price=sum(roll.price for roll in rolls) if hose.sold.prices else None,
            )
        )
    return rows


def _roll_note(cuts: Sequence[Cut], rolls: Sequence[Roll], proven: bool) -> Said:
    """What is cut from each roll, what is left, and whether this is proven to be the cheapest."""
    rows = []
    for roll in rolls:
        lengths = [cuts[piece].cut_length for piece in roll.pieces]
        rest = roll.length - sum(lengths)
        pieces = [quantity(length, "run") for length in lengths]
        if rest >= LEAST_REST:
            rows.append(say("note.roll-and-rest", pieces=pieces, rest=quantity(rest, "run")))
        else:
            rows.append(say("note.roll", pieces=pieces))
    return say("note.rolls" if proven else "note.rolls-unproven", rolls=rows)


def _too_long(hose: Hose, cut: Cut, longest: Metre, least: tuple[Metre, Metre]) -> Finding:
    """A line that needs more than is sold in one piece, and whether another route could be short
    enough.
    """
    bound, piece = least
    way = say("longer-than-sold.open", bound=quantity(bound, "run"))
    if piece > longest + 1e-9:
        shortest = quantity(piece, "run")
        way = say("longer-than-sold.proven", bound=quantity(bound, "run"), piece=shortest)
    return Finding(
        severity="fail",
        rule="longer-than-sold",
        subject=cut.line,
        said=say(
            "longer-than-sold.one-piece",
            line=cut.line,
            piece=quantity(cut.cut_length, "run"),
            hose=hose.name,
            longest=quantity(longest, "run"),
            way=way,
        ),
        source="how the hose is sold, as the kit says",
        value=cut.cut_length,
        limit=longest,
        unit="m",
        remedy=Remedy(said=say("longer-than-sold.remedy")),
    )


# --- assemblies -------------------------------------------------------------------------------


def _assembly(
    hose: Hose, cut: Cut, least: tuple[Metre, Metre]
) -> tuple[list[OrderItem], list[Finding]]:
    """One made-up hose, to length or of the shortest sufficient stock length."""
    lengths = hose.sold.lengths if hose.sold.by == "assembly" else ()
    if not lengths:
        return [_assembly_row(hose, cut, cut.cut_length, _made_up_price(hose, cut.cut_length))], []
    enough = [i for i, length in enumerate(lengths) if length >= cut.cut_length - 1e-9]
    if not enough:
        return [], [_too_long(hose, cut, max(lengths), least)]
    best = min(enough, key=lambda i: lengths[i])
    prices = hose.sold.prices
    price = prices[best] if len(prices) == len(lengths) else None
    row = _assembly_row(hose, cut, lengths[best], price)
    excess = lengths[best] - cut.cut_length
    return [row], [_loose(hose, cut, lengths[best], excess)] if excess > LOOSE else []


def _made_up_price(hose: Hose, length: Metre) -> Price | None:
    """A pair of ends plus a price per metre; a single price is per piece."""
    prices = hose.sold.prices if hose.sold.by == "assembly" else ()
    if len(prices) == 2:
        return round(prices[0] + prices[1] * length, 2)
    return prices[0] if len(prices) == 1 else None


def _assembly_row(hose: Hose, cut: Cut, length: Metre, price: Price | None) -> OrderItem:
    return OrderItem(
        said=say(
            "item.assembly", hose=_name(hose), rating=quantity(hose.pressure_rating, "pressure")
        ),
        quantity=1.0,
        unit="piece",
        length=length,
        for_lines=(cut.line,),
        remark=say("note.face-to-face"),
        price=price,
    )


def _loose(hose: Hose, cut: Cut, length: Metre, excess: Metre) -> Finding:
    return Finding(
        severity="caution",
        rule="assembly-too-long",
        subject=cut.line,
        said=say(
            "assembly-too-long.excess",
            line=cut.line,
            piece=quantity(cut.cut_length, "run"),
            hose=hose.name,
            whole=quantity(length, "run"),
            excess=quantity(excess, "length"),
            radius=quantity(hose.min_bend_radius, "length"),
        ),
        source="how the hose is sold, as the kit says",
        value=excess,
        limit=LOOSE,
        unit="m",
    )
