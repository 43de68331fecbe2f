"""Water: ranges, guards and trends; the published values are in test_sources."""

from __future__ import annotations

import warnings

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitcheck.errors import OutOfRangeError, ValidityWarning
from fitcheck.hydraulics.physics.seawater import (
    density,
    saturation_pressure,
    vapour_pressure,
    water,
)

temperatures = st.floats(-2.0, 45.0)
salinities = st.floats(0.0, 0.042)


@pytest.mark.parametrize(("salinity", "temperature"), [(0.035, -2.1), (0.035, 45.1)])
def test_water_too_cold_or_too_warm_is_refused(salinity: float, temperature: float) -> None:
    with pytest.raises(OutOfRangeError, match="water temperature"):
        water(salinity, temperature)


@pytest.mark.parametrize("salinity", [-0.001, 0.151])
def test_impossible_salinity_is_refused(salinity: float) -> None:
    with pytest.raises(OutOfRangeError, match="salinity"):
        water(salinity, 20.0)


def test_water_saltier_than_stated_warns() -> None:
    with pytest.warns(ValidityWarning, match="42 g/kg"):
        density(0.0421, 20.0)


def test_ocean_water_does_not_warn() -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert water(0.042, 20.0).density > 1025.0


def test_the_brine_equation_joins_within_its_stated_accuracy() -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ValidityWarning)
        for temperature in (0.0, 15.0, 30.0, 45.0):
            below, above = density(0.050, temperature), density(0.050 + 1e-9, temperature)
            assert above == pytest.approx(below, rel=1e-3)


@given(salinities, temperatures)
def test_salt_makes_water_denser_more_viscous_and_less_volatile(
    salinity: float, temperature: float
) -> None:
    fresh, salt = water(0.0, temperature), water(salinity, temperature)
    assert salt.density >= fresh.density
    assert salt.viscosity >= fresh.viscosity
    assert salt.vapour_pressure <= fresh.vapour_pressure


@given(salinities, st.floats(-2.0, 44.0))
def test_warm_water_is_less_viscous_and_more_volatile(salinity: float, temperature: float) -> None:
    cold, warm = water(salinity, temperature), water(salinity, temperature + 1.0)
    assert warm.viscosity < cold.viscosity
    assert warm.vapour_pressure > cold.vapour_pressure


def test_pure_water_has_its_saturation_pressure() -> None:
    assert vapour_pressure(0.0, 20.0) == saturation_pressure(20.0)
