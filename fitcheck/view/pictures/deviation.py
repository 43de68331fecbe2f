"""Two meshes compared: the other mesh coloured by how far it is inwards or outwards."""

from __future__ import annotations

import math

import numpy as np
import pyvista as pv
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from fitcheck.model.found.deviation import Deviation, Patch
from fitcheck.model.found.look import MODULE_EDGE_COLOUR
from fitcheck.units import Direction, Metre, System, show
from fitcheck.view.drawn.cameras import BEARINGS, RISES, Field, Outlook, hold
from fitcheck.view.drawn.canvas import Canvas, aim, light
from fitcheck.view.drawn.captions import Tag, Warned
from fitcheck.view.drawn.ground import ground_marks
from fitcheck.view.drawn.key import SHARE, Column
from fitcheck.view.drawn.overlay import INK, TagLayer
from fitcheck.view.drawn.scene import Part
from fitcheck.view.drawn.shapes import box_edges, rgb
from fitcheck.view.pictures.still import FINER, halved, png

Array = NDArray[np.float64]

#: Okabe and Ito's vermillion for less room and blue for more: distinguishable in grey and to any
#: eye.
LESS, MORE, SAME, NOTHING = "#B03A00", "#0072B2", "#C9C9C2", "#FFFFFF"
MOST_TRIANGLES, LONGEST_EDGE = 60_000, 0.05
#: Multiple of the limit at which the colour is full; half of it just beyond the limit.
FULL = 3.0
#: Up to this share of faces may appear reversed at the edges of a consistently wound mesh.
WINDING = 0.2
#: A place further from any measured one has no colour.
NEAR: Metre = 0.08
MOST_TAGS = 8


def render_deviation(found: Deviation, size: tuple[int, int], units: System) -> bytes:
    """The picture as PNG. Only call this where a renderer is known to work."""
    wide, high = size[0] * FINER, size[1] * FINER
    unit = high / 1000
    plotter = pv.Plotter(off_screen=True, window_size=(wide, high), lighting="none")
    plotter.render_window.SetMultiSamples(0)
    plotter.set_background("white")
    light(plotter)
    canvas = Canvas(plotter, unit)
    for part in _parts(found):
        canvas.add(part)
    focus = _focus(found)
    look = _outlook(found)
    marks, names = ground_marks(focus, look, units)
    for part in marks:
        canvas.add(part)
    held = np.vstack([focus, *(part.mesh.points for part in marks)])
    aim(plotter, hold(held, look, Field(right=1 - 2 * SHARE - 0.04, aspect=wide / high)))
    tags = TagLayer(plotter.renderer, unit, (12, 12, SHARE * wide / unit + 12, 12))
    tags.fill((*_tags(found, units), *names), focus[:1])
    Column(plotter.renderer, lambda column: _write(column, found, units))
    pixels = plotter.screenshot(None, return_img=True)
    plotter.close()
    return png(halved(np.asarray(pixels)))


def _parts(found: Deviation) -> list[Part]:
    skin = coloured_skin(found)
    parts = [Part(name="scan", group="scan", mesh=skin, colour=None, one_sided=True, smooth=False)]
    for name, box in found.boxes:
        parts.append(
            Part(
                name=f"edges:{name}",
                group="modules",
                mesh=box_edges(box),
                colour=MODULE_EDGE_COLOUR,
                line_width=1.4,
                lit=False,
                through=True,
            )
        )
    return parts


def coloured_skin(found: Deviation) -> pv.PolyData:
    """The other mesh, its faces turned to the free space, with a colour at every corner."""
    count = len(found.triangles)
    faces = np.insert(np.arange(3 * count).reshape(count, 3), 0, 3, axis=1).ravel()
    mesh = pv.PolyData(found.triangles.reshape(-1, 3), faces)
    mesh = mesh.clean(tolerance=1e-6, absolute=True)
    if count > MOST_TRIANGLES:
        mesh = mesh.decimate(1.0 - MOST_TRIANGLES / count)
    else:
        mesh = mesh.subdivide_adaptive(max_edge_len=LONGEST_EDGE, max_n_passes=8)
    points = np.asarray(mesh.points, dtype=np.float64)
    order = np.asarray(mesh.faces).reshape(-1, 4)[:, 1:]
    tree = cKDTree(found.places)
    corners = points[order]
    square = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    _, near = tree.query(corners.mean(axis=1))
    turned = np.einsum("ni,ni->n", square, found.ways[near]) < 0.0
    if not WINDING < turned.mean() < 1.0 - WINDING:
        # Consistent winding: at edges the mesh is more reliable than the nearest place.
        turned[:] = turned.mean() > 0.5
    order = np.where(turned[:, None], order[:, ::-1], order)
    skin = pv.PolyData(points, np.insert(order, 0, 3, axis=1).ravel())
    skin.point_data["rgb"] = _colours(found, points, tree)
    return skin


