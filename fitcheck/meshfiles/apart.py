"""Formats read by optional libraries, each file in a process of its own with limits."""

from __future__ import annotations

import re
import signal
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np

from fitcheck.errors import MeshError
from fitcheck.findings.said import length, say
from fitcheck.meshfiles import foreign
from fitcheck.meshfiles.formats.gltf import read_glb
from fitcheck.meshfiles.reading import REEXPORT, Reading, thinned_to
from fitcheck.meshfiles.topology import topology
from fitcheck.units import Metre

#: What to install for each kind.
NEEDS = {"step": "cascadio", "las": '"laspy[lazrs]"', "e57": "pye57"}
AGAIN = "export it again, only the compartment"
CALLED = {"step": "STEP", "las": "LAS/LAZ", "e57": "E57"}
#: Wall-clock seconds before a reader is stopped, per second of processor time it may take.
PATIENCE = 2
#: Exit codes of a process that used up its processor time.
OVERTIME = tuple(-getattr(signal, name) for name in ("SIGXCPU",) if hasattr(signal, name))

_PREFIXES: dict[str, Metre] = {"": 1.0, "MILLI": 1e-3, "CENTI": 1e-2, "DECI": 0.1, "MICRO": 1e-6}
_SI = re.compile(rb"SI_UNIT\s*\(\s*(?:\$|\.(\w+)\.)\s*,\s*\.METRE\.\s*\)")
_OTHER = re.compile(rb"CONVERSION_BASED_UNIT\s*\(\s*'(INCH|FOOT)'")


def read_step(path: Path, name: str) -> Reading:
    """Mesh a STEP file with its assemblies, in the file's own unit.

    The unit is the declared one; with several, or none that is known, the result is in metres.
    Raises MeshError.
    """
    with path.open("rb") as file:
        if not file.read(256).lstrip().startswith(b"ISO-10303-21"):
            raise MeshError(name, "does not start with a STEP header", REEXPORT)
    with tempfile.TemporaryDirectory(prefix="fitcheck-") as folder:
        target = Path(folder) / "mesh.glb"
        _run("step", path, target, name)
        reading = read_glb(target, name)
    text = path.read_bytes()
    unit = _step_unit(text, name)
    said = say("file.meshed", within=length(foreign.CHORD / 1000.0))
    open_edges = 0 if b"OPEN_SHELL" in text else topology(reading.triangles).open_edges
    seen = f"it is drawn in closed solids, and {open_edges:,} edges of its mesh are open"
    return Reading(
        triangles=reading.triangles / unit,
        promised=reading.promised,
        unit=unit,
        said=(said,),
        doubts=(seen,) if open_edges else (),
    )


def _step_unit(text: bytes, name: str) -> Metre:
    """The length unit a STEP file declares; an inch is defined through a metre, so it is checked
    first.
    """
    other = {match.group(1) for match in _OTHER.finditer(text)}
    if len(other) == 1:
        return 0.0254 if b"INCH" in other else 0.3048
    prefixes = {(match.group(1) or b"").decode() for match in _SI.finditer(text)}
    if len(prefixes) == 1 and not other:
        prefix = prefixes.pop()
        if prefix not in _PREFIXES:
            raise MeshError(
                name, f"its length unit is {prefix[:20]}metre, which does not exist", REEXPORT
            )
        return _PREFIXES[prefix]
    return 1.0


def read_las(path: Path, name: str) -> Reading:
    """The points of a LAS or LAZ file, thinned. Raises MeshError."""
    return _cloud("las", path, name)


def read_e57(path: Path, name: str) -> Reading:
    """The points of an E57 file and its scanner positions, in metres by the standard.

    The standard is ASTM E2807. Raises MeshError.
    """
    return _cloud("e57", path, name)


def _cloud(kind: str, path: Path, name: str) -> Reading:
    with tempfile.TemporaryDirectory(prefix="fitcheck-") as folder:
        target = Path(folder) / "cloud.npz"
        _run(kind, path, target, name)
        with np.load(target) as found:
            points, count = found["points"], int(found["count"])
            beyond = int(found["beyond"]) if "beyond" in found else 0
            stations = found["stations"] if "stations" in found else np.empty((0, 3))
            station = found["station"] if "station" in found else np.full(len(points), -1)
    if len(points) == 0:
        raise MeshError(name, "has no points", "export it again from the scanning program")
    return Reading(
        points=points,
        stations=stations,
        station=station.astype(np.int32),
        unit=1.0 if kind == "e57" else None,
        said=thinned_to(count, len(points)),
        doubts=(f"{beyond:,} of its points lie outside the bounds it states",) if beyond else (),
    )


def _run(kind: str, source: Path, target: Path, name: str) -> None:
    """Let `foreign.py` write the target, or raise MeshError with its message."""
    script = str(Path(foreign.__file__))
    seconds = foreign.limits(source.stat().st_size)[1]
    command = [sys.executable, "-P", script, kind, str(source.resolve()), str(target)]
    try:
        answer = subprocess.run(
            command,
            capture_output=True,
            text=True,
            errors="replace",
            timeout=PATIENCE * seconds,
        )
    except subprocess.TimeoutExpired:
        seen = f"was not read within {PATIENCE * seconds} s, and is damaged or too large"
        raise MeshError(name, seen, AGAIN) from None
    if answer.returncode in OVERTIME:
        seen = f"was not read within {seconds} s of computing, and is damaged or too large"
        raise MeshError(name, seen, AGAIN)
    said = (answer.stdout.strip().splitlines() or [""])[-1]
    if answer.returncode == 3:
        seen = f"{CALLED[kind]} needs a library that is not installed ({said.split()[-1]})"
        remedy = f"install it: {sys.executable} -m pip install {NEEDS[kind]}"
        raise MeshError(name, seen, remedy)
    if answer.returncode != 0 or not target.is_file():
        why = said if answer.returncode == 2 else "its reader stopped"
        raise MeshError(name, f"is not a readable {CALLED[kind]} file ({why})", REEXPORT)
