"""A verdict is that of the worst contact: a certain neighbour does not hide an uncertain one."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitcheck.model.contact import worst
from fitcheck.model.found.routes import HoseRoute, Routes
from fitcheck.routing import route_hoses
from tests import specimens
from tests.specimens.routing import (
    CLEARANCE,
    asked,
    fit_of,
    hose,
    line,
    meshed,
    modules_of,
    port,
)

KIND = hose()
BESIDE = KIND.outside_diameter / 2 + CLEARANCE
OFF = BESIDE + 0.001
PORTS = (
    port("a", (-0.9, 0.0, 0.3), (1.0, 0.0, 0.0)),
    port("b", (0.9, 0.0, 0.3), (-1.0, 0.0, 0.0)),
)


def beside(*boxes: tuple[str, tuple[float, ...], tuple[float, ...]]) -> Routes:
    """A straight hose 11 mm from a scanned block with an uncertainty of 39 mm, and modules around
    it.
    """
    block = specimens.box((-0.3, OFF, 0.0), (0.3, OFF + 0.3, 0.8))
    space = meshed(specimens.join(specimens.room(), block), ports=PORTS)
    space = replace(space, uncertainty=specimens.unsure(accuracy=0.039))
    scenario = asked([line("one", "boat.a", "boat.b")], hoses=[KIND])
    fit = fit_of(*modules_of(*boxes)) if boxes else fit_of()
    return route_hoses(scenario, space, fit)


@pytest.mark.parametrize(
    "name", ["", "box", "unscanned space", "the solid thing", "hull or joinery"]
)
def test_a_nearer_module_hides_no_caution_about_an_uncertain_wall(name: str) -> None:
    box = (name, (-0.3, -BESIDE - 0.3, 0.0), (0.3, -BESIDE, 0.8))
    routes = beside(box) if name else beside()
    (found,) = routes.hoses
    assert isinstance(found, HoseRoute)
    cautions = [row for row in routes.findings if row.rule == "clearance-accuracy"]
    assert [row.bars for row in cautions] == [("order_hoses",)]
    assert cautions[0].value == pytest.approx(0.011, abs=1e-3)
    met = worst(found.contacts)
    assert met is not None
    assert met.kind == "mesh"
    assert found.clearance == pytest.approx(min(row.gap for row in found.contacts), abs=1e-4)
    assert {row.subject for row in found.contacts if row.kind == "module"} == {name} - {""}
    assert all(row.uncertainty == 0.0 for row in found.contacts if row.kind == "module")
