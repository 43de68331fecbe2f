"""Thirty drawn layouts without faults, which a careful person would cut and order for."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from tests import specimens
from tests.layouts.bay import Bay, Floats, Table, level_board, mm, place

#: Boat axes to mesh axes: as drawn, y up as phones write, z aft, rotated by 180 degrees.
_AXES: tuple[Floats, ...] = (
    np.eye(3),
    np.array([[1.0, 0, 0], [0, 0, 1], [0, -1, 0]]),
    np.array([[0.0, 1, 0], [-1, 0, 0], [0, 0, 1]]),
    np.array([[-1.0, 0, 0], [0, -1, 0], [0, 0, 1]]),
)
#: What `up` and `forward` are then.
_WORDS = (("+z", "+x"), ("+y", "+x"), ("+z", "-y"), ("+z", "-x"))
_UNITS = ((1.0, "m"), (0.001, "mm"), (0.0254, "in"), (0.01, "cm"))


@dataclass(frozen=True)
class Shape:
    """A bay by its dimensions [m]: length, width, height, and the sole relative to the sea."""

    length: float
    width: float
    height: float
    sole: float
    hull: str

    @property
    def wall(self) -> float:
        """The port side at the height of the boxes."""
        return self.width / 2

    def triangles(self) -> Floats:
        """The bay as a closed drawing."""
        half, top = self.length / 2, self.sole + self.height
        low, high = (-half, -self.wall, self.sole), (half, self.wall, top)
        walls = specimens.box(low, high, inward=True)
        if self.hull == "stringer":  # a step along the starboard side, out of the way
            step = specimens.box(
                (-half, -self.wall, self.sole), (half, -self.wall + 0.18, self.sole + 0.15)
            )
            return specimens.join(walls, step)
        if self.hull == "tank":  # a block on the starboard side
            block = specimens.box(
                (-0.4, -self.wall, self.sole), (0.5, -self.wall + 0.3, self.sole + 0.4)
            )
            return specimens.join(walls, block)
        if self.hull == "deckbeam":
            beam = specimens.box((-0.05, -self.wall, top - 0.08), (0.05, self.wall, top))
            return specimens.join(walls, beam)
        return walls


def sound() -> Iterator[Bay]:
    """All of them, by the same few rules in bays of many dimensions."""
    rng = np.random.default_rng(20260)
    hulls = ("plain", "stringer", "tank", "deckbeam")
    for number in range(29):
        shape = Shape(
            length=round(float(rng.uniform(2.7, 3.3)), 2),
            width=round(float(rng.uniform(1.5, 2.1)), 2),
            height=round(float(rng.uniform(1.3, 1.7)), 2),
            sole=round(-float(rng.uniform(0.36, 0.6)), 2),
            hull=hulls[number % 4],
        )
        yield bay(f"sound_{number:02d}", shape, number)


def bay(name: str, shape: Shape, number: int = 0) -> Bay:
    """The kit in a row along the port side, the vessel on the wall above it."""
    unit, word = _UNITS[number % 4]
    which = (number // 4) % 4
    made = Bay(name=name, triangles=shape.triangles(), tables={}, unit=unit, axes=_AXES[which])
    up, forward = _WORDS[which]
    made.tables.update(boat=_boat(made, shape, word, up, forward), kit=_kit(number % 3))
    made.tables["layout"] = _layout(shape, number % 3)
    if number % 4 == 2:
        _on_a_shelf(made, shape)
    return made


def _on_a_shelf(made: Bay, shape: Shape) -> None:
    """Both pumps on one shelf along the port side, still below the sea."""
    fore, aft = shape.length / 2 - 0.9, shape.length / 2 - 1.95
    wall, top = shape.wall, shape.sole + 0.1
    made.tables["boat"]["boards"] = [
        level_board("pump shelf", (aft, wall - 0.29, top - 0.018), (fore, wall, top))
    ]
    for name in ("feed", "hp"):
        x, y, _ = made.tables["layout"]["modules"][name]["at"]
        made.tables["layout"]["modules"][name]["at"] = [x, y, mm(top)]


def _boat(made: Bay, shape: Shape, unit: str, up: str, forward: str) -> Table:
    half, wall, sole = shape.length / 2, shape.wall, shape.sole
    picked = made.picked
    corner = (half, wall, sole)
    return {
        "name": "an invented bay",
        "mesh": "bay.stl",
        "origin": "cad",
        "unit": unit,
        "up": up,
        "forward": forward,
        "inside": picked((0.0, 0.0, sole + 0.6)),
        "datum": {
            "point": picked(corner),
            "above_sea": mm(sole),
            "taken": "clear hose on the seacock, boat at rest",
        },
        "centreline": {"point": picked(corner), "offset": mm(wall), "side": "port"},
        "tape": [
            {
                "from": picked((-half, wall, sole)),
                "to": picked((half, wall, sole)),
                "length": mm(shape.length),
            },
            {
                "from": picked((half, -wall, sole)),
                "to": picked((half, wall, sole)),
                "length": mm(shape.width),
            },
        ],
        "ports": {
            "seacock": {
                "role": "seacock",
                "at": picked((half - 0.35, wall - 0.16, sole + 0.06)),
                "direction": "aft",
                "connection": "hose tail",
                "thread": "3/4 in BSP",
                "opening_below": "80 mm",
            },
            "overboard": {
                "role": "overboard",
                "at": picked((-half + 0.55, wall, sole + 1.1)),
                "direction": "starboard",
                "connection": "hose tail",
                "thread": "1/2 in BSP",
            },
            "tank": {
                "role": "tank",
                "at": picked((half, wall - 0.35, sole + 0.45)),
                "direction": "aft",
                "connection": "hose tail",
                "thread": "1/4 in BSP",
            },
        },
        "conditions": {
            "heel": ["-15 deg", "0 deg", "15 deg"],
            "trim": ["0 deg"],
            "water_temperature": ["5 degC", "28 degC"],
            "salinity": ["35.2 g/kg"],
            "atmosphere": "1013 hPa",
        },
    }


def _port(at: tuple[float, float, float], face: str, on: str = "hose tail") -> Table:
    return {
        "at": [mm(value) for value in at],
        "direction": face,
        "connection": on,
        "thread": "1/2 in BSP",
    }


def _hose(bore: float, over: float, bend: float, rating: str, wall: str) -> Table:
    return {
        "bore": mm(bore),
        "outside_diameter": mm(over),
        "bend_radius": mm(bend),
        "bend_radius_at": "centre",
        "pressure_rating": rating,
        "wall": wall,
        "sold": {"by": "metre", "prices": [4.0]},
    }


def _line(start: str, end: str, duty: str, hose: str) -> Table:
    return {
        "from": start,
        "to": end,
        "duty": duty,
        "hose": hose,
        "fittings": 1.0,
        "way": "along structure",
    }


def _kit(size: int) -> Table:
    more = 0.02 * size
    swivel = "high-pressure swivel"
    return {
        "name": f"invented kit {size}",
        "modules": {
            "feed": {
                "size": [mm(0.2 + more), "120 mm", "140 mm"],
                "mass": "3 kg",
                "stands": "upright",
                "fixed_by": ["base"],
                "access": {"top": "80 mm"},
                "ports": {
                    "inlet": _port((0.1 + more / 2, 0.0, 0.06), "front"),
                    "outlet": _port((-0.1 - more / 2, 0.0, 0.06), "back"),
                },
            },
            "hp": {
                "size": [mm(0.4 + more), "240 mm", mm(0.26 + more)],
                "mass": "28 kg",
                "stands": "upright",
                "fixed_by": ["base"],
                "access": {"right": "150 mm"},
                "ports": {
                    "inlet": _port((0.2 + more / 2, 0.0, 0.08), "front"),
                    "outlet": _port((-0.2 - more / 2, 0.11, 0.2), "back", swivel),
                },
            },
            "vessel": {
                "size": ["690 mm", "210 mm", "130 mm"],
                "mass": "14 kg",
                "stands": "horizontal",
                "fixed_by": ["left", "base"],
                "withdrawal": {"front": "500 mm"},
                "ports": {
                    "feed": _port((-0.345, 0.055, 0.065), "back", swivel),
                    "brine": _port((-0.345, -0.055, 0.065), "back"),
                    "product": _port((0.25, -0.04, 0.0), "base"),
                },
            },
        },
        "lines": {
            "suck": _line("boat.seacock", "feed.inlet", "suction", "s19"),
            "feedline": _line("feed.outlet", "hp.inlet", "feed", "f16"),
            "hpl": _line("hp.outlet", "vessel.feed", "high pressure", "hp8"),
            "brine": _line("vessel.brine", "boat.overboard", "brine", "f16"),
            "product": _line("vessel.product", "boat.tank", "product", "p8"),
        },
        "hoses": {
            "s19": _hose(0.019, 0.027, 0.100, "5 bar", "reinforced"),
            "f16": _hose(0.016, 0.023, 0.095, "10 bar", "soft"),
            "hp8": _hose(0.0079, 0.015, 0.115, "210 bar", "reinforced")
            | {"sold": {"by": "assembly", "lengths": [], "prices": [38, 21]}},
            "p8": _hose(0.008, 0.010, 0.050, "8 bar", "soft"),
        },
        "feed_pump": {
            "module": "feed",
            "inlet": "inlet",
            "outlet": "outlet",
            "curve": [
                ["0 L/min", "14 m"],
                ["10 L/min", "13.5 m"],
                ["20 L/min", "12 m"],
                ["30 L/min", "9.5 m"],
                ["40 L/min", "6 m"],
            ],
            "npsh_required": [["0 L/min", "0.6 m"], ["20 L/min", "1.0 m"], ["40 L/min", "2 m"]],
        },
        "high_pressure_pump": {
            "module": "hp",
            "inlet": "inlet",
            "outlet": "outlet",
            "flow": "9.5 L/min",
            "pressure": "55 bar",
            "relief": "68 bar",
        },
        "membrane": {
            "module": "vessel",
            "feed": "feed",
            "brine": "brine",
            "product": "product",
            "recovery": "10.5 %",
        },
        "allowances": {"hose_clearance": "8 mm", "hose_gap": "5 mm", "box_gap": "10 mm"},
    }


def _layout(shape: Shape, size: int) -> Table:
    half, wall, sole = shape.length / 2, shape.wall, shape.sole
    level = ["0 deg", "0 deg", "0 deg"]
    return {
        "name": "in a row along the port side",
        "pitch": "20 mm",
        "modules": {
            "feed": {"at": place(half - 1.05, wall - 0.16, sole), "rotate": level},
            "hp": {"at": place(half - 1.70, wall - 0.16, sole), "rotate": level},
            "vessel": {"at": place(-half + 1.35, wall - 0.105, sole + 0.75), "rotate": level},
        },
    }
