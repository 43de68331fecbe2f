"""Judged numbers by an independent calculation: the formulas are written here.

Water of 5 degC only, bores 5 % narrow, everything 20 mm higher above the sea, no bypass. Friction
by Colebrook's equation, bends by Rennels and Hudson, the pump by the parabola through its points.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import pytest

from fitcheck.hydraulics import explain_water, solve_water
from fitcheck.model.given.kit import Kit
from tests.specimens.explained import explain_judged, typed_in
from tests.specimens.water import (
    HEIGHTS,
    HOSES,
    RUNS,
    plant_kit,
    plant_routes,
    plant_scenario,
    plant_space,
    within,
)

G, TOLERANCE, RAISED = 9.80665, 0.05, 0.020
#: Seawater of 35.165 g/kg, the brine of it at a recovery of 1 / 9.5, fresh water; 5 degC [kg/m3].
FEED, BRINE, PRODUCT = 1027.70, 1031.0, 1000.2
SALT = {FEED: 0.03516504, BRINE: 0.03516504 / (1.0 - 1.0 / 9.5), PRODUCT: 0.0003}
LITRES = {FEED: 9.5, BRINE: 8.5, PRODUCT: 1.0}
#: Vapour pressure of fresh water at 5 degC from any table; salt reduces it by 1.86 % [Pa].
VAPOUR = 872.6 * (1.0 - 0.0186)


def viscosity(salt: float) -> float:
    """Sharqawy, Lienhard and Zubair 2010, eqs. 22 and 23, at 5 degC [Pa s]."""
    pure = 4.2844e-5 + 1.0 / (0.157 * 69.993**2 - 91.296)
    return pure * (1.0 + (1.541 + 0.0999 - 0.00238) * salt + (7.974 - 0.37805 + 0.01181) * salt**2)


def head_and_loss(name: str, hose: str, density: float, *ends: float) -> tuple[float, float]:
    """Velocity head, and the loss of a line including its open ends [Pa]."""
    bore = HOSES[hose][0] / 1000 * (1.0 - TOLERANCE)
    radius = HOSES[hose][2] / 1000
    length, bends, fittings, _ = RUNS[name]
    speed = LITRES[density] / 60_000 / (math.pi / 4 * bore**2)
    number = density * speed * bore / viscosity(SALT[density])
    factor = 0.03
    for _ in range(50):
        inner = 1.5e-6 / (3.7 * bore) + 2.51 / (number * math.sqrt(factor))
        factor = (-2.0 * math.log10(inner)) ** -2
    coefficient = factor * length / bore + fittings + sum(ends)
    for degrees in bends:
        angle = math.radians(degrees)
        half = math.sin(angle / 2)
        coefficient += (0.10 + 2.4 * factor) * half + 6.6 * factor * (math.sqrt(half) + half) / (
            radius / bore
        ) ** (4 * angle / math.pi)
    head = density * speed**2 / 2
    return head, coefficient * head


def suction(fouled: bool) -> tuple[float, float]:
    """Total gauge pressure at the feed pump's inlet and the velocity head there [Pa]."""
    _, first = head_and_loss("sea_to_strainer", "suction_19", FEED, 0.5)
    head, second = head_and_loss("strainer_to_pump", "suction_19", FEED)
    strainer = (10_000.0 if fouled else 1_000.0) * 0.95**1.8
    lifted = FEED * G * (HEIGHTS["feed_pump"] + RAISED)
    return -lifted - first - strainer - second, head


def vacuum(fouled: bool) -> float:
    total, head = suction(fouled)
    return head - total


def npsh_available() -> float:
    return (101_325.0 + suction(True)[0] - VAPOUR) / (FEED * G)


def inlet_pressure() -> float:
    """The pump's parabola at 9.5 L/min; filters dirty, strainer fouled."""
    feed = FEED * G * (14.0 - 0.005 * 9.5**2)
    lost = sum(
        head_and_loss(name, "feed_12", FEED)[1] for name in ("pump_to_filters", "filters_to_hp")
    )
    filters = 10_000.0 * 0.95**1.3 + 60_000.0
    height = FEED * G * (HEIGHTS["hp_pump"] - HEIGHTS["feed_pump"])
    return suction(True)[0] + feed - lost - filters - height


