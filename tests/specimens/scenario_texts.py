"""The smallest scenario files that use most of the format, for tests to damage."""

from __future__ import annotations

from pathlib import Path

from fitcheck.errors import Fault, ScenarioError
from fitcheck.scenario import read_scenario

MAIN = """\
name = "Small"
about = "invented for the tests"
uses = ["boat.toml", "kit.toml", "layout.toml"]
"""

BOAT = """\
[boat]
name = "A box"
mesh = "box.stl"
origin = "scan"
unit = "m"
scan_accuracy = "15 mm"
up = "+y"
forward = "-z"
datum = { point = "picked 0 0 0", above_sea = "120 mm", taken = "clear hose on the seacock" }
centreline = { point = "picked 0 0 0", offset = "0.35 m", side = "starboard" }
inside = "picked 0.5 0.5 0.5"
viewpoints = [
  "picked 0.4 0.5 0.5",
  "picked 0.6 0.5 0.5",
]

[[boat.tape]]
from = "picked 0 0 0"
to = "picked 1 0 0"
length = "3 ft 3 3/8 in"

[[boat.lids]]
name = "hatch"
corners = ["picked 0 1 0", "picked 1 1 0", "picked 1 1 1"]

[[boat.keep_outs]]
name = "engine"
corners = ["picked 0 0 0", "picked 0.2 0.2 0.2"]
why = "hot"

[boat.ports.seacock]
role = "seacock"
at = "picked 0.1 0.1 0.1"
direction = "up"
connection = "hose tail 19 mm"
thread = "3/4 in BSP"

[boat.ports.tank]
role = "tank"
at = "picked 0.9 0.1 0.1"
direction = "towards 0.9 0.4 0.5"
connection = "push-in 8 mm"

[boat.holes.bulkhead]
centre = "picked 0.5 0.5 0"
direction = "forward"
diameter = "60 mm"

[boat.conditions]
heel = ["-20 deg", "0 deg", "20 deg"]
water_temperature = ["5 degC", "86 degF"]
"""

KIT = """\
[kit]
name = "A pump"

[kit.modules.feed_pump]
size = ["220 mm", "120 mm", "140 mm"]
mass = "7.5 lb"
stands = "upright"
access = { front = "80 mm" }
withdrawal = { base = "120 mm" }

[kit.modules.feed_pump.ports.inlet]
at = ["110 mm", "0 mm", "60 mm"]
direction = "front"
connection = "hose tail 13 mm"
thread = "1/2 in BSP"

[kit.modules.feed_pump.ports.outlet]
at = ["-70 mm", "0 mm", "140 mm"]
direction = "top"
connection = "hose tail 13 mm"

[kit.modules.feed_pump.ports.bypass_return]
at = ["85 mm", "60 mm", "90 mm"]
direction = "left"
connection = "hose tail 13 mm"
joins = "inlet"

[kit.lines.suction]
from = "boat.seacock"
to = "feed_pump.inlet"
duty = "suction"
hose = "suction_19"
fittings = 1.0
valve = "0.5 m3/h"

[kit.lines.delivery]
from = "feed_pump.outlet"
to = "boat.tank"
duty = "feed"
hose = "soft_13"
fittings = 2

[kit.hoses.suction_19]
bore = "3/4 in"
outside_diameter = "27 mm"
bend_radius = "120 mm"
bend_radius_at = "centre"
pressure_rating = "5 bar"
wall = "reinforced"
sold = { by = "roll", lengths = ["5 m", "10 m"], prices = [14, 25] }

[kit.hoses.soft_13]
bore = "12.7 mm"
outside_diameter = "19 mm"
bend_radius = "70 mm"
bend_radius_at = "inside"
pressure_rating = "60 psi"
wall = "soft"
sold = { by = "metre", prices = [3.5] }

[kit.feed_pump]
module = "feed_pump"
inlet = "inlet"
outlet = "outlet"
curve = [
  ["0 L/min", "14 m"],
  ["10 L/min", "13.5 m"],
  ["20 L/min", "12 m"],
]
npsh_required = [["0 L/min", "0.6 m"], ["20 L/min", "1 m"]]

[kit.resistances.pump_strainer]
module = "feed_pump"
from = "inlet"
to = "outlet"
loss = "0.01 bar"
at_flow = "10 L/min"
exponent = 1.8

[kit.limits]
npsh_ratio = 1.5

[kit.allowances]
hose_clearance = "8 mm"
straight = "60 mm"
"""

LAYOUT = """\
[layout]
name = "Starboard"
pitch = "15 mm"

[layout.modules.feed_pump]
at = ["-1.2 m", "0.3 m", "4 in"]
rotate = ["0 deg", "0 deg", "90 deg"]

[layout.lines.delivery]
holes = ["bulkhead"]
hose = "suction_19"
"""

TEXTS = {"main.toml": MAIN, "boat.toml": BOAT, "kit.toml": KIT, "layout.toml": LAYOUT}


def write_files(folder: Path, **spoilt: str) -> Path:
    """Write the files into a folder, some with another text; returns the scenario file's path."""
    (folder / "box.stl").write_bytes(b"a mesh is not read here, only its digest is taken")
    for name, text in TEXTS.items():
        (folder / name).write_text(spoilt.get(name.removesuffix(".toml"), text), "utf-8")
    return folder / "main.toml"


def faults_of(path: Path) -> tuple[Fault, ...]:
    """Faults found when reading a scenario file; empty if it can be read."""
    try:
        read_scenario(path)
    except ScenarioError as error:
        return error.faults
    return ()
