"""Another boat for the demo kit: a bow locker, wedge-shaped, drawn closed in centimetres.

Half breadth 1.0 m at its after end, 0.35 m at its fore end, 2.2 m long, 1.25 m high, one tank
inside. The mesh's x points aft. Everything is invented.
"""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import trimesh

from tests import ROOT

SCENARIOS = ROOT / "scenarios"

AFT, FORE, SOLE, DECK = -1.2, 1.0, -0.5, 0.75
TANK = ((-1.19, 0.30, -0.49), (-0.85, 0.80, -0.10))

BOAT = """
[boat]
name = "Wedge-shaped bow locker"
mesh = "locker.stl"
origin = "cad"
unit = "cm"
up = "+z"
forward = "-x"
datum = {{ point = "{sole}", above_sea = "-500 mm", taken = "drawing" }}
centreline = {{ point = "{sole}", offset = "0 mm", side = "port" }}
inside = "{inside}"

[boat.ports.seacock]
role = "seacock"
at = "{seacock}"
direction = "up"
connection = "hose tail to suit"
thread = "3/4 in BSP"

[boat.ports.overboard]
role = "overboard"
at = "{overboard}"
direction = "starboard"
connection = "hose tail to suit"
thread = "1/2 in BSP"

[boat.ports.tank]
role = "tank"
at = "{tank}"
direction = "up"
connection = "push-in 8 mm"
thread = "1/4 in BSP"

[boat.conditions]
heel = ["-15 deg", "0 deg", "15 deg"]
water_temperature = ["10 degC"]
"""

#: module: (at, yaw)
PLACES: dict[str, tuple[tuple[float, float, float], int]] = {
    "strainer": ((0.20, 0.25, -0.30), 0),
    "feed_pump": ((-0.30, 0.30, -0.30), 0),
    "prefilters": ((-0.60, 0.62, 0.05), 0),
    "hp_pump": ((-0.75, -0.55, -0.46), 0),
    "vessel": ((-0.25, -0.46, 0.30), 180),
    "valve_panel": ((0.80, 0.00, 0.20), 180),
    "control_panel": ((0.30, -0.43, -0.30), 90),
}

#: Planted faults: a filter bowl that cannot drop onto the sole, and suction hose that is long and
#: thin because the strainer is at the far end.
PLANTED = {"strainer": ((-0.72, -0.05, -0.25), 0), "prefilters": ((-0.60, 0.62, -0.42), 0)}
THIN = {"sea_to_strainer": "suction_10", "strainer_to_pump": "suction_10"}


def breadth(x: float) -> float:
    """Half breadth at x [m]."""
    return 1.0 - 0.65 * (x - AFT) / (FORE - AFT)


def picked(x: float, y: float, z: float) -> str:
    """A point of the boat frame as picked on the mesh: centimetres, x aft, y to starboard."""
    return f"picked {-100 * x:.2f} {-100 * y:.2f} {100 * z:.2f}"


def write_locker(folder: Path, *, planted: bool) -> Path:
    """Write mesh, boat, kit, layout and scenario into a folder; the scenario's path."""
    folder.mkdir(parents=True, exist_ok=True)
    _mesh().export(folder / "locker.stl")
    x, tank = -0.10, np.mean(TANK, axis=0)
    boat = BOAT.format(
        sole=picked(0.0, 0.0, SOLE),
        inside=picked(0.0, 0.0, 0.2),
        seacock=picked(0.55, 0.15, SOLE),
        overboard=picked(x, breadth(x), 0.45),
        tank=picked(float(tank[0]), float(tank[1]), TANK[1][2]),
    )
    (folder / "boat.toml").write_text(boat)
    (folder / "layout.toml").write_text(_layout(planted=planted))
    shutil.copy(SCENARIOS / "demo_kit.toml", folder / "kit.toml")
    scenario = folder / "locker.toml"
    uses = 'uses = ["boat.toml", "kit.toml", "layout.toml"]'
    scenario.write_text(f'name = "Bow locker"\nabout = "invented"\n{uses}\n')
    return scenario


def _mesh() -> trimesh.Trimesh:
    """Locker with normals inward, tank with normals outward, in the mesh's axes [cm]."""
    corners = np.array(
        [[x, side * breadth(x), z] for x in (AFT, FORE) for side in (-1, 1) for z in (SOLE, DECK)]
    )
    shell = trimesh.convex.convex_hull(corners)
    shell.invert()
    tank = trimesh.creation.box(bounds=TANK)
    both = trimesh.util.concatenate([shell, tank])
    both.apply_transform(np.diag([-100.0, -100.0, 100.0, 1.0]))
    return both


def _layout(*, planted: bool) -> str:
    places = PLACES | (PLANTED if planted else {})
    text = '[layout]\nname = "Bow locker"\npitch = "15 mm"\n'
    for name, (at, yaw) in places.items():
        where = ", ".join(f'"{value:.3f} m"' for value in at)
        text += f"[layout.modules.{name}]\nat = [{where}]\n"
        text += f'rotate = ["0 deg", "0 deg", "{yaw} deg"]\n'
    for line, hose in (THIN if planted else {}).items():
        text += f'[layout.lines.{line}]\nhose = "{hose}"\n'
    return text