def brine_back() -> float:
    height = BRINE * G * (HEIGHTS["boat.overboard"] - HEIGHTS["panel"])
    return height + head_and_loss("overboard", "feed_12", BRINE, 1.0)[1]


def product_back() -> float:
    height = PRODUCT * G * (HEIGHTS["boat.tank"] - HEIGHTS["vessel"])
    return height + head_and_loss("product", "product_6", PRODUCT, 1.0)[1]


def share() -> float:
    return head_and_loss("hp_to_vessel", "hp_8", FEED)[1] / 55e5


def no_bypass() -> Kit:
    kit = within(plant_kit(), TOLERANCE)
    return replace(kit, lines=tuple(line for line in kit.lines if line.name != "bypass"))


#: name, number, by hand, tolerance: Churchill and Colebrook differ by 1 %, half a per cent of the
#: loss.
BY_HAND = [
    ("feed_pump", "vacuum", vacuum(False), 0.01),
    ("feed_pump", "vacuum-fouled", vacuum(True), 0.01),
    ("feed_pump", "npsh", npsh_available() - 0.79, 0.005),
    ("hp_pump", "inlet-pressure", inlet_pressure(), 0.01),
    ("overboard", "back-pressure", brine_back(), 0.02),
    ("panel", "back-pressure", brine_back(), 0.02),
    ("product", "back-pressure", product_back(), 0.02),
    ("vessel", "back-pressure-stopped", PRODUCT * G * 0.35, 0.002),
    ("hp_to_vessel", "share", share(), 0.02),
    ("sea_to_strainer", "velocity", 9.5 / 60_000 / (math.pi / 4 * 0.0180975**2), 1e-6),
]


@pytest.mark.parametrize(("name", "number", "by_hand", "near"), BY_HAND)
def test_a_judged_number_by_hand(name: str, number: str, by_hand: float, near: float) -> None:
    of = plant_scenario(no_bypass(), water_temperature_C=(5.0,))
    told = explain_judged(of, plant_space(of, RAISED), plant_routes(of), name, number)
    worked_out = [row for row in told.steps if row.what != "limit"]
    assert typed_in(worked_out[-1]) == pytest.approx(by_hand, rel=near)


@pytest.mark.parametrize("heel", [(0.0,), (-0.35, 0.0, 0.35)])
def test_every_judged_number_equals_its_arithmetic(heel: Sequence[float]) -> None:
    """All governing rows with a limit, with the bypass, heeled, on the judged side."""
    of = plant_scenario(within(plant_kit(), TOLERANCE), heel=tuple(heel), trim=(-0.03,))
    space, routes = plant_space(of, RAISED), plant_routes(of)
    rows = solve_water(of, space, routes).governing
    told = [row for row in explain_water(of, space, routes, rows) if row.number != "loss"]
    judged = {row.worst for row in rows if row.limit is not None}
    found = {[step for step in one.steps if step.what != "limit"][-1].value for one in told}
    assert judged <= found
    for one in told:
        for step in one.steps:
            if step.numbers:
                near = 0.1 if step.unit == "Pa" else 2e-6
                assert typed_in(step) == pytest.approx(step.value, rel=2e-5, abs=near), step.what


def test_pressures_are_calculated_from_the_sea_on() -> None:
    of = plant_scenario(no_bypass())
    told = explain_judged(of, plant_space(of), plant_routes(of), "hp_pump", "inlet-pressure")
    walked = [row.what for row in told.steps if row.what.startswith("total gauge pressure")]
    assert [what.split()[-1] for what in walked] == [
        "boat.seacock",
        "strainer.inlet",
        "strainer.outlet",
        "feed_pump.inlet",
        "feed_pump.outlet",
        "prefilters.inlet",
        "prefilters.outlet",
        "hp_pump.inlet",
    ]
