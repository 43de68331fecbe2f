"""Good mesh files of every kind, and ways to damage them."""

from __future__ import annotations

import base64
import contextlib
import json
import random
import re
import struct
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np

from tests import specimens
from tests.specimens import cad
from tests.specimens.mesh_files import (
    sampled,
    textured_obj,
    tree_of,
    write_cloud,
    write_glb,
    write_obj,
    write_text_stl,
)

#: A room with a box in it, 96 triangles.
ROOM = specimens.finer(specimens.room_with_box(), 1)
#: Readers in separate processes take a second each: one input in so many.
SLOW, ONE_IN = (".step", ".las", ".laz", ".e57"), 40
Make = Callable[[Path], object]


def originals(folder: Path) -> dict[str, bytes]:
    """A good file of every kind that is read."""
    kinds: dict[str, Make] = {
        "a.stl": lambda p: specimens.write_stl(p, ROOM),
        "text.stl": lambda p: write_text_stl(p, ROOM),
        "a.obj": lambda p: write_obj(p, ROOM),
        "a.ply": lambda p: specimens.write_ply(p, ROOM),
        "cloud.ply": lambda p: write_cloud(p, sampled(ROOM, 0.2)),
        "textcloud.ply": lambda p: write_cloud(p, sampled(ROOM, 0.3), text=True),
        "text.ply": _text_ply,
        "quads.obj": _quads,
        "a.gltf": _gltf,
        "a.glb": lambda p: write_glb(p, *tree_of(ROOM)),
        "a.3mf": lambda p: cad.write_3mf(
            p,
            cad.model_3mf(f'<object id="1">{cad.mesh_3mf(ROOM)}</object>', '<item objectid="1"/>'),
        ),
        "a.dae": lambda p: p.write_text(
            cad.dae(ROOM, '<node><instance_geometry url="#room"/></node>')
        ),
        "a.zip": _zipped,
        "a.step": lambda p: p.write_text(cad.step((0, 0, 0), (200, 100, 50))),
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


def _text_ply(path: Path) -> None:
    points, faces = cad.indexed(ROOM)
    path.write_text(
        f"ply\nformat ascii 1.0\nelement vertex {len(points)}\nproperty float x\n"
        f"property float y\nproperty float z\nelement face {len(faces)}\n"
        "property list uchar int vertex_indices\nend_header\n"
        + "".join("{:.9g} {:.9g} {:.9g}\n".format(*point) for point in points)
        + "".join("3 {} {} {}\n".format(*face) for face in faces)
    )


def _quads(path: Path) -> None:
    """The two triangles of each square as one face."""
    points, faces = cad.indexed(specimens.room_with_box())
    half = len(faces) // 4
    rows = ["v {:.9g} {:.9g} {:.9g}".format(*point) for point in points]
    for start in (0, 2 * half):
        for one, other in zip(faces[start : start + half], faces[start + half :], strict=False):
            odd = int(np.setdiff1d(other, one)[0])
            ring = [int(at) for at in one]
            apart = next(at for at in range(3) if ring[at] not in other)
            ring = ring[apart:] + ring[:apart]
            rows.append("f " + " ".join(str(at + 1) for at in (*ring[:2], odd, ring[2])))
    path.write_text("\n".join(rows) + "\n")


def _gltf(path: Path) -> None:
    tree, data = tree_of(ROOM)
    uri = "data:application/octet-stream;base64," + base64.b64encode(data).decode()
    tree["buffers"][0]["uri"] = uri
    path.write_text(json.dumps(tree))


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
    """One random kind of damage."""
    data = bytearray(whole)
    kind = draw.randrange(9)
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
    elif kind == 5:  # a piece duplicated or removed
        a, b = sorted(draw.randrange(len(data)) for _ in range(2))
        data[a:b] = b"" if draw.random() < 0.5 else data[a:b] * 2
    elif kind == 7:  # two lines or words swapped
        sep = draw.choice([b"\n", b" ", b">", b","])
        parts = bytes(data).split(sep)
        if len(parts) > 3:
            one, other = draw.sample(range(len(parts)), 2)
            parts[one], parts[other] = parts[other], parts[one]
        data = bytearray(sep.join(parts))
    elif kind == 8:  # something after the end
        data += draw.choice([bytes(50), b"\n\n", draw.randbytes(200), whole[:200], whole])
    else:  # junk
        at = draw.randrange(len(data))
        junk = draw.randbytes(draw.randint(1, 60))
        data[at : at + len(junk)] = junk
    return bytes(data)


def _other_number(data: bytearray, draw: random.Random) -> bytearray:
    numbers = list(re.finditer(rb"-?\d+\.?\d*", bytes(data[:20_000])))
    if not numbers:
        return data
    one = draw.choice(numbers)
    other = draw.choice(
        [
            b"nan",
            b"inf",
            b"-1",
            b"999999999999",
            b"1e300",
            b"1e-300",
            b"",
            b"x",
            b"1_0",
            b"0",
            b"-2",
        ]
    )
    data[one.start() : one.end()] = other
    return data


def tenths(originals_: dict[str, bytes], most: int = 60) -> Iterator[tuple[str, bytes]]:
    """Every file cut at every tenth byte of its beginning."""
    for name, whole in originals_.items():
        for end in range(0, min(len(whole), 10 * most), 10):
            yield name, whole[:end]


def bombs(folder: Path) -> Iterator[tuple[str, bytes]]:
    """Small files that declare, or expand to, far more than they contain."""
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
    model = cad.model_3mf
    mesh = cad.mesh_3mf(ROOM)
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
        yield "bomb.3mf", cad.write_3mf(folder / "bomb.3mf", text).read_bytes()
    yield "bomb.dae", b"<?xml version='1.0'?><COLLADA>" + b"<node>" * 3_000_000
    path = folder / "bomb.zip"
    for names in (["../../../../x.obj"], [f"{k}.txt" for k in range(30_000)], ["/etc/a.ply"]):
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


def spoilt(good: dict[str, bytes], number: int, seed: int) -> tuple[str, bytes]:
    """The damaged file of that number, the same every time."""
    draw = random.Random(f"{seed}-{number}")
    quick = [name for name in good if Path(name).suffix not in SLOW]
    name = draw.choice(list(good) if number % ONE_IN == 0 else quick)
    return name, damaged(good[name], draw)


def made_up(good: dict[str, bytes], folder: Path) -> Iterator[tuple[str, bytes]]:
    """Files unlikely to occur by chance: bombs, every tenth byte of a beginning, wrong endings."""
    yield from bombs(folder)
    for name in good:
        for other in good:
            yield f"as{Path(other).suffix}", good[name]
    yield from tenths(good, 25)
