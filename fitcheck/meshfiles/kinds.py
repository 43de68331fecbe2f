"""Choose the reader for a mesh file, by its first bytes before its name."""

from __future__ import annotations

import struct
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np

from fitcheck.errors import MeshError
from fitcheck.meshfiles.apart import read_e57, read_las, read_step
from fitcheck.meshfiles.archive import open_archive, read_zip
from fitcheck.meshfiles.formats.collada import read_dae
from fitcheck.meshfiles.formats.gltf import read_glb, read_gltf
from fitcheck.meshfiles.formats.obj import read_obj
from fitcheck.meshfiles.formats.ply import read_ply
from fitcheck.meshfiles.formats.stl import read_stl
from fitcheck.meshfiles.formats.threemf import read_3mf
from fitcheck.meshfiles.reading import MAX_BYTES, MAX_CLOUD_BYTES, REEXPORT, THIN, Reading

KNOWN = "STL, OBJ, PLY, GLB, glTF, 3MF, DAE, STEP, LAS, LAZ, E57 and a zip of one can be read"
#: How to convert formats that are not supported.
IN_CAD = "open it in a CAD program and export STEP or 3MF"
IN_MESH = "open it in a mesh program and export PLY or GLB"
IN_CLOUD = "open it in a point cloud program and export PLY, LAS or E57"
IN_SCANNER = "in the scanning program choose PLY, OBJ or GLB instead"
CONVERT = {
    **dict.fromkeys((".iges", ".igs", ".dxf", ".dwg", ".3dm", ".sat", ".x_t", ".brep"), IN_CAD),
    **dict.fromkeys((".sldprt", ".sldasm", ".ipt", ".iam", ".fcstd", ".skp"), IN_CAD),
    **dict.fromkeys((".fbx", ".blend", ".3ds", ".x3d", ".wrl", ".off", ".lwo"), IN_MESH),
    **dict.fromkeys((".usd", ".usda", ".usdc"), IN_MESH),
    ".usdz": f"{IN_SCANNER}; or {IN_MESH}",
    **dict.fromkeys((".pcd", ".xyz", ".pts", ".ptx", ".fls", ".rcp", ".rcs"), IN_CLOUD),
}
_USD = (".usdz", ".usd", ".usda", ".usdc")

#: Kinds that hold points and are read some at a time.
_CLOUDS = ("ply", "las", "e57")
#: What readers and libraries raise on a corrupt file.
_BROKEN = (ArithmeticError, AttributeError, LookupError, OSError, RuntimeError, StopIteration,
           struct.error, TypeError, ValueError)  # fmt: skip

Reader = Callable[[Path, str], Reading]


def read_file(path: Path, name: str) -> Reading:
    """Read a mesh or point cloud of any known kind. Raises MeshError.

    name : the file's name in messages
    """
    kind = _kind(path, name)
    by_name = _SUFFIXES.get(path.suffix.lower(), "")
    reading = _read(kind, path, name)
    if by_name and by_name != kind and not (kind == "zip" and path.suffix.lower() == ".zip"):
        told = f"is called {path.suffix} and holds {kind.upper()}; it was read as that"
        reading = replace(reading, said=(told, *reading.said))
    return reading


def _kind(path: Path, name: str) -> str:
    """The kind of a file, refused if unknown, empty or beyond the limits."""
    try:
        if not path.is_file():
            raise MeshError(name, *_no_file(path))
        size = path.stat().st_size
        with path.open("rb") as file:
            head = file.read(512)
    except OSError as error:
        seen = f"cannot be opened ({error.strerror})"
        raise MeshError(name, seen, "check its permissions and its path") from None
    if size == 0:
        raise MeshError(name, "the file is empty (0 bytes)", REEXPORT)
    suffix = path.suffix.lower()
    kind = _sniffed(head, path, name) or _SUFFIXES.get(suffix, "")
    if not kind:
        shown = suffix if suffix.isprintable() and len(suffix) < 20 else "its ending"
        seen = f"{shown or 'a name without a suffix'}: only {KNOWN}"
        raise MeshError(name, seen, CONVERT.get(suffix, REEXPORT))
    most = MAX_CLOUD_BYTES if kind in _CLOUDS else MAX_BYTES
    if size > most:
        seen = f"the file has {size / 1e9:.1f} GB, more than {most / 1e9:.0f} GB"
        raise MeshError(name, seen, THIN)
    return kind


def _no_file(path: Path) -> tuple[str, str]:
    """What is wrong with a path that does not lead to a file, and what to do."""
    if path.is_dir():
        return "is a folder, not a file", "name a file in it"
    if path.exists():
        return "is no file but a pipe or a device", "name a mesh file"
    return "there is no such file", "check the path of the mesh"


def _sniffed(head: bytes, path: Path, name: str) -> str:
    """The kind by the first bytes; "" if they are not conclusive."""
    if head.startswith(b"PK\x03\x04"):
        return _archived(path, name)
    for start, kind in _STARTS:
        if head.startswith(start):
            return kind
    if head.lstrip(b"\xef\xbb\xbf \t\r\n").startswith(b"<?xml") and b"<COLLADA" in head:
        return "dae"
    if head.lstrip().startswith(b"ISO-10303-21"):
        return "step"
    return ""


def _archived(path: Path, name: str) -> str:
    """3MF is a zip archive with a model in it; a USD scene is one too, but is not supported."""
    with open_archive(path, name) as archive:
        items = [item.lower() for item in archive.namelist()]
    if path.suffix.lower() in _USD:
        seen = "is a USD scene, which is not supported"
        raise MeshError(name, seen, CONVERT[".usdz"])
    if "[content_types].xml" in items and any(item.endswith(".model") for item in items):
        return "3mf"
    return "zip"


def _read(kind: str, path: Path, name: str) -> Reading:
    """Read a file of a known kind; any problem becomes one line."""
    try:
        # Invalid numbers are found once, by whoever receives the reading.
        with np.errstate(all="ignore"):
            return READERS[kind](path, name)
    except MemoryError:
        seen = "needs more memory than is available"
        raise MeshError(name, seen, REEXPORT) from None
    except _BROKEN as error:
        seen = f"is damaged or violates its format ({type(error).__name__}: {error})"
        raise MeshError(name, " ".join(seen.split())[:200], REEXPORT) from None


def _zip(path: Path, name: str) -> Reading:
    def inner(inside: Path, called: str) -> Reading:
        kind = _kind(inside, called)
        if kind == "zip":
            raise MeshError(called, "is an archive inside an archive", "unpack the outer one")
        return _read(kind, inside, called)

    return read_zip(path, name, inner)


_STARTS = (
    (b"glTF", "glb"),
    (b"ply\n", "ply"),
    (b"ply\r", "ply"),
    (b"ply ", "ply"),
    (b"ply\t", "ply"),
    (b"LASF", "las"),
    (b"ASTM-E57", "e57"),
)
_SUFFIXES = {
    ".stl": "stl",
    ".obj": "obj",
    ".ply": "ply",
    ".glb": "glb",
    ".gltf": "gltf",
    ".3mf": "3mf",
    ".dae": "dae",
    ".step": "step",
    ".stp": "step",
    ".las": "las",
    ".laz": "las",
    ".e57": "e57",
    ".zip": "zip",
}
READERS: dict[str, Reader] = {
    "stl": read_stl,
    "obj": read_obj,
    "ply": read_ply,
    "glb": read_glb,
    "gltf": read_gltf,
    "3mf": read_3mf,
    "dae": read_dae,
    "step": read_step,
    "las": read_las,
    "e57": read_e57,
    "zip": _zip,
}
