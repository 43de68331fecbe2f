"""Tables of what was measured, failures listed with their seeds."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence

import numpy as np

from tests.bench.records import Record, Store

#: A bound may exceed a length by rounding only [m].
ROUNDING = 1e-9


def print_tables(store: Store) -> None:
    """Everything the store holds of this code."""
    best = best_known(store)
    for part in (_known, _singles, _bounds, _sets, _peers, _growth):
        part(store, best)


def best_known(store: Store) -> dict[int, float]:
    """Shortest feasible length of each single over all methods and all versions of the router."""
    best: dict[int, float] = {}
    for record in store.records:
        if record["kind"] not in ("single", "long", "peer"):
            continue
        lengths = [record["planted"]] if "planted" in record else []
        feasible = record["kind"] != "peer" or record["hose"]
        if record["solved"] and feasible and not record.get("faults"):
            lengths.append(record["length"])
        for length in lengths:
            best[record["seed"]] = min(length, best.get(record["seed"], math.inf))
    return best


def _heading(text: str) -> None:
    print(f"\n{text}\n{'-' * len(text)}")


def _share(part: int, whole: int) -> str:
    return f"{part}/{whole} = {100 * part / max(whole, 1):.1f} %"


def _spread(values: Iterable[float], scale: float = 1.0, unit: str = "") -> str:
    """Median, 90th and 95th percentile, largest."""
    row = np.array(list(values)) * scale
    if not len(row):
        return "none"
    shown = [*np.percentile(row, (50, 90, 95)), row.max()]
    names = ("median", "p90", "p95", "max")
    return ", ".join(f"{n} {v:.3g}{unit}" for n, v in zip(names, shown, strict=True))


def _seeds(seeds: Sequence[int]) -> str:
    return " ".join(map(str, seeds)) or "none"


# --- singles ----------------------------------------------------------------------------------


def _singles(store: Store, best: dict[int, float]) -> None:
    rows = store.of("single")
    if not rows:
        return
    solved = {seed: row for seed, row in rows.items() if row["solved"]}
    _heading(f"Planted single hoses ({len(rows)})")
    print("solved", _share(len(solved), len(rows)))
    for level in ("easy", "middle", "hard"):
        for family in ("single", "hole"):
            some = [r for r in rows.values() if (r["level"], r["family"]) == (level, family)]
            if some:
                done = sum(row["solved"] for row in some)
                print(f"  {level:7}{family:7}", _share(done, len(some)))
    for seed, row in rows.items():
        if not row["solved"]:
            clear = "" if row["planted_clear"] else "; the planted curve is refused"
            print(f"  unsolved {seed} {row['level']} {row['family']}: {row['reason'] or 'no way'}"
                  f"{clear}")  # fmt: skip
    ratio = {seed: row["length"] / row["planted"] for seed, row in solved.items()}
    longer = sorted(seed for seed, value in ratio.items() if value > 1 + 1e-6)
    print("length / planted:", _spread(ratio.values()))
    print("longer than planted:", _seeds(longer))
    beside = {seed: row["length"] / best[seed] for seed, row in solved.items()}
    near = sum(value <= 1.01 for value in beside.values())
    print("within 1 % of the best known:", _share(near, len(rows)))
    worst = sorted(beside, key=lambda seed: -beside[seed])[:12]
    print("worst over best known:", ", ".join(f"{seed} {beside[seed]:.3f}" for seed in worst))
    print("with a long search:", len(store.of("long", any_code=True)))
    print("route time [s]:", _spread(row["time"] for row in solved.values()))
    print("route processor time [s]:", _spread(row["work"] for row in solved.values()))
    whole = [row["time"] + row["quick"]["time"] for row in solved.values()]
    print("route and quick bound [s]:", _spread(whole))
    lost = [row["time"] for row in rows.values() if not row["solved"]]
    print("time of the unsolved [s]:", _spread(lost))
    print("peak memory [MB]:", f"{max(row['memory'] for row in rows.values()):.0f}")
    faults = {seed: row["faults"] for seed, row in solved.items() if row["faults"]}
    print("checker: faults on", len(faults), "routes", faults or "")
    planted = {seed: r["planted_faults"] for seed, r in solved.items() if r["planted_faults"]}
    print("checker: faults on", len(planted), "planted curves", planted or "")


def _bounds(store: Store, best: dict[int, float]) -> None:
    singles = {seed: row for seed, row in store.of("single").items() if row["solved"]}
    bounds = {seed: {**row, **row["quick"]} for seed, row in singles.items()}
    if not singles:
        return
    _heading("Bounds")
    _print_bounds(bounds, best)
    above, tested = [], 0
    for seed, row in bounds.items():
        tested += 1 + (row["planted_bound"] is not None)
        for bound in (row["bound"], row["planted_bound"] or 0.0):
            if bound > best[seed] + ROUNDING:
                above.append((seed, bound - best[seed]))
    print(f"bounds above a feasible hose: {len(above)} of {tested}", above or "")


def _print_bounds(rows: dict[int, Record], best: dict[int, float]) -> None:
    other = {seed: row for seed, row in rows.items() if row["kind"] != "direct"}
    direct = {seed: row for seed, row in rows.items() if row["kind"] == "direct"}
    print("kinds", dict(Counter(row["kind"] for row in rows.values())))
    print("  direct gap [%]:", _spread(map(_gap, direct.values()), 100))
    print("  obstructed gap [%]:", _spread(map(_gap, other.values()), 100))
    against = (best[seed] / row["bound"] - 1 for seed, row in other.items())
    print("  obstructed, best known over bound [%]:", _spread(against, 100))
    for level in ("easy", "middle", "hard"):
        some = [row for row in other.values() if row["level"] == level]
        print(f"    {level} [%]:", _spread(map(_gap, some), 100))
    widest = sorted(other, key=lambda seed: -_gap(other[seed]))[:12]
    print("  widest (seed, %):", ", ".join(f"{s} {100 * _gap(other[s]):.0f}" for s in widest))
    print("  time [s]:", _spread(row["time"] for row in other.values()))
    print("  processor time [s]:", _spread(row["work"] for row in other.values()))


def _gap(row: Record) -> float:
    return float(row["length"] / row["bound"] - 1)


# --- sets -------------------------------------------------------------------------------------


def _sets(store: Store, _: dict[int, float]) -> None:
    rows = store.of("set")
    if not rows:
        return
    solved = {seed: row for seed, row in rows.items() if row["solved"]}
    _heading(f"Planted crowded sets ({len(rows)})")
    print("solved", _share(len(solved), len(rows)))
    for family in ("bundle", "crossing", "fan"):
        for level in ("easy", "middle", "hard"):
            some = [r for r in rows.values() if (r["level"], r["family"]) == (level, family)]
            if some:
                done = sum(row["solved"] for row in some)
                print(f"  {family:9}{level:7}", _share(done, len(some)))
    laid = sum(length is not None for row in rows.values() for length in row["lengths"])
    print("hoses laid", _share(laid, sum(row["hoses"] for row in rows.values())))
    for seed, row in rows.items():
        for lost in row["lost"]:
            clear = "" if lost["planted_clear"] else "; the planted curve is refused"
            print(f"  unsolved {seed} {row['family']} {row['level']} {lost['hose']} of "
                  f"{row['hoses']}: {lost['reason'] or 'no way'}{clear}")  # fmt: skip
    bounded = [row for row in solved.values() if None not in row["bounds"]]
    over = [sum(row["lengths"]) / sum(row["bounds"]) for row in bounded]
    print(f"total length / sum of bounds ({len(bounded)} sets):", _spread(over))
    print(
        "total length / planted:",
        _spread(sum(r["lengths"]) / r["planted"] for r in solved.values()),
    )
    print("time of a set [s]:", _spread(row["time"] for row in rows.values()))
    print("time a hose [s]:", _spread(row["time"] / row["hoses"] for row in rows.values()))
    faults = {seed: row["faults"] for seed, row in rows.items() if row["faults"]}
    print("checker: faults in", len(faults), "sets", faults or "")
    wrong = {seed: row["planted_faults"] for seed, row in rows.items() if row["planted_faults"]}
    print("checker: faults in", len(wrong), "planted sets", wrong or "")
    print("peak memory [MB]:", f"{max(row['memory'] for row in rows.values()):.0f}")


# --- the rest ---------------------------------------------------------------------------------


def _known(store: Store, _: dict[int, float]) -> None:
    rows = store.of("known")
    if not rows:
        return
    _heading("Known answers [m]")
    print(f"{'case':30}{'exact':>10}{'routed':>10}{'over %':>8}{'bound %':>9}  kind")
    for name, row in rows.items():
        if not row["solved"]:
            print(f"{name:30}{row['exact']:10.6f}  not routed")
            continue
        over = 100 * (row["length"] / row["exact"] - 1)
        below = 100 * (1 - row["bound"] / row["exact"])
        wrong = " ABOVE EXACT" if below < -1e-7 else ""
        figures = f"{row['exact']:10.6f}{row['length']:10.6f}{over:8.3f}{below:9.2f}"
        print(f"{name:30}{figures}  {row['bound_kind']}{wrong}", *row["faults"])


def _peers(store: Store, _: dict[int, float]) -> None:
    rows = store.of("peer", any_code=True)
    if not rows:
        return
    ours = {seed: row for seed, row in store.of("single").items() if row["solved"]}
    _heading("Other planners, same obstacles, same clearance")
    print(f"{'method':30}{'solved':>8}{'over ours':>11}{'s':>7}{'MB':>6}  takes no account of")
    for method in dict.fromkeys(method for _, method in rows):
        some = {seed: row for (seed, name), row in rows.items() if name == method}
        done = {seed: row for seed, row in some.items() if row["solved"]}
        both = [row["length"] / ours[seed]["length"] for seed, row in done.items() if seed in ours]
        length = f"{np.median(both):.3f}" if both else "-"
        memory = [row["memory"] for row in some.values() if row.get("memory")]
        shown = f"{np.median(memory):.0f}" if memory else "-"
        spent = np.median([row["time"] for row in some.values()])
        ignores = next(iter(some.values()))["ignores"]
        share = f"{len(done)}/{len(some)}"
        print(f"{method:30}{share:>8}{length:>11}{spent:7.2f}{shown:>6}  {ignores}")
        if any(row["hose"] for row in some.values()):
            _like_for_like(some, ours)


def _like_for_like(some: dict[int, Record], ours: dict[int, Record]) -> None:
    """A planner of real hoses against ours: at equal length its time, at equal time its length."""
    done = {seed: row for seed, row in some.items() if row["solved"]}
    shorter = [s for s in done if s in ours and done[s]["length"] < ours[s]["length"] - 1e-6]
    print("    shorter than ours:", _seeds(shorter))
    print("    found where ours found none:", _seeds([s for s in done if s not in ours]))
    both = [seed for seed in some if seed in ours]
    print("    ours alone found one:", _share(sum(s not in done for s in both), len(both)))
    times, lengths, runs = [], [], 0
    for seed in both:
        mine = ours[seed]
        for run in some[seed].get("runs", ()):
            runs += 1
            steps = run.get("history", []) if run["solved"] else []
            reached = [t for t, length in steps if length <= 1.001 * mine["length"]]
            times += [reached[0] / mine["work"]] if reached else []
            early = [length for t, length in steps if t <= max(mine["work"], steps[0][0])]
            lengths += [early[-1] / mine["length"]] if early else []
    print(f"    runs as short as ours within 0.1 %: {_share(len(times), runs)}; time over ours:",
          _spread(times))  # fmt: skip
    print("    first length, or that at our time, over ours:", _spread(lengths))


def _growth(store: Store, _: dict[int, float]) -> None:
    rows = store.of("growth")
    if not rows:
        return
    _heading("Growth (times in s, memory in MB)")
    hidden = ("kind", "code", "problem", "seed")
    for row in rows.values():
        shown = {key: value for key, value in row.items() if key not in hidden}
        print(" ", ", ".join(f"{key} {_figure(value)}" for key, value in shown.items()))


def _figure(value: object) -> str:
    return f"{value:.3g}" if isinstance(value, float) else str(value)
