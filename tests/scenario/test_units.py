"""Quantities in and out: published factors, what people write, and what they should write."""

from __future__ import annotations

import math
import tomllib
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitcheck.units import QuantityError, System, example, parse, show, show_row, write
from tests import ROOT

ROWS = tomllib.loads((ROOT / "tests" / "sources" / "units.toml").read_text())["row"]
KINDS = (
    "length",
    "head",
    "pressure",
    "flow",
    "volume",
    "area",
    "angle",
    "mass",
    "temperature",
    "mass fraction",
    "fraction",
    "speed",
    "density",
)
SYSTEMS: tuple[System, ...] = ("metric", "imperial")


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["unit"])
def test_conversion_factors_match_published_values(row: dict[str, str]) -> None:
    printed = Decimal(row["factor"])
    exponent = printed.as_tuple().exponent
    assert isinstance(exponent, int)
    tolerance = 1e-15 * float(printed) if row.get("exact") else 0.5 * 10.0**exponent
    assert abs(parse(f"1 {row['unit']}", row["kind"]) - float(printed)) <= tolerance * 1.000001


def test_temperatures_follow_the_published_formula() -> None:
    # NIST SP 811, Appendix B.9: t/degC = (t/degF - 32)/1.8 = T/K - 273.15
    assert parse("32 degF", "temperature") == 0.0
    assert parse("212 degF", "temperature") == 100.0
    assert parse("-40 °F", "temperature") == -40.0
    assert parse("298.15 K", "temperature") == 25.0


@pytest.mark.parametrize(
    ("text", "inches"),
    [
        ("1 1/2 in", 1.5),
        ("1-1/2 in", 1.5),
        ("3/8 in", 0.375),
        ("½ in", 0.5),
        ("1½ in", 1.5),
        ('3/4"', 0.75),
        ("6 ft 2 in", 74),
        ("6'2\"", 74),
        ("6′ 2 1/2″", 74.5),
        ("6ft2in", 74),
        ("5'-6\"", 66),
        ("-6 ft 2 in", -74),
        ("30 ft", 360),
        ("2 INCHES", 2),
        (".5 in", 0.5),
        ("1e1 in", 10),
        ("  7 in ", 7),
    ],
)
def test_feet_inches_and_fractions(text: str, inches: float) -> None:
    assert parse(text, "length") == pytest.approx(inches * 0.0254, rel=1e-15)


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("19 mm", "length", 0.019),
        ("19mm", "length", 0.019),
        ("1.5 um", "length", 1.5e-6),
        ("−20 deg", "angle", -math.pi / 9),
        ("9.5 L/min", "flow", 9.5e-3 / 60),
        ("60 l/h", "flow", 60e-3 / 3600),
        ("2.5 US gal/min", "flow", 2.5 * 3.785411784e-3 / 60),
        ("0.5 m3/h", "flow", 0.5 / 3600),
        ("0.5 m³/h", "flow", 0.5 / 3600),
        ("20 kPa", "pressure", 20e3),
        ("1013 hPa", "pressure", 101300.0),
        ("1013 mbar", "pressure", 101300.0),
        ("35.2 g/kg", "mass fraction", 0.0352),
        ("10 %", "fraction", 0.1),
        ("14 m", "head", 14.0),
        ("3.4 kg", "mass", 3.4),
    ],
)
def test_reads_what_people_write(text: str, kind: str, value: float) -> None:
    assert parse(text, kind) == pytest.approx(value, rel=1e-15)


