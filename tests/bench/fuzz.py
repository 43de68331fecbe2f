"""Broken files by the thousand: one clear line each, bounded time and memory, nothing written.

Usage: python -m tests.bench.fuzz [count] [seed]. Every input is read by `fitcheck scan` in a child
process of its own with a limit on address space and on processor time; of those that can be read
one in ten is looked at to the end, the others as far as the reading goes. A crash is a signal, a
traceback, an exit status other than 0, 1 or 2, a refusal of more than one line or without the
file's name, or anything written beside a refusal.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import random
import resource
import struct
import sys
import tempfile
import time
import zipfile
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np

import fitcheck.cli as cli
import fitcheck.report
import fitcheck.scenario
import fitcheck.space
import fitcheck.view
from fitcheck.space.gate import read_mesh
from tests import cad_specimens, specimens
from tests.test_cad_files import textured_obj
from tests.test_clouds import sampled, write_cloud
from tests.test_gate import tree_of, write_glb, write_obj, write_text_stl

#: Address space beyond what the parent has, and processor time, of one child [bytes, s].
MEMORY, SECONDS = 3_000_000_000, 60
ROOM = specimens.room()
Make = Callable[[Path], object]


def originals(folder: Path) -> dict[str, bytes]:
    """A good file of every kind that is read."""
    kinds: dict[str, Make] = {
        "a.stl": lambda p: specimens.write_stl(p, ROOM),
        "text.stl": lambda p: write_text_stl(p, ROOM),
        "a.obj": lambda p: write_obj(p, ROOM),
        "a.ply": lambda p: specimens.write_ply(p, ROOM),
        "cloud.ply": lambda p: write_cloud(p, sampled(ROOM, 0.2)),
        "text.ply": lambda p: write_cloud(p, sampled(ROOM, 0.3), text=True),
        "a.glb": lambda p: write_glb(p, *tree_of(ROOM)),
        "a.3mf": lambda p: cad_specimens.write_3mf(
            p,
            cad_specimens.model_3mf(
                f'<object id="1">{cad_specimens.mesh_3mf(ROOM)}</object>', '<item objectid="1"/>'
            ),
        ),
        "a.dae": lambda p: p.write_text(
            cad_specimens.dae(ROOM, '<node><instance_geometry url="#room"/></node>')
        ),
        "a.zip": _zipped,
        "a.step": lambda p: p.write_text(cad_specimens.step((0, 0, 0), (200, 100, 50))),
        "a.las": _las,
        "a.laz": _las,
        "a.e57": _e57,
    }
    found = {}
    for name, make in kinds.items():
        with contextlib.suppress(ImportError):
            make(folder / name)
            found[name] = (folder / name).read_bytes()
    return found


def _zipped(path: Path) -> None:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("room.obj", textured_obj()[0])


def _las(path: Path) -> None:
    import laspy

    points = sampled(ROOM, 0.2)
    header = laspy.LasHeader(point_format=0, version="1.2")
    header.offsets, header.scales = points.min(axis=0), np.full(3, 0.0005)
    data = laspy.LasData(header)
    data.x, data.y, data.z = points.T
    data.write(path)


def _e57(path: Path) -> None:
    import pye57

    points = sampled(ROOM, 0.2)
    file = pye57.E57(str(path), mode="w")
    rows = {f"cartesian{axis}": points[:, k] for k, axis in enumerate("XYZ")}
    file.write_scan_raw(rows, translation=np.zeros(3), rotation=np.array([1.0, 0, 0, 0]))
    file.close()


# --- damage -------------------------------------------------------------------------------------


def damaged(whole: bytes, draw: random.Random) -> bytes:
    """One kind of damage, by chance."""
    data = bytearray(whole)
    kind = draw.randrange(7)
    head = min(len(data), 600)
    if kind == 0:  # bits of the header
        for _ in range(draw.randint(1, 8)):
            data[draw.randrange(head)] ^= 1 << draw.randrange(8)
    elif kind == 1:  # bits anywhere
        for _ in range(draw.randint(1, 20)):
            data[draw.randrange(len(data))] ^= 1 << draw.randrange(8)
    elif kind == 2:  # cut short
        del data[draw.randrange(len(data)) :]
    elif kind == 3:  # an absurd number in four or eight bytes
        size, form = draw.choice([(4, "<I"), (8, "<Q"), (4, "<f"), (8, "<d")])
        at = draw.randrange(max(1, len(data) - size))
        value = draw.choice([0, 1, 2**31 - 1, 2**32 - 1, 2**20])
        if form in ("<f", "<d"):
            value = draw.choice([float("nan"), float("inf"), 1e38, -1e30])
        data[at : at + size] = struct.pack(form, value)
    elif kind == 4:  # a number in text made absurd
        data = _other_number(data, draw)
    elif kind == 5:  # a piece doubled or taken out
        a, b = sorted(draw.randrange(len(data)) for _ in range(2))
        data[a:b] = b"" if draw.random() < 0.5 else data[a:b] * 2
    else:  # junk
        at = draw.randrange(len(data))
        junk = draw.randbytes(draw.randint(1, 60))
        data[at : at + len(junk)] = junk
    return bytes(data)


def _other_number(data: bytearray, draw: random.Random) -> bytearray:
    import re

    numbers = list(re.finditer(rb"-?\d+\.?\d*", bytes(data[:20_000])))
    if not numbers:
        return data
    one = draw.choice(numbers)
    other = draw.choice([b"nan", b"inf", b"-1", b"999999999999", b"1e300", b"1e-300", b"", b"x"])
    data[one.start() : one.end()] = other
    return data


def tenths(originals_: dict[str, bytes], most: int = 60) -> Iterator[tuple[str, bytes]]:
    """Every file cut at every tenth byte of its beginning."""
    for name, whole in originals_.items():
        for end in range(0, min(len(whole), 10 * most), 10):
            yield name, whole[:end]


def bombs(folder: Path) -> Iterator[tuple[str, bytes]]:
    """Small files that promise, or expand to, far more than they are."""
    room, data = tree_of(specimens.finer(ROOM, 5))
    path = folder / "bomb.glb"
    for nodes in (
        [{"mesh": 0} for _ in range(5000)],
        [{"mesh": 0, "children": [0]}],
        [{"children": [k + 1] * 10, "mesh": 0} for k in range(9)] + [{"mesh": 0}],
        [{"children": [k + 1]} for k in range(5000)] + [{"mesh": 0}],
        [{"mesh": 7}],
        [{"mesh": 0, "matrix": [1e38] * 16}],
        [{"mesh": -1}],
    ):
        tree = room | {"nodes": nodes, "scenes": [{"nodes": list(range(len(nodes)))}]}
        yield "bomb.glb", write_glb(path, tree, data).read_bytes()
    for change in (
        {"accessors": [room["accessors"][0] | {"count": 2**40}]},
        {"accessors": [{"count": 2**28, "type": "VEC3", "componentType": 5126, "sparse": {}}]},
        {"buffers": [{"byteLength": 2**50}]},
        {"extensionsRequired": ["EXT_meshopt_compression"]},
        {"buffers": [{"byteLength": len(data), "uri": "../../../../etc/passwd"}]},
        {"buffers": [{"byteLength": len(data), "uri": "/dev/zero"}]},
    ):
        yield "bomb.glb", write_glb(path, room | change, data).read_bytes()
    yield "deep.gltf", b"[" * 200_000
    yield "big.stl", bytes(80) + struct.pack("<I", 2**32 - 1)
    for count in (2**31, 2**40, -3):
        head = f"ply\nformat binary_little_endian 1.0\nelement vertex {count}\nproperty float x\n"
        yield "big.ply", f"{head}property float y\nproperty float z\nend_header\n".encode()
    yield from _archive_bombs(folder)
    yield "far.stl", specimens.write_stl(folder / "far.stl", ROOM + 1e7).read_bytes()
    yield "huge.stl", specimens.write_stl(folder / "huge.stl", ROOM * 1e36).read_bytes()


def _archive_bombs(folder: Path) -> Iterator[tuple[str, bytes]]:
    model = cad_specimens.model_3mf
    mesh = cad_specimens.mesh_3mf(ROOM)
    item = '<item objectid="{}"/>'
    tower = f'<object id="0">{mesh}</object>' + "".join(
        f'<object id="{k}"><components>'
        + f'<component objectid="{k - 1}"/>' * 20
        + "</components></object>"
        for k in range(1, 20)
    )
    entity = "".join(f'<!ENTITY a{k} "{f"&a{k - 1};" * 10}">' for k in range(1, 12))
    for text in (
        model(" " * 300_000_000, ""),
        model("<vertex/>" * 2_000_000, ""),
        model(tower, item.format(19)),
        model("<a>" * 5000, ""),
        model('<object id="1"><components><component objectid="1"/></components></object>',
              item.format(1)),
        f'<?xml version="1.0"?><!DOCTYPE m [<!ENTITY a0 "aaaa">{entity}]><model>&a11;</model>',
        '<?xml version="1.0"?><!DOCTYPE m [<!ENTITY x SYSTEM "file:///etc/passwd">]><m>&x;</m>',
    ):  # fmt: skip
        yield "bomb.3mf", cad_specimens.write_3mf(folder / "bomb.3mf", text).read_bytes()
    yield "bomb.dae", b"<?xml version='1.0'?><COLLADA>" + b"<node>" * 3_000_000
    path = folder / "bomb.zip"
    for names in (["../../../../tmp/x.obj"], [f"{k}.txt" for k in range(30_000)], ["/etc/a.ply"]):
        with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
            for name in names:
                archive.writestr(name, "v 0 0 0\n")
        yield "bomb.zip", path.read_bytes()
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("a.obj", b"v 0 0 0\n" * 40_000_000)
    yield "bomb.zip", path.read_bytes()
    link = zipfile.ZipInfo("a.obj")
    link.external_attr = 0o120777 << 16
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr(link, "/etc/passwd")
    yield "bomb.zip", path.read_bytes()


def inputs(folder: Path, count: int, seed: int) -> Iterator[tuple[str, bytes]]:
    """`count` inputs or more: bombs, every tenth byte, wrong endings, then damage by chance."""
    good = originals(folder)
    yield from bombs(folder)
    names = list(good)
    for name in names:
        for other in names:
            yield f"as{Path(other).suffix}", good[name]
    yield from tenths(good, 25)
    draw = random.Random(seed)
    quick = [name for name in names if Path(name).suffix not in (".step", ".las", ".laz", ".e57")]
    for number in range(count):
        # Readers in processes of their own take half a second each: one input in twenty.
        name = draw.choice(names if number % 20 == 0 else quick)
        yield name, damaged(good[name], draw)


# --- trial --------------------------------------------------------------------------------------


class _ReadableError(Exception):
    """Ends a trial after the reading."""


def _only_read(path: Path, *_: object) -> None:
    read_mesh(path)
    raise _ReadableError


def tried(name: str, data: bytes, whole: bool = True) -> dict[str, object]:
    """One input in a child process: what came of it, its time and memory."""
    with tempfile.TemporaryDirectory(prefix="fuzz-") as folder:
        path = Path(folder) / name
        path.write_bytes(data)
        started = time.perf_counter()
        read_end, write_end = os.pipe()
        child = os.fork()
        if child == 0:
            os.close(read_end)
            _in_child(path, write_end, whole)
        os.close(write_end)
        with os.fdopen(read_end, "rb") as pipe:
            answer = pipe.read()
        _, status, used = os.wait4(child, 0)
        seconds = time.perf_counter() - started
        left = sorted(item.name for item in Path(folder).iterdir())
    report: dict[str, object] = json.loads(answer) if answer else {}
    report |= {"signal": os.WTERMSIG(status) if os.WIFSIGNALED(status) else 0}
    report |= {"seconds": seconds, "megabytes": used.ru_maxrss / 1000, "left": left}
    return report


def _in_child(path: Path, write_end: int, whole: bool) -> None:
    """Scan with limits, tell what was said, and end without tidying up."""
    with Path("/proc/self/statm").open() as file:
        now = int(file.read().split()[0]) * resource.getpagesize()
    resource.setrlimit(resource.RLIMIT_AS, (now + MEMORY, now + MEMORY))
    resource.setrlimit(resource.RLIMIT_CPU, (SECONDS, SECONDS))
    cli._scan_picture = lambda *_: None
    if not whole:
        fitcheck.space.scan = _only_read
    out, err = io.StringIO(), io.StringIO()
    status = -1
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            status = cli.main(["scan", str(path), "--out", str(path.parent / "out")])
    except _ReadableError:
        status = 0
    except BaseException as error:
        err.write(f"Traceback {type(error).__name__}: {error}")
    answer = {"status": status, "said": err.getvalue()[-2000:]}
    os.write(write_end, json.dumps(answer).encode())
    os._exit(0)


def crash(name: str, report: dict[str, object]) -> str:
    """What is wrong with an outcome, "" when nothing is."""
    said = str(report.get("said", ""))
    if report["signal"] or "status" not in report:
        return f"signal {report['signal']}"
    if "Traceback" in said or report["status"] not in (0, 1, 2):
        return said[-200:]
    if report["status"] == 2:
        told = [line for line in said.splitlines() if " s  " not in line[:12]]
        if len(told) != 1 or name not in told[0] or ";" not in told[0]:
            return f"not one line with file and remedy: {told}"
        if report["left"] != [name]:
            return f"left {report['left']}"
    return ""


def main() -> int:
    """Try them all and print what came of it."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 5000
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    fitcheck.view.start_probe = lambda: None
    with tempfile.TemporaryDirectory(prefix="fuzz-good-") as folder:
        # Compile everything once, so that children only read.
        tried("warm.stl", specimens.write_stl(Path(folder) / "warm.stl", ROOM).read_bytes())
        outcomes: Counter[str] = Counter()
        worst_time, worst_memory, crashes = (0.0, ""), (0.0, ""), 0
        for number, (name, data) in enumerate(inputs(Path(folder), count, seed)):
            report = tried(name, data, number % 10 == 0)
            wrong = crash(name, report)
            outcomes["crash" if wrong else str(report["status"])] += 1
            said = str(report.get("said", ""))[-120:].strip()
            worst_time = max(worst_time, (float(str(report["seconds"])), f"{name} {said}"))
            worst_memory = max(worst_memory, (float(str(report["megabytes"])), f"{name} {said}"))
            if wrong:
                crashes += 1
                print(f"{number} {name}: {wrong}", flush=True)
                if crashes <= 20:
                    Path(tempfile.gettempdir(), f"fuzz-crash-{number}-{name}").write_bytes(data)
    print(f"{sum(outcomes.values()):,} inputs, seed {seed}; by exit status {dict(outcomes)}")
    print(f"worst time {worst_time[0]:.1f} s: {worst_time[1]}")
    print(f"worst memory {worst_memory[0]:.0f} MB (resident, parent's pages included): "
          f"{worst_memory[1]}")  # fmt: skip
    return 1 if crashes else 0


if __name__ == "__main__":
    sys.exit(main())
