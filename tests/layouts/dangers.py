"""Sound layouts with one danger each, for which nobody on board would cut or order."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from tests import specimens
from tests.layouts.bay import Bay, level_board, mm, place
from tests.layouts.sound import Shape, bay

#: The bay for all dangers: half lengths 1.5 and 0.9 m, sole 0.4 m below the sea.
SHAPE = Shape(length=3.0, width=1.8, height=1.5, sole=-0.4, hull="plain")
HALF, WALL, SOLE = SHAPE.length / 2, SHAPE.wall, SHAPE.sole
LEVEL = ["0 deg", "0 deg", "0 deg"]


@dataclass(frozen=True)
class Danger:
    """A layout, what is wrong with it, and which steps must not be called safe."""

    bay: Bay
    what: str
    cut: bool
    order: bool


def dangers() -> Iterator[Danger]:
    """All of them."""
    for name, (change, cut, order) in CHANGES.items():
        made = bay(name, SHAPE)
        change(made)
        yield Danger(bay=made, what=name.replace("_", " "), cut=cut, order=order)


def _module(name: str, **keys: object) -> Callable[[Bay], None]:
    return lambda made: made.tables["layout"]["modules"][name].update(keys)


def _kit_module(name: str, **keys: object) -> Callable[[Bay], None]:
    return lambda made: made.tables["kit"]["modules"][name].update(keys)


def _line(name: str, **keys: object) -> Callable[[Bay], None]:
    return lambda made: made.tables["kit"]["lines"][name].update(keys)


def _hose(name: str, **keys: object) -> Callable[[Bay], None]:
    return lambda made: made.tables["kit"]["hoses"][name].update(keys)


def _port(name: str, **keys: object) -> Callable[[Bay], None]:
    return lambda made: made.tables["boat"]["ports"][name].update(keys)


def _boat(**keys: object) -> Callable[[Bay], None]:
    return lambda made: made.tables["boat"].update(keys)


def _allowance(**keys: object) -> Callable[[Bay], None]:
    return lambda made: made.tables["kit"]["allowances"].update(keys)


def _without(*path: str) -> Callable[[Bay], None]:
    def change(made: Bay) -> None:
        table = made.tables
        for key in path[:-1]:
            table = table[key]
        del table[path[-1]]

    return change


def _solid(low: specimens.Corner, high: specimens.Corner) -> Callable[[Bay], None]:
    def change(made: Bay) -> None:
        made.triangles = specimens.join(made.triangles, specimens.box(low, high))

    return change


def _boards(*boards: tuple[specimens.Corner, specimens.Corner]) -> Callable[[Bay], None]:
    """Level boards, given by two corners of the top and their thickness, under a lifted pump."""

    def change(made: Bay) -> None:
        made.tables["boat"]["boards"] = [
            level_board(f"shelf {number}", low, high) for number, (low, high) in enumerate(boards)
        ]
        at = place(0.45, WALL - 0.16, SOLE + 0.2)
        made.tables["layout"]["modules"]["feed"]["at"] = at

    return change


def _no_wall(axis: int, side: float) -> Callable[[Bay], None]:
    def change(made: Bay) -> None:
        there = np.isclose(made.triangles[:, :, axis], side).all(axis=1)
        made.triangles = made.triangles[~there]

    return change


def _tapes(*wrong: float) -> Callable[[Bay], None]:
    """Tape measurements along the length, each wrong by a share."""

    def change(made: Bay) -> None:
        ends = [made.picked((side * HALF, WALL, SOLE)) for side in (-1, 1)]
        made.tables["boat"]["tape"] = [
            {"from": ends[0], "to": ends[1], "length": mm(SHAPE.length * (1 + off))}
            for off in wrong
        ]

    return change


def _heel(most: int) -> Callable[[Bay], None]:
    return lambda made: made.tables["boat"]["conditions"].update(
        heel=[f"-{most} deg", "0 deg", f"{most} deg"]
    )


Row = tuple[Callable[[Bay], None], bool, bool]
#: Name: the change, then whether joinery and orders may still be called safe.
CHANGES: dict[str, Row] = {
    "no_tape_at_all": (_without("boat", "tape"), False, False),
    "the_only_tapes_say_the_drawing_is_a_tenth_short": (_tapes(0.1, 0.1), False, False),
    "two_tapes_that_differ_by_a_tenth": (_tapes(0.0, 0.1), False, False),
    "drawn_upside_down": (_boat(up="-z"), False, False),
    "pump_hangs_in_the_air": (
        _module("feed", at=place(0.45, WALL - 0.16, SOLE + 0.25)),
        False,
        False,
    ),
    "pump_hangs_16_mm_over_the_sole": (
        _module("feed", at=place(0.45, WALL - 0.16, SOLE + 0.016)),
        False,
        False,
    ),
    "vessel_300_mm_off_the_wall": (
        _module("vessel", at=place(-0.15, WALL - 0.405, SOLE + 0.75)),
        False,
        False,
    ),
    "pump_sunk_into_the_sole": (
        _module("hp", at=place(-0.2, WALL - 0.16, SOLE - 0.02)),
        False,
        False,
    ),
    "vessel_ends_in_the_bulkhead": (
        _module("vessel", at=place(HALF - 0.3, WALL - 0.105, SOLE + 0.75)),
        False,
        False,
    ),
    "vessel_cannot_be_drawn": (_solid((0.5, 0.6, 0.2), (0.6, WALL, 0.6)), False, False),
    "pumps_in_one_another": (_module("feed", at=place(0.0, WALL - 0.16, SOLE)), False, False),
    "pump_on_its_side": (
        _module(
            "hp", at=place(-0.2, WALL - 0.16, SOLE + 0.12), rotate=["90 deg", "0 deg", "0 deg"]
        ),
        False,
        False,
    ),
    "pump_upside_down_under_the_deck": (
        _module(
            "hp", at=place(-0.2, WALL - 0.16, SOLE + 1.5), rotate=["180 deg", "0 deg", "0 deg"]
        ),
        False,
        False,
    ),
    "high_pressure_line_left_out": (_without("kit", "lines", "hpl"), True, False),
    "no_line_to_the_tank": (_without("kit", "lines", "product"), True, False),
    "no_line_overboard": (_without("kit", "lines", "brine"), True, False),
    "no_membrane_named": (_without("kit", "membrane"), True, False),
    "nothing_of_the_water_named": (
        lambda made: [
            made.tables["kit"].pop(key) for key in ("feed_pump", "high_pressure_pump", "membrane")
        ],
        True,
        False,
    ),
    # Harmless here: the pump is flooded in every state, so the wall is never under vacuum.
    "suction_through_soft_hose": (_hose("s19", wall="soft"), True, True),
    "high_pressure_through_feed_hose": (_line("hpl", hose="f16"), True, False),
    "relief_above_the_rating_of_the_hose": (_hose("hp8", pressure_rating="60 bar"), True, False),
    "suction_through_a_6_mm_bore": (_hose("s19", bore="6 mm"), True, False),
    "seacock_above_the_sea": (
        _port("seacock", at="picked 1.150000 0.740000 0.100000"),
        True,
        False,
    ),
    "seacock_in_the_middle_of_the_room": (
        _port("seacock", at="picked 1.150000 0.000000 0.100000"),
        True,
        False,
    ),
    "seacock_looks_into_the_sole": (_port("seacock", direction="down"), True, False),
    "tank_port_in_mid_air": (_port("tank", at="picked 0.900000 0.000000 0.300000"), True, False),
    "overboard_under_water_on_the_tack": (_heel(40), True, False),
    "clearances_of_nothing": (
        _allowance(hose_clearance="0 mm", hose_gap="0 mm", box_gap="0 mm"),
        False,
        False,
    ),
    "hoses_left_to_hang": (
        lambda made: [row.update(way="shortest") for row in made.tables["kit"]["lines"].values()],
        True,
        False,
    ),
    "the_shelf_of_the_pump_hangs_in_the_air": (
        _boards(((0.34, WALL - 0.24, SOLE + 0.182), (0.56, WALL - 0.05, SOLE + 0.2))),
        False,
        False,
    ),
    "the_shelf_of_the_pump_goes_through_the_hull": (
        _boards(((0.34, WALL - 0.24, SOLE + 0.182), (0.56, WALL + 0.2, SOLE + 0.2))),
        False,
        False,
    ),
    "two_shelves_in_the_air_hold_each_other": (
        _boards(
            ((0.34, WALL - 0.24, SOLE + 0.182), (0.56, WALL - 0.05, SOLE + 0.2)),
            ((0.56, WALL - 0.24, SOLE + 0.182), (0.78, WALL - 0.05, SOLE + 0.2)),
        ),
        False,
        False,
    ),
    "a_wall_shuts_the_tank_off": (_solid((1.3, -WALL, SOLE), (1.32, WALL, 1.1)), False, False),
    "no_forward_bulkhead_in_the_drawing": (_no_wall(0, HALF), False, False),
    "no_port_side_in_the_drawing": (_no_wall(1, WALL), False, False),
}
