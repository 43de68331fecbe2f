"""Cautions printed with every result."""

from __future__ import annotations

from dataclasses import dataclass

from fitcheck.findings.said import Said, quantity, say


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """A short heading and its text."""

    about: str
    said: Said


# The two flows are Cd A sqrt(2 g h) with Cd = 0.6 for a sharp-edged hole; the jet speed is
# sqrt(2 p / rho) in seawater of 1025 kg/m3. A test recalculates them.
CAUTIONS: tuple[Caution, ...] = (
    Caution(about="An estimate", said=say("caution.estimate")),
    Caution(
        about="Flooding",
        said=say(
            "caution.flooding",
            depth=quantity(0.5, "head"),
            small=quantity(0.0127, "bore"),
            little=quantity(14.0 / 60_000, "rough flow"),
            large=quantity(0.019, "bore"),
            much=quantity(32.0 / 60_000, "rough flow"),
        ),
    ),
    Caution(
        about="High pressure",
        said=say(
            "caution.high-pressure",
            pressure=quantity(55e5, "pressure"),
            speed=quantity(104.0, "speed"),
        ),
    ),
    Caution(about="Electricity", said=say("caution.electricity")),
    Caution(about="Drinking water", said=say("caution.drinking-water")),
    Caution(about="Lifting", said=say("caution.lifting")),
)
