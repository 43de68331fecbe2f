"""Routing measured on planted problems, known answers and against general planners.

Run: python -m tests.bench.routing --singles 30 --sets 6 [--brief] [--bounded 6] [--first SEED]
     [--long 60 --searched 30] [--peers 10] [--known] [--growth] [--out FILE]
     [--table]

Every measurement is a line of FILE, and what is there is not measured again: a run may be stopped
and taken up. `--table` prints the tables of what is there and measures nothing.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable
from pathlib import Path

from tests.bench import growth, known, peers
from tests.bench.measure import measure_set, measure_single
from tests.bench.records import Record, Store
from tests.bench.search import long_single
from tests.bench.tables import print_tables
from tests.planted.problems import FIRST_SET, crowd, single


def main() -> None:
    """Measure what is asked for and print the tables."""
    asked = _arguments()
    store = Store(asked.out)
    if not asked.table:
        _warm(store)
        _measure(store, asked)
    print_tables(store)


def _measure(store: Store, asked: argparse.Namespace) -> None:
    """Whatever is requested and not measured yet."""
    if asked.known:
        for case in known.all_cases():
            if not store.has("known", case.name):
                _keep(store, known.measure_case(case))
    _each(
        store,
        "single",
        asked.first,
        asked.singles,
        lambda n: measure_single(single(n), not asked.brief),
    )
    first_set = FIRST_SET + asked.first
    unbounded = first_set + (asked.sets if asked.bounded is None else asked.bounded)
    _each(store, "set", first_set, asked.sets, lambda n: measure_set(crowd(n), n < unbounded))
    seconds = asked.long
    searched = asked.searched if seconds else 0
    _each(store, "long", asked.first, searched, lambda n: long_single(single(n), seconds))
    for seed in range(asked.first, asked.first + asked.peers):
        for method in peers.METHODS:
            if not store.has("peer", (seed, method.name), any_code=True):
                _keep(store, peers.measure_peer(method, seed))
    if asked.growth:
        for record in growth.points():
            _keep(store, record)


def _each(store: Store, kind: str, first: int, count: int, take: Callable[[int], Record]) -> None:
    for seed in range(first, first + count):
        if not store.has(kind, seed):
            _keep(store, take(seed))


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__, prog="python -m tests.bench.routing")
    parser.add_argument("--singles", type=int, default=0, help="planted single hoses")
    parser.add_argument("--brief", action="store_true", help="no bounds of planted curves")
    parser.add_argument("--sets", type=int, default=0, help="planted crowded sets")
    parser.add_argument("--bounded", type=int, help="sets whose hoses are bounded too (all)")
    parser.add_argument("--first", type=int, default=0, help="first seed")
    parser.add_argument("--long", type=float, default=0.0, help="seconds of search for shorter")
    parser.add_argument("--searched", type=int, default=300, help="singles searched so long")
    parser.add_argument("--peers", type=int, default=0, help="singles given to other planners")
    parser.add_argument("--known", action="store_true", help="cases with an exact answer")
    parser.add_argument("--growth", action="store_true", help="growth with cells and hoses")
    parser.add_argument("--table", action="store_true", help="print what was measured, no more")
    parser.add_argument("--out", type=Path, default=Path("bench.jsonl"), help="file of records")
    return parser.parse_args()


def _warm(store: Store) -> None:
    """Compile before the clock runs."""
    start = time.perf_counter()
    for seed in (1, 7):
        measure_single(single(seed))
    spent = time.perf_counter() - start
    print(f"code {store.code}, problems {store.problem}: ready in {spent:.0f} s", flush=True)


def _keep(store: Store, record: Record) -> None:
    store.add(record)
    keys = ("kind", "seed", "method", "solved", "length", "planted", "time")
    print(*(f"{key} {_short(record[key])}" for key in keys if key in record), flush=True)


def _short(value: object) -> str:
    return f"{value:.3f}" if isinstance(value, float) else str(value)


if __name__ == "__main__":
    main()
