"""Scale bar and bow arrow of the drawing."""

from __future__ import annotations

import numpy as np
import pyvista as pv
from numpy.typing import NDArray

from fitcheck.geometry.box import Box, as_axes, as_point
from fitcheck.units import Metre, System
from fitcheck.view.drawn.cameras import Outlook
from fitcheck.view.drawn.captions import Tag
from fitcheck.view.drawn.scene import Part
from fitcheck.view.drawn.shapes import box_edges, joined, solid_box

Array = NDArray[np.float64]

INK = "#202428"
PALE = "#FFFFFF"
#: Fields of the bar: number, length, and the label of the total.
FIELDS: dict[System, tuple[int, Metre, str]] = {
    "metric": (5, 0.1, "0.5 m"),
    "imperial": (6, 0.0762, "18 in"),
}
THICK: Metre = 0.016
#: Distance of the marks from the kit.
BEFORE: Metre = 0.12


def ground_marks(focus: Array, look: Outlook, system: System) -> tuple[list[Part], list[Tag]]:
    """A scale bar and an arrow to the bow, below the kit on the side of the eye.

    focus : (n, 3) points of the kit [m]. In a view along the boat the arrow is left out.
    """
    along = _along(look)
    start = _start(focus, look, along)
    count, field, words = FIELDS[system]
    centres = start + (np.arange(count) + 0.5)[:, None] * field * along
    blocks = [_block(centre, along, field) for centre in centres]
    parts = [
        _part("bar:dark", joined([solid_box(block) for block in blocks[::2]]), INK),
        _part("bar:pale", joined([solid_box(block) for block in blocks[1::2]]), PALE),
        _part("bar:edges", joined([box_edges(block) for block in blocks]), INK),
    ]
    beside = _beside(look)
    tags = [_tag(words, centres[count // 2] + beside)]
    if along[0]:
        tail = start + (count * field + 0.10) * along
        mesh = pv.Arrow(start=tail, direction=along, scale=0.30, tip_length=0.3, tip_radius=0.09)
        parts.append(_part("bow", mesh, INK))
        tags.append(_tag("forward", tail + 0.15 * along + beside))
    return parts, tags


def _along(look: Outlook) -> Array:
    """Fore and aft, or athwartships in a view along the boat."""
    return np.array([0.0, 1.0, 0.0] if abs(look.towards_eye[0]) > 0.99 else [1.0, 0.0, 0.0])


def _beside(look: Outlook) -> Array:
    """From a mark to its name below it in the view."""
    if look.square:
        return -0.05 * np.asarray(look.up)
    level = np.array([look.towards_eye[0], look.towards_eye[1], 0.0])
    return 0.09 * level / np.linalg.norm(level)


def _start(focus: Array, look: Outlook, along: Array) -> Array:
    """Near the lower edge of the kit in the view."""
    low, high = focus.min(axis=0), focus.max(axis=0)
    eye, up = np.asarray(look.towards_eye), np.asarray(look.up)
    near = np.where(eye > 0, high + BEFORE, low - BEFORE)
    start = np.where(np.abs(up) > 0.5, low - (BEFORE if look.square else 0.0), near)
    return np.where(along > 0.5, low, start)


def _block(centre: Array, along: Array, length: Metre) -> Box:
    half = np.where(along > 0.5, length / 2, THICK / 2)
    return Box(centre=as_point(centre), half=as_point(half), axes=as_axes(np.eye(3)))


def _part(name: str, mesh: pv.PolyData, colour: str) -> Part:
    return Part(name=name, group="ground", mesh=mesh, colour=colour, lit=False, through=True)


def _tag(words: str, at: Array) -> Tag:
    # The same place twice: it is bare ground, which a tag may cover.
    return Tag(text=words, group="ground", anchors=np.array([at, at]), edge_colour=PALE)
