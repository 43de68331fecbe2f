"""The states a boat is judged in: every combination of sea, air and dirt."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from typing import Any, Literal

from fitcheck.findings.said import Quantity, as_written, in_a_row, quantity
from fitcheck.model.found.hydraulics import State
from fitcheck.model.given.boat import Conditions
from fitcheck.model.given.kit import Kit
from fitcheck.units import Celsius, Radian, Ratio


def states_of(
    conditions: Conditions, *, filters: bool = True, strainer: bool = True
) -> tuple[State, ...]:
    """Running: every heel, trim, temperature and salinity, clean and dirty.

    filters, strainer : whether the kit has any, so that dirt makes a difference
    """
    dirt = itertools.product((False, True)[: 1 + filters], (False, True)[: 1 + strainer])
    return tuple(
        _state(
            *_sea(heel, trim, temperature, salinity if _differ(conditions) else None),
            "filters dirty" if dirty else "filters clean",
            *(["strainer fouled"] if fouled else []),
            heel=heel,
            trim=trim,
            temperature_C=temperature,
            salinity=salinity,
            dirty=dirty,
            fouled=fouled,
            atmosphere=conditions.atmosphere,
        )
        for (heel, trim, temperature, salinity), (dirty, fouled) in itertools.product(
            _seas(conditions), dirt
        )
    )


def resting_states(conditions: Conditions, kit: Kit) -> tuple[State, ...]:
    """Stopped, and flushing if the kit describes it: dirt and air pressure change nothing."""
    doing: tuple[Literal["stopped", "flushing"], ...] = ("stopped",)
    if kit.flush is not None:
        doing = ("stopped", "flushing")
    return tuple(
        _state(
            *_sea(heel, trim, temperature, salinity if _differ(conditions) else None),
            what,
            heel=heel,
            trim=trim,
            temperature_C=temperature,
            salinity=salinity,
            dirty=False,
            atmosphere=conditions.atmosphere,
            doing=what,
        )
        for what in doing
        for heel, trim, temperature, salinity in _seas(conditions)
    )


def _seas(conditions: Conditions) -> Iterator[tuple[Radian, Radian, Celsius, Ratio]]:
    return itertools.product(
        dict.fromkeys(conditions.heel),
        dict.fromkeys(conditions.trim),
        dict.fromkeys(conditions.water_temperature_C),
        dict.fromkeys(conditions.salinity),
    )


def _differ(conditions: Conditions) -> bool:
    return len(set(conditions.salinity)) > 1


def _sea(
    heel: Radian, trim: Radian, temperature_C: Celsius, salinity: Ratio | None
) -> Iterator[str | Quantity]:
    yield quantity(heel, "heel") if heel else "upright"
    if trim:
        yield quantity(trim, "trim")
    yield quantity(temperature_C, "sea temperature")
    if salinity is not None:
        yield quantity(salinity, "salinity")


def _state(*parts: str | Quantity, **known: Any) -> State:
    """A state, named from its parts."""
    return State(name=in_a_row(parts), said=as_written(parts), **known)
