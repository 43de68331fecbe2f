"""Script for a separate process: reads STEP, LAS, LAZ and E57 with third-party libraries.

Those are written in C++ and Rust and read unvalidated files: a crash ends this process and not the
program. Answers with an .npz file, or with one line on standard output and exit status 2. Usage:
foreign.py KIND IN OUT.
"""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Callable, Iterator
from typing import Any

import numpy as np

#: Maximum address space and processor time [bytes, s].
MEMORY, SECONDS = 6_000_000_000, 300
#: Limits for the smallest file, and the increase per byte.
BASE_MEMORY, BASE_SECONDS = 3_000_000_000, 20
BYTE_MEMORY, BYTE_SECONDS = 200, 1 / 20_000
MAX_POINTS = 250_000_000
CHUNK = 2_000_000
#: Points are thinned to one for each position of the scanner and cube of this share of the cloud's
#: longest side; the cubes grow while more than MOST_KEPT are left.
FINE = 1 / 4000
MOST_KEPT = 12_000_000
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


class Thinner:
    """Keeps one point for each frame and cube while a file of any length is read.

    origin, span : lowest corner and longest side of the cloud, in its own unit
    """

    def __init__(self, origin: Any, span: float) -> None:
        self.origin = np.asarray(origin, dtype=np.float64)
        self.grain = max(span * FINE, 1e-9)
        self.points = np.empty((0, 3))
        self.frame = np.empty(0, dtype=np.int32)

    def take(self, points: Any, frame: Any) -> None:
        """Add (n, 3) points and the frame of each, (n,) or one for all."""
        frame = np.broadcast_to(np.asarray(frame, dtype=np.int32), len(points))
        first = self._first(points, frame)
        points = np.concatenate([self.points, points[first]])
        frame = np.concatenate([self.frame, frame[first]])
        first = self._first(points, frame)
        while len(first) > MOST_KEPT:
            self.grain *= max(1.2, (len(first) / MOST_KEPT) ** 0.5)
            first = self._first(points, frame)
        self.points, self.frame = points[first], frame[first]

    def _first(self, points: Any, frame: Any) -> Any:
        """Rows of the first point in each cube of each frame."""
        cell = np.floor((points - self.origin) / self.grain).astype(np.int64) & ((1 << 15) - 1)
        key = (frame.astype(np.int64) << 45) | (cell[:, 0] << 30) | (cell[:, 1] << 15) | cell[:, 2]
        _, first = np.unique(key, return_index=True)
        return np.sort(first)


def _las(source: str, target: str) -> None:
    import laspy

    with laspy.open(source) as file:
        _refuse(file.header.point_count)
        origin = np.asarray(file.header.mins, dtype=np.float64)
        span = float((np.asarray(file.header.maxs) - origin).max())
        if not np.isfinite(span):
            raise ValueError("its header gives no size")
        thinner = Thinner(origin, span)
        count = beyond = 0
        low, high = origin - thinner.grain, np.asarray(file.header.maxs) + thinner.grain
        for chunk in file.chunk_iterator(CHUNK):
            count += len(chunk)
            rows = np.stack([np.asarray(chunk[axis]) for axis in "xyz"], axis=1)
            beyond += int(((rows < low) | (rows > high)).any(axis=1).sum())
            thinner.take(rows, -1)
        if count != file.header.point_count:
            raise ValueError(f"declares {file.header.point_count:,} points, {count:,} follow")
    np.savez(target, points=thinner.points, count=count, beyond=beyond)


def _e57(source: str, target: str) -> None:
    """Every scan in the file's own frame, with its scanner position."""
    import pye57

    file = pye57.E57(source)
    headers = [file.get_header(number) for number in range(file.scan_count)]
    _refuse(sum(header.point_count for header in headers))
    low, high, count = np.full(3, np.inf), np.full(3, -np.inf), 0
    for number, header in enumerate(headers):
        for cloud in _clouds(file, number, header):
            count += len(cloud)
            cloud = cloud[np.isfinite(cloud).all(axis=1)]
            low = np.minimum(low, cloud.min(axis=0, initial=np.inf))
            high = np.maximum(high, cloud.max(axis=0, initial=-np.inf))
    if not count or not np.isfinite(low).all():
        raise ValueError("has no points")
    thinner = Thinner(low, float((high - low).max()))
    stations: list[Any] = []
    for number, header in enumerate(headers):
        frame = -1
        if header.has_pose() and header.point_count:
            frame = len(stations)
            stations.append(np.asarray(header.translation, dtype=np.float64))
        for cloud in _clouds(file, number, header):
            thinner.take(cloud[np.isfinite(cloud).all(axis=1)], frame)
    np.savez(
        target,
        points=thinner.points,
        stations=np.array(stations, dtype=np.float64).reshape(-1, 3),
        station=thinner.frame,
        count=count,
    )


def _clouds(file: Any, number: int, header: Any) -> Iterator[Any]:
    """The valid points of one scan in the file's frame, some at a time."""
    from pye57 import libe57

    if not header.point_count:
        return
    fields = [f"cartesian{axis}" for axis in "XYZ"]
    if not set(fields) <= set(header.point_fields):
        rows = file.read_scan(number, transform=True, ignore_missing_fields=True)
        yield np.stack([rows[name] for name in fields], axis=1)
        return
    invalid = "cartesianInvalidState"
    named = [*fields, *([invalid] if invalid in header.point_fields else [])]
    buffers, arrays = libe57.VectorSourceDestBuffer(), {}
    for name in named:
        arrays[name], buffer = file.make_buffer(name, min(CHUNK, header.point_count))
        buffers.append(buffer)
    reader = header.points.reader(buffers)
    while length := reader.read():
        cloud = np.stack([arrays[name][:length] for name in fields], axis=1).astype(np.float64)
        if invalid in arrays:
            cloud = cloud[arrays[invalid][:length] == 0]
        if header.has_pose():
            cloud = file.to_global(cloud, header.rotation, header.translation)
        yield cloud
    reader.close()


def _refuse(count: int) -> None:
    if count > MAX_POINTS:
        raise ValueError(f"has {count:,} points, the maximum is {MAX_POINTS:,}; thin it first")
    if count <= 0:
        raise ValueError("has no points")


READERS: dict[str, Callable[[str, str], None]] = {"step": _step, "las": _las, "e57": _e57}

if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
