"""Zip archives: sizes are checked before anything is unpacked, and no entry name is used as a
path.
"""

from __future__ import annotations

import tempfile
import zipfile
import zlib
from collections.abc import Callable, Generator, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path, PurePosixPath

from fitcheck.errors import MeshError
from fitcheck.meshfiles.reading import MAX_BYTES, REEXPORT, Reading

MAX_ENTRIES = 20_000
#: Maximum number of meshes read from one archive to find the largest.
MAX_MESHES = 20
#: Archives above this size may not expand by more than this factor.
LARGE, MAX_RATIO = 20_000_000, 100
CHUNK = 1 << 20
#: Formats that may be in an archive, most complete first.
INNER = (".glb", ".ply", ".obj", ".stl", ".dae", ".3mf", ".las", ".laz", ".e57", ".step", ".stp")

ReadAny = Callable[[Path, str], Reading]


@contextmanager
def open_archive(path: Path, name: str) -> Iterator[zipfile.ZipFile]:
    """Open a zip archive whose declared sizes are acceptable. Raises MeshError."""
    try:
        with zipfile.ZipFile(path) as archive:
            _refuse_bomb(archive, path, name)
            yield archive
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError) as error:
        seen = f"the archive is damaged or locked ({str(error) or type(error).__name__})"
        raise MeshError(name, " ".join(seen.split()), "pack or download it again") from None
    except (OSError, ValueError, OverflowError) as error:
        seen = f"the archive cannot be read ({type(error).__name__})"
        raise MeshError(name, seen, "pack or download it again") from None


def parts_of(archive: zipfile.ZipFile, item: str, name: str) -> Generator[bytes, None, None]:
    """The bytes of one entry in chunks, refused when there are more than declared."""
    promised, had = archive.getinfo(item).file_size, 0
    with archive.open(item) as file:
        while piece := file.read(CHUNK):
            had += len(piece)
            if had > promised:
                raise MeshError(name, f"{item} is longer than the archive says", REEXPORT)
            yield piece


def read_zip(path: Path, name: str, read: ReadAny) -> Reading:
    """Read the largest mesh or cloud of a zip archive, with `read`.

    Raises MeshError where none can be read.
    """
    best, chosen = None, ""
    left: dict[str, str] = {}
    failed: list[MeshError] = []
    with open_archive(path, name) as archive:
        for item in _meshes(archive, name):
            try:
                reading = _unpacked(archive, item, name, read)
            except MeshError as error:
                failed.append(error)
                left[item] = "cannot be read"
                continue
            if best is None or _size(reading) > _size(best):
                best, reading, chosen, item = reading, best, item, chosen
            if reading is not None:
                left[item] = f"{_size(reading)[0]:,} triangles"
    if best is None:
        raise failed[0]
    kind = PurePosixPath(chosen).suffix.lower()
    more = [item for item in left if item.lower().endswith(kind)]
    told = ", ".join(f"{_shown(item)} ({left[item]})" for item in list(left)[:4])
    doubts = (f"{told} in the archive was left out",) if more else ()
    others = (f"left out: {told}",) if left and not more else ()
    said = (f"{_shown(chosen)} of the archive was read", *others, *best.said)
    return replace(best, said=said, doubts=(*doubts, *best.doubts))


def _size(reading: Reading) -> tuple[int, int]:
    """Triangles, then points."""
    return len(reading.triangles), len(reading.points)


def _unpacked(archive: zipfile.ZipFile, item: str, name: str, read: ReadAny) -> Reading:
    with tempfile.TemporaryDirectory(prefix="fitcheck-") as folder:
        # Under a name of our own: the archive's may point outside the folder.
        inner = Path(folder) / f"mesh{PurePosixPath(item).suffix.lower()}"
        with inner.open("wb") as file:
            file.writelines(parts_of(archive, item, name))
        return read(inner, f"{name}: {_shown(item)}")


def _refuse_bomb(archive: zipfile.ZipFile, path: Path, name: str) -> None:
    entries = archive.infolist()
    if len(entries) > MAX_ENTRIES:
        seen = f"the archive has {len(entries):,} entries, the maximum is {MAX_ENTRIES:,}"
        raise MeshError(name, seen, "pack the mesh alone")
    total = sum(entry.file_size for entry in entries)
    if total > MAX_BYTES or total > max(LARGE, MAX_RATIO * path.stat().st_size):
        seen = f"the archive of {path.stat().st_size:,} bytes would expand to {total:,}"
        raise MeshError(name, seen, "pack the mesh alone, or export binary PLY or GLB")


def _meshes(archive: zipfile.ZipFile, name: str) -> list[str]:
    """The entries to try, most complete format first."""
    items = [item for item in archive.namelist() if not _hidden(item)]
    found = [item for kind in INNER for item in items if item.lower().endswith(kind)]
    if len(found) > MAX_MESHES:
        seen = f"{len(found):,} meshes are in the archive, the maximum is {MAX_MESHES}"
        raise MeshError(name, seen, "unpack it and name the one to use")
    if found:
        return found
    if any(item.lower().endswith((".usdz", ".usd", ".usda", ".usdc")) for item in items):
        seen = "contains a USD scene, which is not supported"
        raise MeshError(name, seen, "in the scanning program choose PLY, OBJ or GLB instead")
    raise MeshError(name, "the archive contains no readable mesh", "pack PLY, OBJ or GLB")


def _hidden(item: str) -> bool:
    parts = (part for part in item.split("/") if part not in (".", ".."))
    return any(part.startswith((".", "__MACOSX")) for part in parts)


def _shown(item: str) -> str:
    """An entry's name made safe to print."""
    short = item if len(item) <= 60 else f"..{item[-58:]}"
    return "".join(c if c.isprintable() else "?" for c in short)
