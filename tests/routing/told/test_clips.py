"""Clips: on the hose, within reach of a support, spaced, and none where a hose must move."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise
from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest

from fitcheck.geometry.distance import index_triangles
from fitcheck.model.found.routes import HoseRoute
from fitcheck.model.given.boat import Lid
from fitcheck.model.given.kit import Duty
from fitcheck.routing.told.clips import FROM_END, LEVEL, UPRIGHT
from fitcheck.routing.told.support import _on_modules
from fitcheck.routing.world.structure import structure_of
from tests import specimens
from tests.specimens.routing import OUTSIDE, asked
from tests.specimens.structure import along_path, laid, one_line, to_room, with_ports

REACH = 0.06
LOW = 0.04  # height of the ports over the sole


def over_the_sole(duty: Duty = "feed") -> tuple[HoseRoute, float]:
    """A hose along the sole from wall to wall, slightly over 2 m."""
    space = with_ports(
        specimens.hand_made_space(pitch=0.02),
        ((-1.0, -0.3, LOW), (1.0, 0.0, 0.0)),
        ((1.0, 0.3, LOW), (-1.0, 0.0, 0.0)),
    )
    hose, _ = laid(asked([one_line(duty)]), space)
    return hose, hose.length


def places(hose: HoseRoute) -> list[float]:
    """Position of each clip along the hose."""
    points, s = along_path(hose)
    found = []
    for clip in hose.clips:
        away = np.linalg.norm(points - np.array(clip.point), axis=1)
        assert away.min() < 0.003
        assert clip.along == pytest.approx(float(s[away.argmin()]), abs=0.006)
        found.append(float(s[away.argmin()]))
    return found


def test_clips_sit_on_the_hose_and_point_at_the_surface() -> None:
    hose, _ = over_the_sole()
    for clip in hose.clips:
        assert math.dist(clip.normal, (0.0, 0.0, -1.0)) < 1e-9
        assert clip.distance == pytest.approx(clip.point[2] - OUTSIDE / 2)
        assert clip.distance <= REACH
        assert clip.to == "hull or joinery"


def test_spacing_and_ends_of_a_level_hose() -> None:
    hose, length = over_the_sole()
    found = places(hose)
    assert found == sorted(found)
    assert found[0] <= FROM_END + 0.006
    assert length - found[-1] <= FROM_END + 0.006
    assert max(b - a for a, b in pairwise(found)) <= LEVEL + 0.006
    # as few as that allows: the whole spacings between the end clips, plus one
    assert len(found) == math.ceil((length - 2 * FROM_END) / LEVEL - 1e-9) + 1


def test_an_upright_hose_has_wider_clip_spacing() -> None:
    space = with_ports(
        specimens.hand_made_space(pitch=0.02, high=(1.0, 0.75, 2.0)),
        ((-1.0 + LOW, 0.0, 0.0), (0.0, 0.0, 1.0)),
        ((-1.0 + LOW, 0.0, 2.0), (0.0, 0.0, -1.0)),
    )
    plain, _ = laid(asked([one_line()]), space)
    pressed, _ = laid(asked([one_line("high pressure")]), space)
    gaps = [b - a for a, b in pairwise(places(plain))]
    assert LEVEL < max(gaps) <= UPRIGHT + 0.006
    assert len(plain.clips) == math.ceil((2.0 - 2 * FROM_END) / UPRIGHT) + 1
    assert max(b - a for a, b in pairwise(places(pressed))) <= LEVEL + 0.006


def test_there_is_no_clip_out_of_reach() -> None:
    space = with_ports(
        specimens.hand_made_space(pitch=0.02),
        ((-1.0, 0.0, 0.6), (1.0, 0.0, 0.0)),
        ((1.0, 0.0, 0.6), (-1.0, 0.0, 0.0)),
    )
    hose, _ = laid(asked([one_line()]), space)
    assert len(hose.clips) == 2
    for clip in hose.clips:
        assert abs(to_room(np.array([clip.point]))[0] - OUTSIDE / 2 - clip.distance) < 1e-9
        assert clip.distance <= REACH
    (span,) = hose.unsupported
    assert span.length == pytest.approx(2.0 - 2 * (REACH + OUTSIDE / 2), abs=0.02)


def test_a_lid_supports_no_clip() -> None:
    """The sole under the hose is a lid of the same two triangles as a fan."""
    space = specimens.hand_made_space(pitch=0.02)
    ring = ((-1.0, -0.75, 0.0), (1.0, -0.75, 0.0), (1.0, 0.75, 0.0), (-1.0, 0.75, 0.0))
    sole = (space.triangles[:, :, 2] == 0.0).all(axis=1)
    boat = specimens.boat("x.stl", lids=(Lid(name="hatch", corners=ring),))
    scenario = replace(asked([one_line()]), boat=boat)
    index = index_triangles(space.triangles, 0.04)
    found = structure_of(scenario, space, index, np.zeros((0, 15)), (), ())
    assert len(found.triangles.corner) == (~sole).sum() == 10
    over = np.array([[0.0, 0.0, 0.05]])
    assert found.nearest(over, 0.1)[2][0] == -1


# --- high pressure ----------------------------------------------------------------------------


def pressed_round_a_corner(corner: bool) -> tuple[HoseRoute, list[str]]:
    """A hose with bends in two planes; with or without a support for a clip between them."""
    bodies = [((-0.1, -0.75, 0.0), (1.0, 0.55, 0.4))] if corner else []
    space = with_ports(
        specimens.hand_made_space(bodies, pitch=0.02),
        ((-0.9, -0.6, 0.55), (1.0, 0.0, 0.0)),
        ((0.8, 0.6, 1.1), (0.0, 0.0, -1.0)),
    )
    hose, routes = laid(asked([one_line("high pressure")]), space)
    return hose, [row.rule for row in routes.findings]


@pytest.mark.parametrize("corner", [False, True])
def test_a_pressure_hose_is_not_clipped_in_a_bend(corner: bool) -> None:
    hose, rules = pressed_round_a_corner(corner)
    assert len(hose.bends) >= 2
    for clip in hose.clips:
        on_leg = [
            np.linalg.norm(np.cross(np.subtract(clip.point, leg.start), _way(leg))) < 1e-6
            for leg in hose.legs
            if math.dist(leg.start, leg.end) > 0.0
        ]
        assert any(on_leg)


def test_a_plane_change_without_a_clip_is_reported() -> None:
    hose, rules = pressed_round_a_corner(False)
    one, two = (np.array(bend.normal) for bend in hose.bends[:2])
    assert abs(one @ two) < math.cos(math.radians(10.0))
    assert "clip-between-planes" in rules


def _way(leg: object) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    step = np.subtract(leg.end, leg.start)  # type: ignore[attr-defined]
    return np.asarray(step / np.linalg.norm(step))


def test_clips_on_a_module_are_reported() -> None:
    def hose(*carriers: tuple[str, str]) -> HoseRoute:
        clips = [SimpleNamespace(kind=kind, to=name) for kind, name in carriers]
        return cast(HoseRoute, SimpleNamespace(clips=clips))

    mesh, pump, solid = ("mesh", "hull or joinery"), ("module", "pump"), ("solid", "pump")
    laid = {"one": hose(mesh, solid), "two": hose(pump, mesh, pump)}
    (told,) = _on_modules(laid)
    assert told.subject == "two"
    assert "would be fixed to pump: 2 of 3 of two." in told.text
    assert list(_on_modules({"one": laid["one"]})) == []
