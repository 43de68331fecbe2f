"""Suction length allowed by the kit and by the calculation."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import pytest

from fitcheck.model.finding import Finding
from fitcheck.model.found.hydraulics import Hydraulics
from fitcheck.model.given.kit import Kit, SuctionLength
from tests.specimens.water_solved import long_and_thin, solved, worst_vacuum

COLD: dict[str, Any] = {"water_temperature_C": (5.0,)}


def told(result: Hydraulics) -> list[Finding]:
    return [row for row in result.findings if row.rule == "suction-length"]


def limited(recommended: float, most: float) -> Kit:
    """The suction hose of the specimen with a limit, all bores exact."""
    kit = long_and_thin(filters=0.0)
    used = {line.hose for line in kit.lines if line.duty == "suction"}
    limit = SuctionLength(recommended=recommended, most=most, source="the pump's manual")
    hoses = tuple(
        replace(hose, bore_tolerance=0.0, suction_length=limit if hose.name in used else None)
        for hose in kit.hoses
    )
    return replace(kit, hoses=hoses)


def whole(result: Hydraulics) -> float:
    """Hose length of the suction side, from the envelope in the report."""
    assert result.envelope is not None
    assert result.envelope.own_length is not None
    return result.envelope.own_length


def test_a_kit_without_a_length_has_no_comparison() -> None:
    result = solved(long_and_thin(), sea_to_strainer=13.0)
    assert not told(result)


def test_kit_and_calculation_accept_a_short_suction_side() -> None:
    result = solved(limited(10.0, 15.0), sea_to_strainer=1.0, **COLD)
    assert worst_vacuum(result) < 10_000
    assert not told(result)


def test_kit_and_calculation_reject_a_long_suction_side() -> None:
    result = solved(limited(3.0, 30.0), sea_to_strainer=13.0, **COLD)
    assert worst_vacuum(result) > 10_000
    assert not told(result)


def test_the_kit_recommends_less_than_the_calculation_allows() -> None:
    result = solved(limited(1.5, 30.0), sea_to_strainer=1.0, **COLD)
    (found,) = told(result)
    assert found.severity == "note"
    assert found.remedy is None
    assert found.limit == 1.5
    assert "the pump's manual" in found.text


def test_the_allowed_length_has_exactly_the_recommended_vacuum() -> None:
    """With the calculated length, the gauge shows 0.10 bar."""
    (found,) = told(solved(limited(0.1, 30.0), sea_to_strainer=1.0, **COLD))
    allowed = float(re.search(r"allows ([\d.]+) m at", found.text)[1])  # type: ignore[index]
    longer = solved(
        limited(0.1, 30.0), sea_to_strainer=1.0 + allowed - (found.value or 0.0), **COLD
    )
    assert worst_vacuum(longer) == pytest.approx(10_000, rel=0.01)


def test_longer_than_the_kit_allows_is_always_a_caution() -> None:
    for most in (0.5, 1.5):
        (found,) = told(solved(limited(0.4, most), sea_to_strainer=1.0, **COLD))
        assert found.severity == "caution"
        assert found.limit == most
        assert (found.value or 0.0) > most
        assert found.remedy is not None
        over = re.search(r"([\d.]+) (mm|m)\b", found.remedy.text)
        assert over
        metres = float(over[1]) * {"mm": 0.001, "m": 1.0}[over[2]]
        assert metres == pytest.approx((found.value or 0.0) - most, abs=0.001)


def test_of_two_hoses_of_one_bore_the_stricter_limit_holds() -> None:
    """In either order along the flow."""
    loose = limited(20.0, 30.0)
    first, last = [line for line in loose.lines if line.duty == "suction"][:2]
    strict = SuctionLength(recommended=0.4, most=0.5, source="the strict one")
    for strict_line in (first, last):
        hose = replace(loose.hose(strict_line.hose), name="strict", suction_length=strict)
        lines = tuple(
            replace(line, hose="strict") if line is strict_line else line for line in loose.lines
        )
        kit = replace(loose, hoses=(*loose.hoses, hose), lines=lines)
        (found,) = told(solved(kit, sea_to_strainer=1.0, **COLD))
        assert (found.severity, found.limit) == ("caution", 0.5)


def test_the_kit_recommends_more_than_the_calculation_allows() -> None:
    result = solved(limited(15.0, 30.0), sea_to_strainer=5.0, **COLD)
    assert worst_vacuum(result) > 10_000
    (found,) = told(result)
    assert found.severity == "note"
    assert found.limit == 15.0
