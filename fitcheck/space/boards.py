"""Existing and planned boards: placed, put into the grid, listed to build."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from fitcheck.errors import MeshError
from fitcheck.findings.said import Said, length, quantities, say
from fitcheck.geometry.box import Box, as_axes, as_point, surface
from fitcheck.geometry.grid import Grid
from fitcheck.geometry.raster import touched_cells
from fitcheck.model.finding import Finding
from fitcheck.model.found.space import FREE, SOLID, Frame, PlacedVolume, Space
from fitcheck.model.given.boat import Board
from fitcheck.space.datum.place import spot
from fitcheck.units import Metre, Point

#: Maximum distance of a picked corner from the rectangle through all four [m].
OFF = 0.015
#: A direction less square to the face than this does not identify a side [1].
LEAST_COSINE = 0.5


def place_boards(frame: Frame, boards: Sequence[Board], inside: Point) -> tuple[PlacedVolume, ...]:
    """The boards in the boat frame. Raises MeshError where the corners do not form a rectangle."""
    return tuple(
        PlacedVolume(
            name=board.name, box=_box(frame, board, inside), why="a board", board=board.state
        )
        for board in boards
    )


def _box(frame: Frame, board: Board, inside: Point) -> Box:
    ring = np.array([spot(frame, corner) for corner in board.corners])
    middle = ring.mean(axis=0)
    along = (ring[1] - ring[0] + ring[2] - ring[3]) / 2
    across = (ring[3] - ring[0] + ring[2] - ring[1]) / 2
    length = float(np.linalg.norm(along))
    u = along / max(length, 1e-9)
    v = across - (across @ u) * u
    width = float(np.linalg.norm(v))
    v = v / max(width, 1e-9)
    signs = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) / 2
    square = middle + signs[:, :1] * length * u + signs[:, 1:] * width * v
    if min(length, width) < OFF or np.linalg.norm(ring - square, axis=1).max() > OFF:
        raise MeshError(
            f"boat.boards '{board.name}'",
            "the four corners are not a rectangle",
            "write them in order round one face; a board of another shape is two or more boards",
            "boat.boards",
        )
    normal = np.cross(u, v)
    side = _side(frame, board, normal, middle - np.array(inside))
    half = board.thickness / 2
    return Box(
        centre=as_point(middle + side * half * normal),
        half=(length / 2, width / 2, half),
        axes=as_axes(np.array([u, v, normal])),
    )


def _side(
    frame: Frame, board: Board, normal: NDArray[np.float64], away: NDArray[np.float64]
) -> Metre:
    """Direction of the thickness along the normal, +1 or -1."""
    if board.grows is None:
        return 1.0 if float(away @ normal) >= 0.0 else -1.0
    way = np.array(board.grows.vector)
    if board.grows.frame == "mesh":
        way = np.array(frame.turn) @ way
    cosine = float(way @ normal) / float(np.linalg.norm(way))
    if abs(cosine) < LEAST_COSINE:
        raise MeshError(
            f"boat.boards '{board.name}'",
            "`grows` runs along the board, not through it",
            "write the direction of its thickness from the face whose corners are given",
            "boat.boards",
        )
    return 1.0 if cosine > 0.0 else -1.0


def with_boards(
    label: NDArray[np.uint8], grid: Grid, boards: Sequence[PlacedVolume]
) -> NDArray[np.uint8]:
    """The labels, with free cells that a board touches turned solid.

    Done after labelling: a board the scanner did not see does not block any line of sight.
    """
    label = label.copy()
    for board in boards:
        touched = touched_cells(surface(board.box), grid)
        low = grid.index(board.box.corners().min(axis=0))
        high = grid.index(board.box.corners().max(axis=0)) + 1
        cells = np.argwhere(label == FREE)
        cells = cells[((cells >= low) & (cells <= high)).all(axis=1)]
        inner = cells[board.box.distance(grid.centre(cells)) <= 0.0]
        touched[tuple(inner.T)] = True
        label[touched & (label == FREE)] = SOLID
    return label


def on_boards(space: Space) -> tuple[Finding, ...]:
    """The planned boards as a list to build: size, thickness, place."""
    return tuple(
        Finding(
            severity="note",
            rule="board-to-build",
            subject=board.name,
            said=_to_build(board),
            source="boat.boards",
            place=board.box.centre,
        )
        for board in space.boards
        if board.board == "planned"
    )


def _to_build(board: PlacedVolume) -> Said:
    along, across, thick = (length(2.0 * half) for half in board.box.half)
    return say(
        "board-to-build",
        board=board.name,
        length=along,
        width=across,
        thick=thick,
        at=quantities(board.box.centre, "exact place"),
    )