@pytest.mark.parametrize(
    ("text", "kind", "wrong", "write_this"),
    [
        ("5 bar", "length", "'bar' is a unit of pressure, not of length", "mm"),
        ("6 ft 2 in", "mass", "'ft' is a unit of length, not of mass", "kg"),
        ("12 L", "flow", "'L' is a unit of volume, not of flow", "L/min"),
        ("220", "length", "has no unit", '"220 mm" or "220 in"'),
        ("3/4", "length", "has no unit", '"3/4 in"'),
        ("9,5 L/min", "flow", "comma", '"9.5 L/min"'),
        ("1,000 mm", "length", "comma", '"1000 mm"'),
        ("nan mm", "length", "not a finite number", "12 mm"),
        ("-inf m", "length", "not a finite number", "12 mm"),
        ("1e999 m", "length", "too large", "check"),
        ("1/0 in", "length", "divides by zero", "3/8 in"),
        ("", "mass", "is empty", "12 kg"),
        ("bar 5", "pressure", "not a number and a unit", "12 bar"),
        ("1.2.3 m", "length", "not a number and a unit", "12 mm"),
        ("5 mPa", "pressure", "not a unit known here", "bar"),
        ("5 psig", "pressure", "not a unit known here", "did you mean 'psi'?"),
        ("0.03", "fraction", "has no unit", "%"),
        ("-300 degC", "temperature", "below absolute zero", "degC"),
    ],
)
def test_refusal_says_what_to_write(text: str, kind: str, wrong: str, write_this: str) -> None:
    with pytest.raises(QuantityError) as caught:
        parse(text, kind)
    assert wrong in caught.value.text
    assert write_this in caught.value.remedy
    assert str(caught.value) == f"{caught.value.text}; {caught.value.remedy}"


@given(st.text(), st.sampled_from(KINDS))
def test_any_text_is_parsed_or_refused(text: str, kind: str) -> None:
    try:
        value, said = parse(text, kind), "read"
    except QuantityError as error:
        value, said = 0.0, error.text and error.remedy
    assert math.isfinite(value)
    assert said


@pytest.mark.parametrize("kind", KINDS)
def test_example_is_readable(kind: str) -> None:
    assert math.isfinite(parse(example(kind), kind))


@given(st.sampled_from(KINDS), st.floats(1e-6, 1e6))
def test_written_quantities_are_read_back(kind: str, value: float) -> None:
    assert parse(write(value, kind), kind) == pytest.approx(value, rel=1e-9)


@given(
    st.sampled_from(["mm", "in", "ft", "m", "cm"]),
    st.integers(0, 500),
    st.integers(0, 63),
    st.sampled_from([2, 4, 8, 16, 32, 64]),
)
def test_mixed_numbers_add_up(unit: str, whole: int, over: int, under: int) -> None:
    parts = parse(f"{whole} {unit}", "length") + parse(f"{over}/{under} {unit}", "length")
    assert parse(f"{whole} {over}/{under} {unit}", "length") == pytest.approx(parts, rel=1e-14)


@given(st.integers(-200, 200), st.integers(0, 11))
def test_feet_and_inches_add_up(feet: int, inches: int) -> None:
    together = parse(f"{feet} ft {inches} in", "length")
    assert abs(together) == pytest.approx((abs(feet) * 12 + inches) * 0.0254, abs=1e-12)


# A shown value may be off by half of its last digit: three significant digits, or the decimals.
SHOWN = {
    "length": 0.005 + 1e-4,
    "head": 0.05 * 0.3048,
    "pressure": 0.5,
    "flow": 0.0005 * 3.785e-3 / 60,
    "volume": 0.005 * 3.785e-3,
    "angle": 0.05 * math.pi / 180,
    "mass": 0.05 * 0.4536,
    "temperature": 0.05,
    "mass fraction": 0.05e-3,
    "fraction": 0.05e-2,
    "speed": 0.005,
    "density": 0.005 * 16.02,
    "area": 0.005,
}


@given(st.sampled_from(KINDS), st.floats(-100, 100), st.sampled_from(SYSTEMS))
def test_shown_quantities_are_close_and_readable(kind: str, value: float, system: System) -> None:
    read = parse(show(value, kind, system), kind)
    slack = SHOWN[kind] + 7.0 * (kind == "pressure")
    assert abs(read - value) <= slack * 1.01 + 0.005 * abs(value)


@given(st.sampled_from(KINDS), st.floats(-1e7, 1e7), st.sampled_from(SYSTEMS))
def test_shown_quantities_have_a_number_and_a_unit(
    kind: str, value: float, system: System
) -> None:
    number, unit = show(value, kind, system).replace("°", " °", 1).split(maxsplit=1)
    assert math.isfinite(float(number))
    assert unit
    assert "e" not in number
    assert number not in ("-0", "-0.0")