def _colours(found: Deviation, points: Array, tree: cKDTree) -> NDArray[np.uint8]:
    distance, near = tree.query(points, k=4)
    off = np.median(found.off[near], axis=1)
    colours = mixed(off, found.limit)
    colours[(distance[:, 0] > NEAR) | (off >= 0.999 * found.farthest)] = rgb(NOTHING)
    return colours


def mixed(off: Array, limit: Metre) -> NDArray[np.uint8]:
    """(n, 3) colours of (n,) signed deviations: grey within the limit, then towards
    full colour.
    """
    share = np.abs(off) / limit
    strength = np.where(share < 1.0, 0.0, np.clip(0.5 + 0.5 * (share - 1) / (FULL - 1), 0.0, 1.0))
    full = np.where((off < 0.0)[:, None], rgb(LESS).astype(float), rgb(MORE).astype(float))
    base = rgb(SAME).astype(float)
    return np.asarray((base + strength[:, None] * (full - base)).round(), dtype=np.uint8)


def _focus(found: Deviation) -> Array:
    """The corners of a box around nearly all places with a surface here close to them."""
    near = found.places[found.off < 0.999 * found.farthest]
    places = near if len(near) else found.places
    low, high = np.quantile(places, [0.002, 0.998], axis=0)
    ends = np.array([low, high])
    return np.array([[ends[x, 0], ends[y, 1], ends[z, 2]] for x, y, z in np.ndindex(2, 2, 2)])


def _outlook(found: Deviation) -> Outlook:
    """The direction from which most places over the limit face the eye."""
    over = (np.abs(found.off) > found.limit) & (found.off < 0.999 * found.farthest)
    inward = np.where(found.off < 0.0, 10.0, 1.0)[over]
    ways = [_way(rise, turn) for rise in RISES for turn in BEARINGS]

    def worth(way: Direction) -> float:
        facing = np.clip(found.ways[over] @ np.asarray(way), 0.0, 1.0)
        return float((facing * inward).sum()) * (1.0 + 0.3 * abs(way[0] * way[1]))

    best = max(ways, key=worth) if over.any() else ways[10]
    return Outlook(towards_eye=best, up=(0.0, 0.0, 1.0), square=False)


def _way(rise: float, turn: float) -> Direction:
    return (
        math.cos(rise) * math.cos(turn),
        math.cos(rise) * math.sin(turn),
        math.sin(rise),
    )


def _tags(found: Deviation, units: System) -> list[Tag]:
    tags = [
        Tag(
            text=f"{number}: {off_words(patch, units)}",
            group="scan",
            anchors=np.array([patch.place]),
            edge_colour=LESS if patch.worst < 0.0 else MORE,
            bold=patch.worst < 0.0,
        )
        for number, patch in enumerate(found.patches[:MOST_TAGS], 1)
    ]
    for name, box in found.boxes:
        top = np.array([[*box.centre[:2], float(box.corners()[:, 2].max())]])
        tags.append(
            Tag(text=name.replace("_", " "), group="modules", anchors=top, edge_colour="#8A8A8A")
        )
    return tags


def off_words(patch: Patch, units: System) -> str:
    """ "18 mm inwards" or "12 mm outwards"."""
    way = "inwards" if patch.worst < 0.0 else "outwards"
    return f"{show(abs(patch.worst), 'length', units)} {way}"


def _write(column: Column, found: Deviation, units: System) -> None:
    column.title(found.there, 22, INK)
    column.title(f"against {found.here}", 16, INK, 40)
    column.skip(14)
    if not found.registration.trusted:
        column.title("NOT RELIABLE", 18, LESS)
        column.skip(8)
    limit = show(found.limit, "length", units)
    column.swatch(f"less room, over {limit}", LESS, filled=True)
    column.swatch("within that", SAME, filled=True)
    column.swatch(f"more room, over {limit}", MORE, filled=True)
    column.swatch("nothing to compare with", "#8A8A8A", filled=False)
    column.skip(16)
    rows = [
        f"{number}  {off_words(patch, units)}, {show(patch.area, 'm2', units)}"
        + (f", by {patch.beside[0].replace('_', ' ')}" if patch.beside else "")
        for number, patch in enumerate(found.patches[:16], 1)
    ]
    column.lines(rows or ["No area over the limit."])
    if len(found.patches) > 16:
        column.lines([f"and {len(found.patches) - 16} more in the table"])
    changes = [change for change in found.modules if change.here != change.there]
    if changes:
        column.skip(14)
        column.title("Modules that fit differently", 16, INK, 40)
        column.lines(
            [
                Warned(f"X {change.name}: {change.here} here, {change.there} there")
                for change in changes
            ]
        )
