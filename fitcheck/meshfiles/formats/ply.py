"""PLY, text and binary: rows are read as the header declares, and as many."""

from __future__ import annotations

import re
import struct
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import chain, islice
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fitcheck.errors import MeshError
from fitcheck.meshfiles.foreign import CHUNK, MAX_POINTS, MOST_KEPT, Thinner
from fitcheck.meshfiles.formats.polygons import cut_faces
from fitcheck.meshfiles.reading import (
    REEXPORT,
    Reading,
    decimals,
    refuse_count,
    thinned_to,
    whole,
)

_KINDS = {
    **dict.fromkeys(("char", "int8"), "i1"),
    **dict.fromkeys(("uchar", "uint8"), "u1"),
    **dict.fromkeys(("short", "int16"), "i2"),
    **dict.fromkeys(("ushort", "uint16"), "u2"),
    **dict.fromkeys(("int", "int32"), "i4"),
    **dict.fromkeys(("uint", "uint32"), "u4"),
    **dict.fromkeys(("float", "float32"), "f4"),
    **dict.fromkeys(("double", "float64"), "f8"),
    **dict.fromkeys(("int64",), "i8"),
    **dict.fromkeys(("uint64",), "u8"),
}
#: The same kinds as named by `struct`.
_FORMS = dict(
    zip(("i1", "u1", "i2", "u2", "i4", "u4", "f4", "f8", "i8", "u8"), "bBhHiIfdqQ", strict=True)
)
_KEPT = ("x", "y", "z", "nx", "ny", "nz", "frame")
_ORDERS = {"ascii": "", "binary_little_endian": "<", "binary_big_endian": ">"}
MAX_HEAD = 65_536
#: Frame numbers of points are below this.
MOST_FRAMES = 1 << 18
#: Elements with surfaces that are not in faces.
_OTHER_SURFACES = ("tristrips", "triangle_strips")

Columns = dict[str, NDArray[np.float64]]


@dataclass(slots=True)
class _Element:
    """One element of a header: its keys in order, each with its type and, for a list, the type of
    its size.

    order : "<" or ">" of a binary file, "" of a text
    """

    name: str
    count: int
    order: str
    keys: list[tuple[str, str, str]] = field(default_factory=list)

    @property
    def plain(self) -> bool:
        """Without lists, so that all its rows have the same length."""
        return not any(size for _, _, size in self.keys)

    @property
    def ring(self) -> int:
        """Index of the key that lists the corners of a face, -1 if none does."""
        listed = (
            bool(size) and key.startswith("vertex_ind") and kind[0] != "f"
            for key, kind, size in self.keys
        )
        return next((at for at, found in enumerate(listed) if found), -1)

    def least(self) -> int:
        """The fewest bytes it can take: a number and its separator are two."""
        if not self.order:
            return self.count * 2 * len(self.keys)
        each = sum(np.dtype(size or kind).itemsize for _, kind, size in self.keys)
        return self.count * each

    def row(self, lengths: list[int]) -> np.dtype[np.void]:
        """A row of it with these list lengths."""
        fields: list[tuple[str, str] | tuple[str, str, tuple[int]]] = []
        for at, (_, kind, size) in enumerate(self.keys):
            if size:
                fields.append((f"n{at}", self.order + size))
                fields.append((f"k{at}", self.order + kind, (lengths[at],)))
            else:
                fields.append((f"k{at}", self.order + kind))
        return np.dtype(fields)


