"""Time per stage and peak memory of one scenario, first call and warm.

Run: python -m tests.bench.stages SCENARIO [warm runs]
"""

from __future__ import annotations

import resource
import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path


def clock(times: dict[str, list[float]], name: str, call: Callable[[], object]) -> object:
    """Run a call and keep how long it took."""
    start = time.perf_counter()
    answer = call()
    times.setdefault(name, []).append(time.perf_counter() - start)
    return answer


def one_run(file: Path, times: dict[str, list[float]]) -> None:
    """All stages once."""
    from fitcheck.fit import check_fit
    from fitcheck.hydraulics import solve_water
    from fitcheck.order import make_order
    from fitcheck.routing import Recall, allow_wander, route_hoses
    from fitcheck.scenario import read_scenario
    from fitcheck.space import survey

    scenario = clock(times, "scenario", lambda: read_scenario(file))
    space = clock(times, "space", lambda: survey(scenario))  # type: ignore[arg-type]
    fit = clock(times, "fit", lambda: check_fit(scenario, space))  # type: ignore[arg-type]
    recall = Recall()
    clock(times, "routing", lambda: route_hoses(scenario, space, fit, recall=recall))  # type: ignore[arg-type]
    routes = clock(times, "wander", lambda: allow_wander(scenario, space, fit, recall))  # type: ignore[arg-type]
    water = clock(times, "hydraulics", lambda: solve_water(scenario, space, routes))  # type: ignore[arg-type]
    clock(times, "order", lambda: make_order(scenario, space, routes, water))  # type: ignore[arg-type]


def main() -> None:
    """Print a row per stage: first call, warm median, warm worst."""
    file, warm = Path(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 5
    times: dict[str, list[float]] = {}
    clock(times, "imports", lambda: __import__("fitcheck.pipeline"))
    for _ in range(warm + 1):
        one_run(file, times)
    print(f"{'stage':12} {'first s':>8} {'median s':>9} {'worst s':>8}")
    for name, (first, *rest) in times.items():
        again = f"{statistics.median(rest):9.3f} {max(rest):8.3f}" if rest else ""
        print(f"{name:12} {first:8.3f} {again}")
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    print(f"peak memory {peak / (1024 if sys.platform != 'darwin' else 1024**2):.0f} MB")


if __name__ == "__main__":
    main()
