"""Random networks compared with EPANET, an engine that shares no code with ours.

Every network is a small plant: sea, suction hose, feed pump, one to four parallel hoses at random
places, up to two returns around the pump, a fixed flow drawn at the end. EPANET 2.2 works in
single precision and United States units inside and takes friction from Swamee and Jain's fit of
Colebrook's equation, ours from Churchill's: flows and heads agree within the difference of the two
friction formulas.
"""

from __future__ import annotations

import warnings
from pathlib import Path
from typing import Any

import pytest

from fitcheck.hydraulics.physics.losses import GRAVITY
from fitcheck.hydraulics.physics.open_ends import open_end_coefficients
from fitcheck.hydraulics.physics.seawater import water
from tests.specimens.networks import Drawn, drawn
from tests.specimens.water import (
    OCEAN,
)

NETWORKS = 64
LEAST_COMPARED = 50
#: Relative to the feed flow; relative to the pump's head. Flow differs most where a parallel hose
#: carries so little that it is nearly laminar, where the two friction formulas diverge.
FLOW_WITHIN, HEAD_WITHIN = 0.015, 0.002
#: EPANET's viscosity is relative to 1.1e-5 ft2/s.
EPANET_VISCOSITY = 1.1e-5 * 0.3048**2


def epanet(of: Drawn, folder: Path) -> tuple[dict[str, float], dict[str, float]]:
    """Flows by line [m3/s] and heads by port above the sea [m], by EPANET."""
    wntr = pytest.importorskip("wntr")
    plant, state = of.plant, of.plant.states[0]
    feed = water(OCEAN, state.temperature_C)
    network = wntr.network.WaterNetworkModel()
    options = network.options.hydraulic
    options.headloss = "D-W"
    options.inpfile_units = "LPM"
    options.viscosity = feed.viscosity / feed.density / EPANET_VISCOSITY
    options.accuracy = 1e-5
    options.trials = 200
    heights = plant.heights(state)
    nodes = _joined(of)
    for name in dict.fromkeys(nodes.values()):
        if name.startswith("boat."):
            network.add_reservoir(name, base_head=0.0)
        else:
            taken = plant.feed_flow if name == "hp_pump.inlet" else 0.0
            network.add_junction(name, base_demand=taken, elevation=heights[name])
    pump = of.scenario.kit.feed_pump
    assert pump is not None
    # EPANET joins a curve's points by straight lines, so many points are passed.
    assert plant.pump is not None
    points = [
        (flow, plant.pump.extended(flow))
        for flow in (plant.pump.last_flow * n / 60 for n in range(61))
    ]
    network.add_curve("pump", "HEAD", points)
    network.add_pump("pump", "feed_pump.inlet", "feed_pump.outlet", "HEAD", "pump")
    for name, run in plant.runs.items():
        network.add_pipe(
            name,
            nodes[str(run.line.start)],
            nodes[str(run.line.end)],
            length=run.length,
            diameter=run.hose.bore,
            roughness=run.hose.roughness,
            minor_loss=run.line.fittings + sum(open_end_coefficients(run.line, 1.0)),
        )
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        found = wntr.sim.EpanetSimulator(network).run_sim(file_prefix=str(folder / "network"))
    flows: dict[str, Any] = found.link["flowrate"].iloc[0].to_dict()
    heads: dict[str, Any] = found.node["head"].iloc[0].to_dict()
    return flows, heads


def _joined(of: Drawn) -> dict[str, str]:
    """Every port to the port whose water it shares; strainer and filters have no loss."""
    same = {
        f"{module.name}.{port.name}": f"{module.name}.{port.joins or port.name}"
        for module in of.scenario.kit.modules
        for port in module.ports
    }
    same |= {f"boat.{port.name}": f"boat.{port.name}" for port in of.scenario.boat.ports}
    through = {"strainer.outlet": "strainer.inlet", "prefilters.outlet": "prefilters.inlet"}
    used = {str(end) for line in of.scenario.kit.lines for end in (line.start, line.end)}
    used |= {"feed_pump.inlet", "feed_pump.outlet"}
    return {name: through.get(same[name], same[name]) for name in used}


def differences(seed: int, folder: Path) -> tuple[float, float]:
    """Largest difference in flow, relative to the feed flow, and in head, to the pump's."""
    of = drawn(seed)
    ours = of.solved()
    flows, heads = epanet(of, folder)
    feed = ours.waters["feed"].density * GRAVITY
    nodes = _joined(of)
    scale = ours.pressures["feed_pump.outlet"] - ours.pressures["feed_pump.inlet"]
    in_flow = max(
        abs(ours.flows[name] - flows[name]) / of.plant.feed_flow for name in of.plant.runs
    )
    in_head = max(
        abs(ours.pressures[name] / feed + ours.heights[name] - heads[nodes[name]])
        for name in nodes
        if not name.startswith("boat.")
    )
    return in_flow, in_head / (scale / feed)


@pytest.mark.filterwarnings("ignore")
def test_random_networks_agree_with_epanet(tmp_path: Path) -> None:
    pytest.importorskip("wntr")
    fed = [seed for seed in range(NETWORKS) if not drawn(seed).solved().trouble]
    assert len(fed) >= LEAST_COMPARED
    for seed in fed:
        in_flow, in_head = differences(seed, tmp_path)
        assert in_flow < FLOW_WITHIN, seed
        assert in_head < HEAD_WITHIN, seed


def test_the_networks_are_not_all_alike() -> None:
    counts = {len(drawn(seed).plant.circuit.loops) for seed in range(NETWORKS)}
    assert counts >= {2, 3, 4, 5}