def read_ply(path: Path, name: str) -> Reading:
    """Read a PLY with faces, or the points of one without. Raises MeshError."""
    with path.open("rb") as file:
        head = file.read(MAX_HEAD)
    first = re.match(rb"ply[ \t]*(\r\n|\n|\r)", head)
    if first is None:
        raise MeshError(name, "does not start with 'ply', so it is not PLY", REEXPORT)
    # A line feed after a carriage return may be the first byte of the data.
    end = re.search(rb"[\r\n][ \t]*end_header[ \t]*" + first[1], head)
    if end is None:
        raise MeshError(name, "its PLY header has no end (cut short?)", REEXPORT)
    lines = [line.split() for line in head[: end.start()].decode("latin-1").splitlines()]
    elements = _elements(lines, name)
    if path.stat().st_size - end.end() < sum(element.least() for element in elements):
        seen = f"the header declares more than the {path.stat().st_size:,} bytes of the file"
        raise MeshError(name, f"{seen} (cut short)", REEXPORT)
    faces = next((element.count for element in elements if element.name == "face"), 0)
    points = next((element.count for element in elements if element.name == "vertex"), 0)
    if not points:
        raise MeshError(name, "has neither faces nor points", REEXPORT)
    if faces:
        refuse_count(faces, name)
    elif any(element.count and not element.plain for element in elements):
        raise MeshError(name, "has lists but no faces, so their meaning is unknown", REEXPORT)
    if points > MAX_POINTS:
        seen = f"has {points:,} points, the maximum is {MAX_POINTS:,}"
        raise MeshError(name, seen, "cut the compartment out of it or thin the cloud")
    data = np.memmap(path, dtype=np.uint8, mode="r", offset=end.end()).data
    return _binary(data, elements, name) if elements[0].order else _text(data, elements, name)


def _elements(lines: list[list[str]], name: str) -> list[_Element]:
    form = next((line[1] for line in lines if line[:1] == ["format"] and len(line) > 1), "")
    if form not in _ORDERS:
        raise MeshError(name, f"its PLY format is '{form[:40]}', which does not exist", REEXPORT)
    found: list[_Element] = []
    for line in lines:
        try:
            if line[:1] == ["element"]:
                found.append(_Element(line[1], int(line[2]), _ORDERS[form]))
            elif line[:2] == ["property", "list"]:
                found[-1].keys.append((line[4], _KINDS[line[3]], _KINDS[line[2]]))
            elif line[:1] == ["property"]:
                found[-1].keys.append((line[2], _KINDS[line[1]], ""))
        except (IndexError, KeyError, ValueError):
            seen = f"PLY header line not understood: {' '.join(line)[:80]!r}"
            raise MeshError(name, seen, REEXPORT) from None
    if any(element.count < 0 for element in found):
        raise MeshError(name, "its PLY header has a negative count", REEXPORT)
    names = [element.name for element in found]
    keys = [(element.name, key) for element in found for key, _, _ in element.keys]
    if len(set(names)) < len(names) or len(set(keys)) < len(keys):
        raise MeshError(name, "its PLY header has a duplicate entry", REEXPORT)
    strange = [element.name for element in found if element.name in _OTHER_SURFACES]
    if strange:
        raise MeshError(
            name, f"contains {strange[0]}, which are not supported", "export triangles"
        )
    vertex = next((element for element in found if element.name == "vertex"), None)
    if vertex is None or not vertex.plain or {"x", "y", "z"} - {key for key, _, _ in vertex.keys}:
        raise MeshError(name, "its PLY header has no points with x, y and z", REEXPORT)
    if any(element.name == "face" and element.count and element.ring < 0 for element in found):
        raise MeshError(name, "its PLY header does not describe the corners of a face", REEXPORT)
    return found


# --- rows ---------------------------------------------------------------------------------------


def _text(data: memoryview, elements: list[_Element], name: str) -> Reading:
    """Rows of a text, one per line: as many and as long as the header declares."""
    lines = (found.group().split() for found in re.finditer(rb"[^\r\n]+", data))
    rows = (line for line in lines if line)
    body = _Body()
    for element in elements:
        own = _promised(rows, element, name)
        if element.plain:
            flat = decimals(chain.from_iterable(own), name).reshape(element.count, -1)
            body.take(element, {key: flat[:, at] for at, (key, _, _) in enumerate(element.keys)})
        elif element.name == "face":
            for row in own:
                body.face(_corners(row, element, name))
        else:
            deque(own, maxlen=0)
    if next(rows, None) is not None:
        raise MeshError(name, "has more rows than its header declares", REEXPORT)
    if data[-1] not in b"\r\n":
        body.doubts = ("its last line has no end, so its last number may be cut short",)
    return body.reading(name)


