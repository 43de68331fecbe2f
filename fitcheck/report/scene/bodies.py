"""scene.glb: the scan, the modules and the hoses as named nodes."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from fitcheck.geometry.box import Box
from fitcheck.model.found.look import (
    BOARD_COLOUR,
    CLIP_COLOUR,
    DUTY_LOOKS,
    MODULE_COLOUR,
    SCAN_COLOUR,
    SEVERITY_LOOKS,
)
from fitcheck.model.found.routes import HoseRoute, Unrouted
from fitcheck.model.result import Result
from fitcheck.report.numbers import node_of
from fitcheck.report.scene.gltf import Part, as_glb, linear
from fitcheck.report.scene.tube import Tube, centre_line, tube
from fitcheck.report.words.words import hose_number, is_short

#: A scan with more triangles than this is drawn coarser; compartment.ply has all of it.
DRAWN_TRIANGLES = 60_000
_KEEP_OUT_COLOUR = "#8F7A66"
_FAIL_COLOUR = SEVERITY_LOOKS["fail"].colour
_SERVICE_COLOUR = "#6F7F8C"
#: Corners of a box's faces, counter-clockwise seen from outside; corner = 4 x + 2 y + z.
_FACES = ((0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3))


def scene_glb(result: Result) -> bytes:
    """The whole scene as binary glTF; nodes "scan", "module:NAME", "hose:LINE" and a few more.

    Further nodes: "unrouted:LINE" (a hose without a route), "service:MODULE:FACE:KIND",
    "keep_out:NAME", "solid:NAME", "board:NAME", "clips:LINE" (a block from the hose to the support
    of the clip).
    """
    parts = [_scan(result), *_modules(result), *_volumes(result), *_hoses(result), *_clips(result)]
    told = {"unit": "m", "frame": "x forward, y up, z to starboard; y = 0 is the sea surface"}
    return as_glb(parts, told | {"scenario": result.scenario.name, "verdict": result.verdict})


def _scan(result: Result) -> Part:
    triangles = _facing(result.space.triangles, np.asarray(result.space.inside))
    vertices, faces = thinned(*welded(triangles), DRAWN_TRIANGLES)
    return Part(name="scan", vertices=vertices, faces=faces, colour=SCAN_COLOUR, opacity=0.3)


def _facing(triangles: NDArray[np.float64], inside: NDArray[np.float64]) -> NDArray[np.float64]:
    """The triangles, flipped if most of the surface has its back to the inside point.

    A viewer with back-face culling then looks into the compartment through its near wall.
    """
    sides = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    toward = np.einsum("nk,nk->n", sides, inside - triangles.mean(axis=1))
    area = np.linalg.norm(sides, axis=1)
    return triangles[:, ::-1] if float(area @ np.sign(toward)) < 0 else triangles


def welded(triangles: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Vertices (n, 3) and faces (m, 3) of (m, 3, 3) triangles, with equal corners merged."""
    vertices, index = np.unique(triangles.reshape(-1, 3), axis=0, return_inverse=True)
    return vertices, index.reshape(-1, 3).astype(np.int64)


