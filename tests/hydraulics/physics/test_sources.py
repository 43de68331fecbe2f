"""Published values: every row of the water side's tables in tests/sources is one test."""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Callable, Mapping
from typing import Any

import pytest

from fitcheck.geometry.heel import height_above_sea
from fitcheck.hydraulics.physics import seawater
from fitcheck.hydraulics.physics.coils import coil_friction_factor, critical_reynolds
from fitcheck.hydraulics.physics.losses import (
    GRAVITY,
    bend_coefficient,
    friction_band,
    friction_factor,
    hose_loss,
    valve_loss,
    velocity,
    velocity_head,
)
from fitcheck.hydraulics.physics.open_ends import ENTRANCE, EXIT
from fitcheck.hydraulics.physics.pumps import npsh_available
from fitcheck.hydraulics.physics.seawater import Water
from fitcheck.hydraulics.physics.tails import contraction_coefficient, expansion_coefficient
from fitcheck.hydraulics.rules.acceleration import acceleration_head
from fitcheck.order.rolls import cut_from_rolls
from fitcheck.units import parse
from tests import ROOT
from tests.specimens.water import a_bend

FILES = ("seawater.toml", "pipe_flow.toml", "pumps_and_heel.toml")
FOLDER = ROOT / "tests" / "sources"
MARKS = ("seen", "from memory", "computed")
Row = Mapping[str, Any]
Given = dict[str, Any]

KINDS = {
    "speed": "speed",
    "flow": "flow",
    "valve_flow": "flow",
    "density": "density",
    "surface_pressure": "pressure",
    "vapour_pressure": "pressure",
}


def rows() -> list[Row]:
    """Every row of every table."""
    return [row for file in FILES for row in tomllib.loads((FOLDER / file).read_text())["row"]]


def si(name: str, value: object) -> Any:
    """A number, or a text with its unit, in SI: a length unless the name indicates otherwise."""
    if name == "turns" or not isinstance(value, str):
        return value
    return parse(value, KINDS.get(name, "length"))


def plain_water(kinematic_viscosity: float, density: float = 1000.0) -> Water:
    """Water defined by density and viscosity only."""
    return Water(
        temperature_C=20.0,
        salinity=0.0,
        density=density,
        viscosity=kinematic_viscosity * density,
        vapour_pressure=0.0,
    )


def loss(given: Given) -> float:
    """Pressure lost in a straight pipe with fittings [Pa]."""
    bore = given["bore"]
    flow = given.get("flow")
    if flow is None:
        flow = given["speed"] * math.pi * bore**2 / 4
    return hose_loss(
        flow=flow,
        bore=bore,
        roughness=given["roughness"],
        length=given["length"],
        bends=(),
        fittings=given.get("fittings", 0.0),
        valve_flow=None,
        water=plain_water(given["kinematic_viscosity"], given.get("density", 1000.0)),
    ).total


def coil(given: Given) -> float:
    """Pressure lost in a coil, its arcs counted as length and its bends above that [Pa]."""
    radius = given["radius_over_bore"] * given["bore"]
    bends = [a_bend(given["angle"] * 0.9999, radius)] * given["bends"]
    return hose_loss(
        flow=given["flow"],
        bore=given["bore"],
        roughness=given["roughness"],
        length=given["straight"] + sum(bend.angle * bend.radius for bend in bends),
        bends=bends,
        fittings=0.0,
        valve_flow=None,
        water=plain_water(given["kinematic_viscosity"], given["density"]),
    ).total


def whole_bend(given: Given) -> float:
    """Loss coefficient of a bend and the friction of its arc, smooth wall."""
    angle, bore = math.radians(given["angle"]), 0.0127
    friction = friction_factor(given["reynolds"], 0.0)
    radius = given["radius_over_bore"] * bore
    above = bend_coefficient(angle, radius, bore, friction, given["reynolds"])
    return above + friction * angle * given["radius_over_bore"]


def npsh(given: Given) -> float:
    """NPSH available from pressures, or from heads of the liquid itself [m]."""
    density = given.get("density", 1000.0)
    weight = density * GRAVITY
    return npsh_available(
        given.get("surface_pressure", given.get("surface_head", 0.0) * weight),
        given.get("vapour_pressure", given.get("vapour_head", 0.0) * weight),
        density,
        given["lift"],
        given["friction_head"],
    )


def pulses(given: Given) -> float:
    """Acceleration head of the pieces of a feed line, their velocities from one flow [m]."""
    return sum(
        acceleration_head(
            parse(length, "length"),
            velocity(given["flow"], parse(bore, "length")),
            parse(given["turns"], "rotation"),
            given["plungers"],
            given["yielding"],
        )
        for length, bore in given["pieces"]
    )


def salted(function: Callable[[float, float], float]) -> Callable[[Given], float]:
    """A property by salinity in g/kg and temperature."""
    return lambda given: function(given["salinity"] / 1000, given["temperature_C"])