def _promised(rows: Iterator[list[bytes]], element: _Element, name: str) -> Iterator[list[bytes]]:
    """The rows of one element, refused where one is missing or has the wrong length."""
    found, wide = 0, len(element.keys)
    for row in islice(rows, element.count):
        if element.plain and len(row) != wide:
            raise MeshError(name, _not_as_said(element), REEXPORT)
        found += 1
        yield row
    if found < element.count:
        seen = f"the header declares {element.count:,} rows of {element.name[:40]}"
        raise MeshError(name, f"{seen}, {found:,} follow (cut short?)", REEXPORT)


def _corners(row: list[bytes], element: _Element, name: str) -> list[int]:
    """The corner numbers in a text row of a face."""
    found: list[int] = []
    at = 0
    try:
        for place, (_, _, size) in enumerate(element.keys):
            items = whole(row[at]) if size else 0
            if items < 0:
                raise ValueError
            if place == element.ring:
                found = [whole(word) for word in row[at + 1 : at + 1 + items]]
            at += 1 + items
    except (IndexError, ValueError):
        at = -1
    if at != len(row) or len(found) < 3:
        raise MeshError(name, _not_as_said(element), REEXPORT)
    return found


def _binary(data: memoryview, elements: list[_Element], name: str) -> Reading:
    """Rows of a binary file, which must end where the file ends."""
    body = _Body()
    at = 0
    faces = any(element.name == "face" and element.count for element in elements)
    for element in elements:
        if element.plain:
            row = element.row([])
            part = data[at : at + element.count * row.itemsize]
            if len(part) < element.count * row.itemsize:
                raise MeshError(name, _not_as_said(element), REEXPORT)
            rows = np.frombuffer(part, dtype=row)
            if element.name == "vertex" and element.count > MOST_KEPT and not faces:
                body.take(element, _thinned(rows, element, name))
                body.said = thinned_to(element.count, len(body.columns["x"]))
                at += len(part)
                continue
            kept = (n for n, (key, _, _) in enumerate(element.keys) if key in _KEPT)
            body.take(
                element,
                {element.keys[n][0]: np.asarray(rows[f"k{n}"], dtype=np.float64) for n in kept},
            )
            at += len(part)
        else:
            at = _lists(data, at, element, body, name)
    if at != len(data):
        seen = f"its header declares {at:,} bytes, {len(data):,} follow"
        raise MeshError(name, seen, REEXPORT)
    return body.reading(name)


def _thinned(rows: NDArray[np.void], element: _Element, name: str) -> Columns:
    """Places and frames of some of a great many points, read some at a time."""
    number = {key: f"k{n}" for n, (key, _, _) in enumerate(element.keys)}
    parts = [rows[start : start + CHUNK] for start in range(0, len(rows), CHUNK)]
    ends = np.array(
        [[(p[number[key]].min(), p[number[key]].max()) for key in "xyz"] for p in parts]
    )
    low, high = ends[..., 0].min(axis=0), ends[..., 1].max(axis=0)
    if not np.isfinite(ends).all():
        return {key: np.asarray(rows[number[key]][:1], dtype=np.float64) * np.nan for key in "xyz"}
    thinner = Thinner(low, float((high - low).max()))
    for own in parts:
        points = np.stack(
            [np.asarray(own[number[key]], dtype=np.float64) for key in "xyz"], axis=1
        )
        frame = _frames(own[number["frame"]], name) if "frame" in number else -1
        thinner.take(points, frame)
    found = dict(zip("xyz", thinner.points.T, strict=True))
    return found | {"frame": thinner.frame.astype(np.float64)} if "frame" in number else found


