"""Unscanned space near a box or hose, and the viewpoint that would show it."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from fitcheck.findings.said import Said
from fitcheck.model.found.fit import Fit, ModuleFit
from fitcheck.model.found.routes import Routes
from fitcheck.model.found.space import FREE, UNSEEN, Space
from fitcheck.model.given.boat import Boat
from fitcheck.space import compartment, on_nearby, survey
from fitcheck.space.compartment import MAX_CELLS, _count
from tests import specimens

#: A body in the middle of the room; everything aft of it is in its shadow.
LOW, HIGH = (-0.2, -0.4, 0.0), (0.1, 0.4, 0.9)
EYES = ((0.7, -0.2, 0.5), (0.7, 0.2, 0.6))
#: A box next to the shadow.
BESIDE = specimens.upright_box((-0.4, -0.1, 0.1), (-0.25, 0.1, 0.3))


@pytest.fixture
def boat(tmp_path: Path) -> Boat:
    path = specimens.write_ply(tmp_path / "mesh.ply", specimens.room_with_box(LOW, HIGH))
    return specimens.boat(path, origin="scan", inside=(0.7, 0.0, 0.6), viewpoints=EYES)


def seen(boat: Boat) -> Space:
    return survey(specimens.scenario(boat, layout=specimens.layout(pitch=0.04)), cell=0.04)


def fitted(space: Space) -> Fit:
    shift = np.array(space.frame.shift)
    box = replace(BESIDE, centre=specimens.as_point(np.array(BESIDE.centre) + shift))
    module = ModuleFit(
        name="pump",
        verdict="unseen",
        box=box,
        mass=5.0,
        faces=(),
        service=(),
    )
    return Fit(modules=(module,), findings=(), assumptions=())


def test_the_suggested_viewpoint_shows_the_reported_piece(boat: Boat) -> None:
    space = seen(boat)
    fit = fitted(space)
    (told,) = on_nearby(space, fit, Routes(hoses=(), findings=(), assumptions=()))
    assert (told.rule, told.subject) == ("unseen-near", "pump")
    assert space.label[tuple(space.grid.index(np.array(told.place)))] == UNSEEN
    assert told.remedy is not None
    named = re.search(r"Scan it from \((.*?)\) m", told.remedy.text)
    assert named is not None
    offered = np.array([float(part) for part in named[1].split(",")]) - np.array(space.frame.shift)
    more = tuple(specimens.as_point(offered + step) for step in ([0, 0, 0], [0, 0.05, 0.05]))
    again = seen(replace(boat, viewpoints=EYES + more))
    near = fit.modules[0].box.distance(
        space.grid.centre(np.stack(np.indices(space.grid.shape), axis=-1))
    )
    dark = (space.label == UNSEEN) & (near < 0.1)
    assert told.value is not None
    assert told.value <= dark.sum() * space.grid.pitch**3 + 1e-12
    assert (again.label[dark] == FREE).mean() > 0.5


def test_nothing_is_reported_if_everything_was_seen(boat: Boat) -> None:
    space = seen(replace(boat, viewpoints=specimens.viewpoints(12)))
    far = replace(
        fitted(space).modules[0],
        box=specimens.upright_box((0.4, -0.1, 0.3), (0.6, 0.1, 0.5)),
    )
    fit = Fit(modules=(far,), findings=(), assumptions=())
    assert on_nearby(space, fit, Routes(hoses=(), findings=(), assumptions=())) == ()


@pytest.mark.parametrize("pitch", [0.001, 0.0015, 0.003])
def test_the_suggested_coarser_pitch_fits(boat: Boat, pitch: float) -> None:
    with pytest.raises(Exception, match="set layout.pitch to") as refused:
        survey(specimens.scenario(replace(boat, unit=1.7), layout=specimens.layout(pitch=pitch)))
    advised = int(str(refused.value).split("set layout.pitch to ")[1].split()[0]) / 1000
    size = 1.7 * np.array([2.0, 1.5, 1.2])
    assert np.prod(_count(size, advised)) <= MAX_CELLS
    assert np.prod(_count(size, advised - 0.001)) > MAX_CELLS or advised - 0.001 <= pitch


def told_of(boat: Boat) -> list[str]:
    told: list[str | Said] = []
    layout = specimens.layout(pitch=0.04)
    survey(specimens.scenario(boat, layout=layout), told.append, cell=0.04)
    return [step.text() if isinstance(step, Said) else step for step in told]


def test_a_long_search_is_announced(boat: Boat, monkeypatch: pytest.MonkeyPatch) -> None:
    """The suggested pitch has no more cells than the limit for a long search."""
    assert not any("takes minutes" in step for step in told_of(boat))
    monkeypatch.setattr(compartment, "MINUTES", 60_000)
    steps = told_of(boat)
    slow = next(number for number, step in enumerate(steps) if "takes minutes" in step)
    assert slow < next(n for n, step in enumerate(steps) if step.startswith("Labelled"))
    cells = int(re.findall(r"on ([\d,]+) cells", steps[slow])[0].replace(",", ""))
    offered = float(re.findall(r'layout.pitch = "(\d+) mm"', steps[slow])[0]) / 1000
    assert cells > 60_000
    assert cells * (0.04 / offered) ** 3 <= 60_000


class Counted(list[str]):
    """Records steps and their progress."""

    def __init__(self) -> None:
        super().__init__()
        self.parts: dict[str, list[tuple[int, int]]] = {}

    def __call__(self, step: str) -> None:
        self.append(step)

    def part(self, what: str, done: int, whole: int) -> None:
        self.parts.setdefault(what, []).append((done, whole))


def test_labelling_reports_progress_from_zero_to_all(boat: Boat) -> None:
    tell = Counted()
    survey(specimens.scenario(boat, layout=specimens.layout(pitch=0.04)), tell, cell=0.04)
    looked = tell.parts["cells looked at from the viewpoints"]
    assert looked[0][0] == 0
    for (before, _), (after, whole) in zip(looked, looked[1:], strict=False):
        assert after == 0 or before <= after <= whole
    assert looked[-1][0] == looked[-1][1] > 0