def thinned(
    vertices: NDArray[np.float64], faces: NDArray[np.int64], most: int
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """A mesh of at most `most` triangles: vertices in the same cell are replaced by their mean."""
    if len(faces) <= most:
        return vertices, faces
    corners = vertices[faces]
    sides = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    cell = float(np.sqrt(np.linalg.norm(sides, axis=1).sum() / most))
    while True:
        coarse, kept = _clustered(vertices, faces, cell)
        if len(kept) <= most:
            return coarse, kept
        cell *= 1.2


def _clustered(
    vertices: NDArray[np.float64], faces: NDArray[np.int64], cell: float
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    keys = np.floor((vertices - vertices.min(0)) / cell).astype(np.int64)
    span = keys.max(0) + 1
    _, home = np.unique(
        (keys[:, 0] * span[1] + keys[:, 1]) * span[2] + keys[:, 2], return_inverse=True
    )
    counts = np.bincount(home)
    means = np.stack([np.bincount(home, vertices[:, k]) / counts for k in range(3)], axis=1)
    moved = home[faces]
    a, b, c = moved.T
    whole = moved[(a != b) & (b != c) & (c != a)]
    _, first = np.unique(np.sort(whole, axis=1), axis=0, return_index=True)
    return means, whole[np.sort(first)]


def _modules(result: Result) -> Iterator[Part]:
    for module in result.fit.modules:
        vertices, faces = _box(module.box)
        yield Part(
            name=f"module:{module.name}",
            vertices=vertices,
            faces=faces,
            colour=MODULE_COLOUR,
            extras={"verdict": module.verdict, "mass_kg": module.mass},
        )
        for room in module.service:
            colour = _FAIL_COLOUR if is_short(room) else _SERVICE_COLOUR
            yield _ghost(f"service:{module.name}:{room.face}:{room.kind}", room.box, colour)


def _volumes(result: Result) -> Iterator[Part]:
    for volume in result.space.keep_outs:
        yield _ghost(f"keep_out:{volume.name}", volume.box, _KEEP_OUT_COLOUR)
    for volume in result.space.solids:
        if volume.board is None:
            yield _ghost(f"solid:{volume.name}", volume.box, _KEEP_OUT_COLOUR)
            continue
        vertices, faces = _box(volume.box)
        yield Part(
            name=f"board:{volume.name}",
            vertices=vertices,
            faces=faces,
            colour=BOARD_COLOUR,
            extras={"state": volume.board},
        )


def _ghost(name: str, box: Box, colour: str) -> Part:
    vertices, faces = _box(box)
    return Part(name=name, vertices=vertices, faces=faces, colour=colour, opacity=0.25)


def _box(box: Box) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Four vertices per face, so that each face has its own normal."""
    vertices = box.corners()[np.array(_FACES).reshape(-1)]
    first = 4 * np.arange(6)[:, None]
    return vertices, np.concatenate([first + [0, 1, 2], first + [0, 2, 3]]).astype(np.int64)


def _hoses(result: Result) -> Iterator[Part]:
    for hose in result.routes.hoses:
        if isinstance(hose, HoseRoute):
            yield _hose(result, hose)
        else:
            yield _lost(hose, hose_number(result, hose.line))


def _clips(result: Result) -> Iterator[Part]:
    for hose in result.routes.hoses:
        if isinstance(hose, HoseRoute) and hose.clips:
            blocks = [_box(clip.block(hose.outside_diameter)) for clip in hose.clips]
            yield Part(
                name=f"clips:{hose.line}",
                vertices=np.concatenate([vertices for vertices, _ in blocks]),
                faces=np.concatenate([faces + 24 * n for n, (_, faces) in enumerate(blocks)]),
                colour=CLIP_COLOUR,
                extras={"count": len(hose.clips)},
            )


def _hose(result: Result, hose: HoseRoute) -> Part:
    duty = result.scenario.kit.line(hose.line).duty
    look = DUTY_LOOKS[duty]
    dash = [length * hose.outside_diameter for length in look.dash]
    shape = tube(centre_line(hose.legs, hose.bends), hose.outside_diameter, dash)
    white = np.where(shape.gap, 1.0, 0.0)[:, None]
    return Part(
        name=node_of(hose),
        vertices=shape.vertices,
        faces=shape.faces,
        normals=shape.normals,
        colour="#FFFFFF",
        tints=white * 0.9 + (1 - white) * np.array(linear(look.colour)),
        extras={"number": hose_number(result, hose.line), "duty": duty, "length_m": hose.length},
    )


def _lost(hose: Unrouted, number: int) -> Part:
    """Broken lines from both ports to where the search came closest."""
    corners = np.array([hose.start, hose.nearest_approach, hose.end])
    steps = np.linalg.norm(np.diff(corners, axis=0), axis=1)
    kept = corners[np.concatenate([[True], steps > 1e-6])]
    shape: Tube = tube(kept, hose.outside_diameter, (0.04, 0.04), drawn_only=True)
    return Part(
        name=node_of(hose),
        vertices=shape.vertices,
        faces=shape.faces,
        normals=shape.normals,
        colour=_FAIL_COLOUR,
        extras={"number": number, "missing_m": hose.missing},
    )