def _lists(data: memoryview, at: int, element: _Element, body: _Body, name: str) -> int:
    """Read rows that contain lists; returns where they end."""
    if element.count == 0:
        return at
    try:
        lengths, _, _ = _walked(data, at, element)
        row = element.row(lengths)
        end = at + element.count * row.itemsize
        if end <= len(data):
            rows = np.frombuffer(data[at:end], dtype=row)
            listed = [n for n, (_, _, size) in enumerate(element.keys) if size]
            if all((rows[f"n{n}"] == lengths[n]).all() for n in listed):
                if element.name == "face":
                    body.ring += rows[f"k{element.ring}"].ravel().tolist()
                    body.sizes += [lengths[element.ring]] * element.count
                return end
        for _ in range(element.count):
            _, corners, at = _walked(data, at, element)
            if element.name == "face":
                body.face(corners)
    except (struct.error, ValueError):
        raise MeshError(name, _not_as_said(element), REEXPORT) from None
    return at


def _walked(data: memoryview, at: int, element: _Element) -> tuple[list[int], list[int], int]:
    """One row by its own sizes: the length of each list, the corners of a face, its end.

    Raises struct.error beyond the data, ValueError for a negative size or fewer than three
    corners.
    """
    lengths, corners = [], [0, 0, 0]
    for place, (_, kind, size) in enumerate(element.keys):
        items = 1
        if size:
            (items,) = struct.unpack_from(element.order + _FORMS[size], data, at)
            at += np.dtype(size).itemsize
            if items < 0 or items > len(data):
                raise ValueError
            if place == element.ring:
                corners = list(
                    struct.unpack_from(f"{element.order}{items}{_FORMS[kind]}", data, at)
                )
        lengths.append(items)
        at += items * np.dtype(kind).itemsize
    if at > len(data) or len(corners) < 3:
        raise ValueError
    return lengths, corners, at


def _not_as_said(element: _Element) -> str:
    return f"a row of its {element.name[:40]} list is not as the header says (cut short?)"


class _Body:
    """The contents of the rows read so far."""

    def __init__(self) -> None:
        self.columns: Columns = {}
        self.short = False
        self.ring: list[int] = []
        self.sizes: list[int] = []
        self.doubts: tuple[str, ...] = ()
        self.said: tuple[str, ...] = ()

    def take(self, element: _Element, columns: Columns) -> None:
        """Keep the columns of the points."""
        if element.name == "vertex":
            self.columns = columns
            doubles = any(kind == "f8" for key, kind, _ in element.keys if key in "xyz")
            self.short = bool(element.order) and not doubles

    def face(self, corners: list[int]) -> None:
        """Add a face."""
        self.ring += corners
        self.sizes.append(len(corners))

    def reading(self, name: str) -> Reading:
        """Faces split into triangles; without faces the points, with their normals."""
        points = np.stack([self.columns[key] for key in "xyz"], axis=1)
        if self.sizes:
            found = cut_faces(points, self.ring, self.sizes, name)
            return Reading(
                triangles=found, promised=len(found), short=self.short, doubts=self.doubts
            )
        normals = np.empty((0, 3))
        if {"nx", "ny", "nz"} <= set(self.columns):
            normals = np.stack([self.columns[key] for key in ("nx", "ny", "nz")], axis=1)
        frame = np.empty(0, dtype=np.int32)
        if "frame" in self.columns:
            frame = _frames(self.columns["frame"], name)
        return Reading(
            points=points,
            normals=normals,
            station=frame,
            short=self.short,
            doubts=self.doubts,
            said=self.said,
        )


def _frames(numbers: NDArray[Any], name: str) -> NDArray[np.int32]:
    """Frame numbers of points, which must be whole and not negative."""
    if not ((numbers >= 0) & (numbers < MOST_FRAMES) & (numbers == np.floor(numbers))).all():
        seen = f"a point's frame is not a whole number from 0 to {MOST_FRAMES - 1:,}"
        raise MeshError(name, seen, "number the frames from 0 up, as in the list of stations")
    return numbers.astype(np.int32)
