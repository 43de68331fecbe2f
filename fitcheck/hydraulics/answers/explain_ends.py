"""Calculation steps for parts only some hoses have: open ends, narrower tails, a coil."""

from __future__ import annotations

from collections.abc import Iterator

from fitcheck.findings.said import quantity, say
from fitcheck.hydraulics.network.plant import Run
from fitcheck.hydraulics.physics.coils import coil_friction_factor, critical_reynolds
from fitcheck.hydraulics.physics.losses import (
    HoseLoss,
    friction_factor,
    reynolds,
    velocity,
    velocity_head,
)
from fitcheck.hydraulics.physics.open_ends import open_end_coefficients
from fitcheck.hydraulics.physics.seawater import Water
from fitcheck.hydraulics.physics.tails import ENDS, TAIL_LENGTH
from fitcheck.model.found.explanation import Step, typed
from fitcheck.model.given.kit import Line
from fitcheck.units import CubicMetrePerSecond


def open_end_steps(
    line: Line, loss: HoseLoss, water: Water, flow: CubicMetrePerSecond
) -> Iterator[Step]:
    """The inlet from open water, the outlet into water or air."""
    entrance, leaving = open_end_coefficients(line, flow)
    if not entrance and not leaving:
        return
    head = velocity_head(loss.velocity, water.density)
    yield Step(
        what="entrance from the sea or a tank, exit into one or into air",
        formula="(K_in + K_out) * q",
        numbers=f"({typed(entrance)} + {typed(leaving)}) * {typed(head)}",
        value=loss.open_ends,
        unit="Pa",
        source="Crane TP 410, A-30: sharp-edged entrance 0.5, exit 1.0; in no other figure",
    )


def coil_steps(run: Run, loss: HoseLoss, water: Water) -> Iterator[Step]:
    """Critical Reynolds number, friction factor and loss of a coil."""
    coil, hose = run.coil, run.hose
    if coil is None:
        return
    ratio = f"({typed(hose.bore)} / {typed(coil.diameter)})"
    yield Step(
        what="coil: laminar up to this Reynolds number",
        formula="Re_c = 2300 (1 + 8.6 (d/D)^0.45)",
        numbers=f"2300 * (1 + 8.6 * {ratio}**0.45)",
        value=critical_reynolds(hose.bore, coil.diameter),
        unit="1",
        source="Schmidt 1967, Chemie Ingenieur Technik 39, 781",
    )
    factor = coil_friction_factor(loss.reynolds, hose.bore, coil.diameter, hose.roughness)
    yield Step(
        what="coil: friction factor (Darcy)",
        formula="laminar: 64/Re / (1 - (1 - (11.6/De)^0.45)^2.2), De = Re sqrt(d/D); turbulent: "
        "0.3 sqrt(d/D) (Re (d/D)^2)^-0.2 (1 + 0.112 (Re (d/D)^2)^-0.2); a straight line between; "
        "never below straight hose",
        numbers="",
        value=factor,
        unit="1",
        source="White 1929; Mori and Nakayama 1967",
    )
    head = velocity_head(loss.velocity, water.density)
    yield Step(
        what="coil: friction",
        formula="f_coil turns pi D / d * q",
        numbers=f"{typed(factor)} * {typed(coil.turns)} * pi * {typed(coil.diameter)}"
        f" / {typed(hose.bore)} * {typed(head)}",
        value=loss.coil,
        unit="Pa",
        source="Darcy and Weisbach",
    )


def tail_steps(
    run: Run, loss: HoseLoss, water: Water, flow: CubicMetrePerSecond
) -> Iterator[Step]:
    """The losses at both ends where their tails are narrower than the hose."""
    hose = run.hose
    if hose.tail_bore is None or not loss.tails:
        return
    tail = typed(hose.tail_bore)
    speed = velocity(flow, hose.tail_bore)
    yield Step(
        what="tails: velocity in their bore",
        formula="v_t = 4 Q / (pi d_t^2)",
        numbers=f"4 * {typed(flow)} / (pi * {tail}**2)",
        value=speed,
        unit="m/s",
        source="continuity",
    )
    beta = f"({tail} / {typed(hose.bore)})"
    narrow = f"(1 + 0.622 * (1 - 0.215 * {beta}**2 - 0.785 * {beta}**5))"
    ratio = hose.tail_bore / hose.bore
    jet = 1 + 0.622 * (1 - 0.215 * ratio**2 - 0.785 * ratio**5)
    contraction = 0.0696 * (1 - ratio**5) * jet**2 + (jet - 1) ** 2
    yield Step(
        what="tails: contraction into one",
        formula="K = 0.0696 (1 - b^5) l^2 + (l - 1)^2, l = 1 + 0.622 (1 - 0.215 b^2 - 0.785 b^5), "
        "b = d_t/d",
        numbers=f"0.0696 * (1 - {beta}**5) * {narrow}**2 + ({narrow} - 1)**2",
        value=contraction,
        unit="1",
        source="Rennels and Hudson 2012, ch. 10",
    )
    number = reynolds(flow, hose.tail_bore, water)
    factor = friction_factor(number, hose.roughness / hose.tail_bore)
    yield Step(
        what="tails: loss of both ends",
        formula="2 (K + f l/d_t + (1 - b^2)^2) rho v_t^2 / 2",
        numbers=f"{ENDS} * ({typed(contraction)} + {typed(factor)} * {typed(TAIL_LENGTH)} / {tail}"
        f" + (1 - {beta}**2)**2) * {typed(water.density)} * {typed(speed)}**2 / 2",
        value=loss.tails,
        unit="Pa",
        size=say("explain.tail", tail=quantity(TAIL_LENGTH, "gap")),
        source="Borda and Carnot for the expansion; length of a tail: common practice, no source",
    )