@pytest.mark.parametrize(
    ("value", "kind", "metric", "imperial"),
    [
        (0.019, "m", "19 mm", "0.748 in"),
        (2.437, "m", "2.44 m", "7 ft 11.9 in"),
        (1.2192, "m", "1.22 m", "4 ft 0 in"),
        (-0.95, "m", "-950 mm", "-3 ft 1.4 in"),
        (0.42, "head", "0.42 m", "1.4 ft"),
        (25e3, "Pa", "0.25 bar", "3.63 psi"),
        (55e5, "Pa", "55 bar", "798 psi"),
        (12.0, "Pa", "12 Pa", "0.002 psi"),
        (25e3, "vacuum", "0.25 bar", "7.38 inHg"),
        (9.5e-3 / 60, "m3/s", "9.5 L/min", "2.51 US gal/min"),
        (1.0e-3 / 60, "small flow", "60 L/h", "15.9 US gal/h"),
        (math.pi / 9, "rad", "20°", "20°"),
        (math.radians(20.05), "heel", "20.05° to starboard", "20.05° to starboard"),
        (-math.pi / 90, "trim", "2° bow up", "2° bow up"),
        (0.019, "bore", "19 mm", "3/4 in"),
        (0.0127, "bore", "12.7 mm", "1/2 in"),
        (0.013, "bore", "13 mm", "0.512 in"),
        (0.0254, "bore", "25.4 mm", "1 in"),
        (0.032, "bore", "32 mm", "1 1/4 in"),
        (0.5 / 3600, "valve flow", "0.5 m³/h", "2.2 US gal/min"),
        (5.0, "sea temperature", "5 °C", "41 °F"),
        (3.4, "kg", "3.4 kg", "7.5 lb"),
        (25.0, "degC", "25 °C", "77 °F"),
        (0.0352, "mass fraction", "35.2 g/kg", "35.2 g/kg"),
        (0.03, "fraction", "3 %", "3 %"),
        (1.3, "1", "1.3", "1.3"),
        (1.00249, "factor", "1.002", "1.002"),
        (0.00100127, "scale", "0.0010013", "0.0010013"),
        (1.2344, "gap", "1234 mm", "48.60 in"),
        (0.0031, "sliver", "3.1 mm", "0.122 in"),
        (0.9, "way", "0.90 m", "2 ft 11.4 in"),
        (0.9, "tape", "0.900 m", "2 ft 11.43 in"),
        (0.01234, "rough length", "12 mm", "0.49 in"),
        (2.0, "room", "2,000 L", "528 US gal"),
        (0.002, "nook", "2.0 L", "0.53 US gal"),
        (math.pi / 90, "tilt", "2.0°", "2.0°"),
        (0.125, "share", "12 %", "12 %"),
        (0.01, "spread", "1.0 %", "1.0 %"),
        (0.00125, "rough fraction", "0.12 %", "0.12 %"),
        (0.0, "m", "0 mm", "0 in"),
        (-1e-9, "m", "0 mm", "0 in"),
        (math.nan, "Pa", "unknown", "unknown"),
    ],
)
def test_shows_for_people(value: float, kind: str, metric: str, imperial: str) -> None:
    assert show(value, kind) == metric
    assert show(value, kind, "imperial") == imperial


@pytest.mark.parametrize(
    ("values", "kind", "metric", "imperial"),
    [
        ((0.5, -0.1, 0.3048), "place", "(0.50, -0.10, 0.30) m", "(1.64, -0.33, 1.00) ft"),
        (
            (0.5, -0.0001, 0.3),
            "exact place",
            "(0.500, 0.000, 0.300) m",
            "(1.640, 0.000, 0.984) ft",
        ),
        ((0.12, 0.08, 0.0254), "size", "120 x 80 x 25 mm", "4.7 x 3.1 x 1.0 in"),
        ((0.003, -0.0021), "offsets", "+3, -2 mm", "+0.12, -0.08 in"),
    ],
)
def test_shows_several_with_one_unit(
    values: tuple[float, ...], kind: str, metric: str, imperial: str
) -> None:
    assert show_row(values, kind) == metric
    assert show_row(values, kind, "imperial") == imperial
