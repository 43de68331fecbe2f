"""The cheapest set of rolls from which every piece can be cut.

No joint inside a line. Each cut loses a little length, between pieces only.

References
----------
Gilmore and Gomory (1961), A linear programming approach to the cutting-stock problem, Operations
Research 9: ways of filling a roll as unknowns; here whole numbers by scipy.optimize.milp (HiGHS).
Johnson (1973), Near-optimal bin packing algorithms (first-fit decreasing, the fallback).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array, vstack

from fitcheck.units import Metre, Price, Second

#: Length lost at each cut [m].
KERF: Metre = 0.010
_TIME_LIMIT: Second = 4.0
_ROUNDING: Metre = 1e-9
#: Number of ways to fill a roll beyond which pieces are assigned one by one instead.
_MOST_PATTERNS = 4_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Roll:
    """One roll to buy: its length and price, and which pieces (by index) are cut from it."""

    length: Metre
    price: Price
    pieces: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cutting:
    """The rolls to buy; `proven` if no cheaper choice exists."""

    rolls: tuple[Roll, ...]
    proven: bool

    @property
    def price(self) -> Price:
        """All rolls together."""
        return sum(roll.price for roll in self.rolls)


def cut_from_rolls(
    pieces: Sequence[Metre],
    lengths: Sequence[Metre],
    prices: Sequence[Price],
    kerf: Metre = KERF,
) -> Cutting:
    """The cheapest rolls that provide every piece, found by integer programming.

    Parameters
    ----------
    pieces  : lengths to cut [m]
    lengths : of the rolls sold [m]
    prices  : one for each length; without prices the length itself is used
    kerf    : lost between two pieces [m]

    Raises ValueError if a piece is longer than every roll.
    """
    if not pieces:
        return Cutting(rolls=(), proven=True)
    if max(pieces) > max(lengths) + _ROUNDING:
        raise ValueError("a piece is longer than every roll")
    costs = tuple(prices) if len(prices) == len(lengths) else tuple(lengths)
    greedy = min(
        (_first_fit(pieces, lengths, costs, largest, kerf) for largest in range(len(lengths))),
        key=lambda rolls: (_cost(rolls), len(rolls)) if rolls else (math.inf, 0),
    )
    exact, proven = _by_patterns(pieces, lengths, costs, kerf) or _assignment(
        pieces, lengths, costs, kerf, greedy
    )
    best = exact if exact and _cost(exact) <= _cost(greedy) + _ROUNDING else greedy
    return Cutting(rolls=tuple(sorted(best, key=lambda roll: -roll.length)), proven=proven)


def _cost(rolls: Sequence[Roll]) -> Price:
    return sum(roll.price for roll in rolls)


# --- first fit --------------------------------------------------------------------------------


def _first_fit(
    pieces: Sequence[Metre],
    lengths: Sequence[Metre],
    costs: Sequence[Price],
    opened: int,
    kerf: Metre,
) -> list[Roll]:
    """Longest piece first into the first roll with room; new rolls of one length, then shrunk.

    Empty if a piece is longer than that roll.
    """
    if max(pieces) > lengths[opened] + _ROUNDING:
        return []
    bins: list[list[int]] = []
    left: list[Metre] = []
    for piece in sorted(range(len(pieces)), key=lambda i: -pieces[i]):
        need = pieces[piece] + kerf
        at = next((i for i, room in enumerate(left) if room >= need - _ROUNDING), None)
        if at is None:
            bins.append([])
            left.append(lengths[opened] + kerf)
            at = len(bins) - 1
        bins[at].append(piece)
        left[at] -= need
    return [_smallest_roll(held, pieces, lengths, costs, kerf) for held in bins]


def _smallest_roll(
    held: Sequence[int],
    pieces: Sequence[Metre],
    lengths: Sequence[Metre],
    costs: Sequence[Price],
    kerf: Metre,
) -> Roll:
    """The cheapest roll that provides these pieces."""
    need = sum(pieces[i] + kerf for i in held) - kerf
    fits = [i for i, length in enumerate(lengths) if length >= need - _ROUNDING]
    best = min(fits, key=lambda i: (costs[i], lengths[i]))
    return Roll(length=lengths[best], price=costs[best], pieces=tuple(sorted(held)))


# --- exact ------------------------------------------------------------------------------------


def _assignment(
    pieces: Sequence[Metre],
    lengths: Sequence[Metre],
    costs: Sequence[Price],
    kerf: Metre,
    greedy: Sequence[Roll],
) -> tuple[list[Roll], bool]:
    """Which piece from which roll: binary x[i, j], roll j opened or not: binary y[j].

    Of each length there are as many rolls as could be useful below the greedy cost.
    """
    limit = _cost(greedy) if greedy else math.inf
    stock = [
        kind for kind, cost in enumerate(costs) for _ in range(_of_use(len(pieces), cost, limit))
    ]
    count, rolls = len(pieces), len(stock)
    price = np.concatenate([np.zeros(count * rolls), [costs[kind] for kind in stock]])
    found = milp(
        price,
        integrality=np.ones(price.size),
        bounds=Bounds(0, 1),
        constraints=_constraints(np.asarray(pieces) + kerf, np.asarray(lengths) + kerf, stock),
        options={"time_limit": _TIME_LIMIT},
    )
    if found.x is None:
        return [], False
    chosen = np.round(found.x[: count * rolls]).astype(bool).reshape(count, rolls)
    opened = [np.flatnonzero(chosen[:, j]).tolist() for j in range(rolls) if chosen[:, j].any()]
    whole = [_smallest_roll(held, pieces, lengths, costs, kerf) for held in opened]
    return whole, found.status == 0


def _of_use(pieces: int, cost: Price, limit: Price) -> int:
    """At most one roll per piece, and no more than the cost of the greedy answer buys."""
    if cost <= 0.0 or math.isinf(limit):
        return pieces
    return max(1, min(pieces, math.floor(limit / cost + 1e-9)))


def _constraints(
    need: NDArray[np.float64], room: NDArray[np.float64], stock: Sequence[int]
) -> list[LinearConstraint]:
    """Every piece once; no roll overfull; rolls of a length opened in order (they are
    identical).
    """
    count, rolls = len(need), len(stock)
    width = count * rolls + rolls
    once = coo_array(
        (np.ones(count * rolls), (np.repeat(np.arange(count), rolls), np.arange(count * rolls))),
        shape=(count, width),
    )
    fill_rows = np.tile(np.arange(rolls), count)
    full = vstack(
        [
            coo_array(
                (
                    np.concatenate([np.repeat(need, rolls), -room[list(stock)]]),
                    (np.concatenate([fill_rows, np.arange(rolls)]), np.arange(width)),
                ),
                shape=(rolls, width),
            )
        ]
    )
    rules = [LinearConstraint(once, 1, 1), LinearConstraint(full, -np.inf, 0)]
    alike = [j for j in range(rolls - 1) if stock[j] == stock[j + 1]]
    if alike:
        at = count * rolls + np.asarray(alike)
        row = np.arange(len(alike))
        order = coo_array(
            (
                np.concatenate([np.ones(row.size), -np.ones(row.size)]),
                (np.concatenate([row, row]), np.concatenate([at, at + 1])),
            ),
            shape=(row.size, width),
        )
        rules.append(LinearConstraint(order, 0, np.inf))
    return rules


# --- patterns ---------------------------------------------------------------------------------


def _by_patterns(
    pieces: Sequence[Metre], lengths: Sequence[Metre], costs: Sequence[Price], kerf: Metre
) -> tuple[list[Roll], bool] | None:
    """How often to cut each way of filling a roll; None where there are too many ways.

    Equal pieces count as one width, so many equal pieces are as easy as few.
    """
    widths, kinds = np.unique(np.round(np.asarray(pieces), 9), return_inverse=True)
    demand = np.bincount(kinds)
    ways: list[tuple[int, tuple[int, ...]]] = []
    for kind, length in enumerate(lengths):
        filled = _patterns(tuple((widths + kerf).tolist()), tuple(demand.tolist()), length + kerf)
        for pattern in filled:
            ways.append((kind, pattern))
            if len(ways) > _MOST_PATTERNS:
                return None
    price = np.array([costs[kind] for kind, _ in ways])
    counts = np.array([pattern for _, pattern in ways], dtype=float).T
    found = milp(
        price,
        integrality=np.ones(price.size),
        constraints=LinearConstraint(counts, demand, np.inf),
        options={"time_limit": _TIME_LIMIT},
    )
    if found.x is None:
        return None
    times = np.round(found.x).astype(int)
    waiting = [np.flatnonzero(kinds == width).tolist() for width in range(len(widths))]
    rolls = [
        _filled(ways[way][1], waiting, pieces, lengths, costs, kerf)
        for way in np.flatnonzero(times).tolist()
        for _ in range(times[way])
    ]
    return [roll for roll in rolls if roll.pieces], found.status == 0


def _filled(
    pattern: Sequence[int],
    waiting: list[list[int]],
    pieces: Sequence[Metre],
    lengths: Sequence[Metre],
    costs: Sequence[Price],
    kerf: Metre,
) -> Roll:
    """A roll cut by a pattern, as far as pieces are still waiting."""
    held = [
        waiting[width].pop()
        for width, count in enumerate(pattern)
        for _ in range(min(count, len(waiting[width])))
    ]
    if not held:
        return Roll(length=min(lengths), price=min(costs), pieces=())
    return _smallest_roll(held, pieces, lengths, costs, kerf)


def _patterns(
    needs: tuple[Metre, ...], demand: tuple[int, ...], room: Metre
) -> Iterator[tuple[int, ...]]:
    """Ways to fill a roll so that no waiting piece fits any more, widest piece first.

    needs : length of each width with its cut, increasing [m]
    """
    if not needs:
        yield ()
        return
    most = min(demand[-1], math.floor(room / needs[-1] + _ROUNDING))
    for count in range(most, -1, -1):
        left = room - count * needs[-1]
        if count < most and left - sum(_all_of(needs[:-1], demand[:-1])) >= needs[-1] - _ROUNDING:
            return
        for rest in _patterns(needs[:-1], demand[:-1], left):
            used = sum(n * need for n, need in zip(rest, needs[:-1], strict=True))
            if count == most or left - used < needs[-1] - _ROUNDING:
                yield (*rest, count)


def _all_of(needs: Sequence[Metre], demand: Sequence[int]) -> list[Metre]:
    return [need * count for need, count in zip(needs, demand, strict=True)]