def rolls(given: Given) -> float:
    """How many stock lengths the pieces need."""
    pairs = zip(given["widths"], given["demand"], strict=True)
    pieces = [float(width) for width, count in pairs for _ in range(count)]
    cutting = cut_from_rolls(pieces, [float(given["stock"])], [1.0], kerf=0.0)
    assert cutting.proven
    return float(len(cutting.rolls))


COMPUTE: dict[str, Callable[[Given], float]] = {
    "density": salted(seawater.density),
    "brine density": salted(lambda s, t: seawater.density(s + 1e-6, t)),
    "viscosity": salted(seawater.viscosity),
    "kinematic viscosity": salted(lambda s, t: seawater.viscosity(s, t) / seawater.density(s, t)),
    "vapour pressure": salted(seawater.vapour_pressure),
    "saturation pressure": lambda g: seawater.saturation_pressure(g["temperature_C"]),
    "friction factor": lambda g: friction_factor(g["reynolds"], g["relative_roughness"]),
    "upper friction factor": lambda g: friction_band(
        g["reynolds"] * (1 - 1e-9), g["relative_roughness"]
    )[1],
    "friction head": lambda g: loss(g) / (1000.0 * GRAVITY),
    "pump head": lambda g: g["lift"] + loss(g) / (1000.0 * GRAVITY),
    "pressure loss": loss,
    "velocity": lambda g: velocity(g["flow"], g["bore"]),
    "bend with its arc": whole_bend,
    "coil loss": coil,
    "coil critical Reynolds number": lambda g: critical_reynolds(g["bore"], g["diameter"]),
    "coil friction factor": lambda g: coil_friction_factor(
        g["reynolds"], g["bore"], g["diameter"], 0.0
    ),
    "contraction": lambda g: contraction_coefficient(1.0, g["diameter_ratio"]),
    "expansion": lambda g: expansion_coefficient(1.0, g["diameter_ratio"]),
    "entrance": lambda _: ENTRANCE,
    "exit": lambda _: EXIT,
    "acceleration head": pulses,
    "valve loss": lambda g: valve_loss(g["flow"], g["valve_flow"], g["density"]),
    "valve coefficient": lambda g: (
        valve_loss(1e-3, g["valve_flow"], 1000.0)
        / velocity_head(velocity(1e-3, g["bore"]), 1000.0)
    ),
    "npsh available": npsh,
    "height above sea": lambda g: height_above_sea(
        tuple(g["point"]), (0.0, 0.0, 0.0), math.radians(g["heel"]), math.radians(g["trim"])
    ),
    "rolls": rolls,
}

UNITS = {"m": "length", "ft": "length", "ft/s": "speed", "Pa": "pressure"}


def in_si(number: str, unit: str) -> float:
    """A printed number in its unit as SI."""
    if not unit:
        return float(number)
    sign = -1.0 if number.startswith("-") else 1.0
    return sign * parse(f"{number.lstrip('-')} {unit}", UNITS.get(unit, "pressure"))


def half_digit(printed: str) -> str:
    """Half a unit of the last digit printed, as text."""
    mantissa, _, exponent = printed.upper().partition("E")
    decimals = len(mantissa.partition(".")[2])
    return f"{0.5 * 10.0 ** (int(exponent or 0) - decimals):.3e}"


@pytest.mark.filterwarnings("ignore::fitcheck.errors.ValidityWarning")
@pytest.mark.parametrize(
    "row", rows(), ids=lambda row: f"{row['quantity']} {row['printed']} {row['source'][:30]}"
)
def test_published_value(row: Row) -> None:
    given = {name: si(name, value) for name, value in row["given"].items()}
    computed = COMPUTE[row["quantity"]](given)
    unit = row.get("unit", "")
    expected = in_si(row["printed"], unit)
    allowed = (
        row["tolerance"] * abs(expected)
        if "tolerance" in row
        else in_si(half_digit(row["printed"]), unit) * (1 + 1e-9)
    )
    assert abs(computed - expected) <= allowed, f"{computed!r} against {expected!r}"


def test_every_row_names_its_source() -> None:
    for row in rows():
        assert row["source"]
        assert any(mark in row["read"] for mark in MARKS)
        assert ("tolerance" in row) == ("reason" in row), row["source"]


def outside_checks() -> list[Row]:
    """Rows published by others than us and than the documentation of a library."""
    return [row for row in rows() if row.get("outside", True) and "computed" not in row["read"]]


def test_there_are_enough_outside_checks_and_sources() -> None:
    checks = outside_checks()
    titles = {re.split(r"[,;(]", row["source"])[0] for row in checks}
    assert len(checks) >= 60
    assert len(titles) >= 12


def test_a_librarys_own_documentation_is_not_an_outside_check() -> None:
    assert not [row["source"] for row in outside_checks() if "documentation of" in row["source"]]
    marked = [row for row in rows() if not row.get("outside", True)]
    assert marked
    assert all(row["outside"] is False for row in marked)


def test_the_tolerance_is_half_a_unit_of_the_last_digit() -> None:
    assert float(half_digit("1.5762E-06")) == pytest.approx(5e-11)
    assert float(half_digit("453")) == 0.5
    assert float(half_digit("0.0640")) == pytest.approx(5e-5)
