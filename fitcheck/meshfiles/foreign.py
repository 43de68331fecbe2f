"""Script for a separate process: reads STEP, LAS, LAZ and E57 with third-party libraries.

Those are written in C++ and Rust and read unvalidated files: a crash ends this process and not the
program. Answers with an .npz file, or with one line on standard output and exit status 2. Usage:
foreign.py KIND IN OUT.
"""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Callable
from typing import Any

import numpy as np

#: Maximum address space and processor time [bytes, s].
MEMORY, SECONDS = 6_000_000_000, 300
#: Limits for the smallest file, and the increase per byte.
BASE_MEMORY, BASE_SECONDS = 3_000_000_000, 20
BYTE_MEMORY, BYTE_SECONDS = 200, 1 / 20_000
MAX_POINTS = 60_000_000
CHUNK = 2_000_000
#: Points are thinned to one per cell of this share of the cloud's longest side.
FINE = 1 / 4000
#: Maximum distance of a mesh from the drawn surface [mm], and maximum angle between facets [rad].
CHORD, TURN = 0.2, 0.25


def main(kind: str, source: str, target: str) -> int:
    """Read one file and write the result; returns the exit status."""
    _limit(os.path.getsize(source))
    try:
        READERS[kind](source, target)
    except ModuleNotFoundError as error:
        sys.stdout.write(f"missing {error.name}\n")
        return 3
    except Exception as error:
        sys.stdout.write(" ".join(f"{type(error).__name__}: {error}".split())[:160] + "\n")
        return 2
    return 0


def limits(size: int) -> tuple[int, int]:
    """Address space and processor time allowed for a file of `size` bytes [bytes, s]."""
    return (
        min(BASE_MEMORY + size * BYTE_MEMORY, MEMORY),
        min(BASE_SECONDS + int(size * BYTE_SECONDS), SECONDS),
    )


def _limit(size: int) -> None:
    try:
        import resource
    except ImportError:
        return
    memory, seconds = limits(size)
    wanted = (
        (resource.RLIMIT_AS, memory, memory),
        # The first limit sends the process a signal, the second kills it.
        (resource.RLIMIT_CPU, seconds, seconds + 5),
        (resource.RLIMIT_CORE, 0, 0),
    )
    for kind, soft, most in wanted:
        # A limit set from outside may be lower, and must not be raised.
        _, hard = resource.getrlimit(kind)
        most = most if hard == resource.RLIM_INFINITY else min(most, hard)
        # Some systems refuse some limits; the caller's timeout still ends the read.
        with contextlib.suppress(OSError, ValueError):
            resource.setrlimit(kind, (min(soft, most), most))


def _step(source: str, target: str) -> None:
    """Mesh the solids and sheets of a STEP file into a GLB, metres."""
    import cascadio

    status = cascadio.step_to_glb(source, target, CHORD, TURN, use_parallel=False)
    if status not in (0, None):
        raise ValueError("not a readable STEP file")


def _las(source: str, target: str) -> None:
    import laspy

    with laspy.open(source) as file:
        _refuse(file.header.point_count)
        span = np.asarray(file.header.maxs) - np.asarray(file.header.mins)
        grain = max(float(span.max()) * FINE, 1e-9)
        if not np.isfinite(grain):
            raise ValueError("its header gives no size")
        origin = np.asarray(file.header.mins, dtype=np.float64)
        kept: list[Any] = []
        count = beyond = 0
        low, high = origin - grain, np.asarray(file.header.maxs) + grain
        for chunk in file.chunk_iterator(CHUNK):
            count += len(chunk)
            rows = np.stack([np.asarray(chunk[axis]) for axis in "xyz"], axis=1)
            beyond += int(((rows < low) | (rows > high)).any(axis=1).sum())
            kept.append(rows[_thinned(rows, origin, grain)])
        if count != file.header.point_count:
            raise ValueError(f"declares {file.header.point_count:,} points, {count:,} follow")
    points = np.concatenate([np.empty((0, 3)), *kept])
    points = points[_thinned(points, origin, grain)]
    np.savez(target, points=points, count=count, beyond=beyond)


def _e57(source: str, target: str) -> None:
    """Every scan in the file's own frame, with its scanner position."""
    import pye57

    file = pye57.E57(source)
    headers = [file.get_header(number) for number in range(file.scan_count)]
    _refuse(sum(header.point_count for header in headers))
    clouds: list[Any] = []
    stations: list[Any] = []
    numbers: list[Any] = []
    count = 0
    for number, header in enumerate(headers):
        rows = file.read_scan(number, transform=True, ignore_missing_fields=True)
        cloud = np.stack([rows[f"cartesian{axis}"] for axis in "XYZ"], axis=1)
        count += len(cloud)
        cloud = cloud[np.isfinite(cloud).all(axis=1)]
        if len(cloud) == 0:
            continue
        grain = max(float(np.ptp(cloud, axis=0).max()) * FINE, 1e-9)
        clouds.append(cloud[_thinned(cloud, cloud.min(axis=0), grain)])
        if header.has_pose():
            numbers.append(np.full(len(clouds[-1]), len(stations)))
            stations.append(np.asarray(header.translation, dtype=np.float64))
        else:
            numbers.append(np.full(len(clouds[-1]), -1))
    np.savez(
        target,
        points=np.concatenate([np.empty((0, 3)), *clouds]),
        stations=np.array(stations, dtype=np.float64).reshape(-1, 3),
        station=np.concatenate([np.empty(0, dtype=np.int64), *numbers]),
        count=count,
    )


def _refuse(count: int) -> None:
    if count > MAX_POINTS:
        raise ValueError(f"has {count:,} points, the maximum is {MAX_POINTS:,}; thin it first")
    if count <= 0:
        raise ValueError("has no points")


def _thinned(points: Any, origin: Any, grain: float) -> Any:
    """Mask of the points to keep: the first in each cell of edge `grain`."""
    cell = np.floor((points - origin) / grain).astype(np.int64) & ((1 << 20) - 1)
    key = (cell[:, 0] << 40) | (cell[:, 1] << 20) | cell[:, 2]
    _, first = np.unique(key, return_index=True)
    return np.sort(first)


READERS: dict[str, Callable[[str, str], None]] = {"step": _step, "las": _las, "e57": _e57}

if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
