"""Depth images to a mesh: weighted truncated signed distances, the zero surface, fewer triangles.

Weights fall with range and behind the surface and are capped, so that the last images count most;
surface and decimation (quadric error) are those of VTK.
"""

from __future__ import annotations

import numpy as np
import pyvista
from numba import njit
from numpy.typing import NDArray

from tests.scans.second.phone import FARTHEST, HALF, TALL, WIDE, Image
from tests.scans.second.solids import Floats

EDGE = 0.015
TRUNCATION = 0.05
#: Weight at which the past stops to gain on the present.
MOST = 12.0


class Volume:
    """Signed distances over truncation and their weights between two corners [m]."""

    def __init__(self, low: Floats, high: Floats) -> None:
        self.low = np.asarray(low, dtype=np.float64)
        count = np.ceil((high - self.low) / EDGE).astype(int)
        self.value: NDArray[np.float32] = np.ones(count, dtype=np.float32)
        self.weight: NDArray[np.float32] = np.zeros(count, dtype=np.float32)

    def add(self, image: Image) -> None:
        """Take in one image from where the phone thinks it was."""
        eye, turn = image.believed.eye, image.believed.turn
        held = np.nan_to_num(image.range, nan=-1.0)
        far = min(float(held.max()) + TRUNCATION, FARTHEST)
        corners = np.array([[x * HALF[0], y * HALF[1], 1.0] for x in (-1, 1) for y in (-1, 1)])
        reach = np.vstack([eye, eye + far * corners @ turn])
        size = self.value.shape
        first = np.clip(((reach.min(axis=0) - self.low) / EDGE).astype(int), 0, size)
        last = np.clip(np.ceil((reach.max(axis=0) - self.low) / EDGE).astype(int) + 1, 0, size)
        part = tuple(slice(a, b) for a, b in zip(first, last, strict=True))
        low = self.low + EDGE * first
        _add(self.value[part], self.weight[part], low, EDGE, TRUNCATION, eye, turn, held, *HALF)

    def lump(self, centre: Floats, radius: float, rng: np.random.Generator) -> None:
        """A body of noise about a place, its radius uneven."""
        reach = 1.3 * radius + TRUNCATION
        first = np.clip(((centre - reach - self.low) / EDGE).astype(int), 0, self.value.shape)
        last = np.clip(((centre + reach - self.low) / EDGE).astype(int), 0, self.value.shape)
        part = tuple(slice(a, b) for a, b in zip(first, last, strict=True))
        if min(self.value[part].shape) == 0:
            return
        index = np.stack(np.meshgrid(*[np.arange(a, b) for a, b in zip(first, last, strict=True)],
                                     indexing="ij"), axis=-1)  # fmt: skip
        off = self.low + EDGE * (index + 0.5) - centre
        waves = np.sin(off @ rng.normal(0.0, 2.0 / radius, (3, 4)) + rng.uniform(0, 6, 4))
        gap = np.linalg.norm(off, axis=-1) - radius * (0.7 + 0.15 * waves.sum(axis=-1))
        field = np.clip(gap / TRUNCATION, -1.0, 1.0)
        near = gap < TRUNCATION
        self.value[part] = np.where(near, np.minimum(self.value[part], field), self.value[part])
        self.weight[part] = np.where(near, np.maximum(self.weight[part], 4.0), self.weight[part])

    def surface(self, least: float, keep: float) -> Floats:
        """(n, 3, 3) where the sign changes between cells that all weigh `least` or more."""
        grid = pyvista.ImageData(dimensions=self.value.shape, spacing=(EDGE,) * 3,
                                 origin=self.low + EDGE / 2)  # fmt: skip
        grid["value"] = self.value.ravel(order="F")
        shell = grid.contour([0.0], scalars="value", method="flying_edges")
        known = self.weight >= least
        whole = known[:-1] & known[1:]
        whole = whole[:, :-1] & whole[:, 1:]
        whole = whole[:, :, :-1] & whole[:, :, 1:]
        faces = shell.regular_faces
        if len(faces) == 0:
            return np.empty((0, 3, 3))
        middle = np.asarray(shell.points)[faces].mean(axis=1)
        cell = ((middle - self.low) / EDGE - 0.5).astype(int)
        cell = np.clip(cell, 0, np.array(whole.shape) - 1)
        faces = faces[whole[tuple(cell.T)]]
        if len(faces) == 0:
            return np.empty((0, 3, 3))
        used, faces = np.unique(faces, return_inverse=True)
        faces = faces.reshape(-1, 3)
        whole_faces = (faces != np.roll(faces, 1, axis=1)).all(axis=1)
        shown = pyvista.PolyData.from_regular_faces(
            np.asarray(shell.points)[used], faces[whole_faces]
        )
        fewer = shown.decimate(1.0 - keep)
        triangles = np.asarray(fewer.points, dtype=np.float64)[fewer.regular_faces]
        area = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
        return np.ascontiguousarray(triangles[np.linalg.norm(area, axis=1) > 1e-10])


@njit(cache=True, nogil=True)
def _add(value, weight, low, edge, truncation, eye, turn, image, half_wide, half_tall):  # type: ignore[no-untyped-def]
    for i in range(value.shape[0]):
        x = low[0] + (i + 0.5) * edge - eye[0]
        for j in range(value.shape[1]):
            y = low[1] + (j + 0.5) * edge - eye[1]
            for k in range(value.shape[2]):
                z = low[2] + (k + 0.5) * edge - eye[2]
                ahead = turn[2, 0] * x + turn[2, 1] * y + turn[2, 2] * z
                if ahead < 0.02:
                    continue
                across = (turn[0, 0] * x + turn[0, 1] * y + turn[0, 2] * z) / (ahead * half_wide)
                up = (turn[1, 0] * x + turn[1, 1] * y + turn[1, 2] * z) / (ahead * half_tall)
                if abs(across) >= 1.0 or abs(up) >= 1.0:
                    continue
                row = min(int((1.0 - up) * 0.5 * TALL), TALL - 1)
                column = min(int((1.0 + across) * 0.5 * WIDE), WIDE - 1)
                measured = image[row, column]
                if measured < 0.0:
                    continue
                gap = measured - np.sqrt(x * x + y * y + z * z)
                if gap < -truncation:
                    continue
                more = 1.0 / max(1.0, measured * measured)
                if gap < 0.0:
                    more *= 1.0 + 0.7 * gap / truncation
                old = weight[i, j, k]
                value[i, j, k] = (old * value[i, j, k] + more * min(gap / truncation, 1.0)) / (
                    old + more
                )
                weight[i, j, k] = min(old + more, MOST)


def fuse(
    images: list[Image],
    low: Floats,
    high: Floats,
    lumps: list[tuple[Floats, float]],
    least: float,
    keep: float,
    rng: np.random.Generator,
) -> tuple[Floats, Floats]:
    """The surface of the way through, and a second coat from the part that goes over it again."""
    coats = []
    for again in (False, True):
        held = Volume(low, high)
        for image in images:
            if image.again == again:
                held.add(image)
        for centre, radius in () if again else lumps:
            held.lump(centre, radius, rng)
        coats.append(held.surface(least, keep))
    return coats[0], coats[1]
