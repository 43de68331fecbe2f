"""Label every cell free, solid or unseen."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from fitcheck.geometry.box import Box
from fitcheck.geometry.grid import Grid
from fitcheck.model.finding import Tell, silent
from fitcheck.model.found.space import FREE, SOLID, UNSEEN
from fitcheck.space.cells.agreement import NET_FRONTS, agreed, net_fronts
from fitcheck.space.cells.looks import look_around
from fitcheck.space.cells.openings import Opening, connected, touches_rim, widest_opening
from fitcheck.space.cells.rays import Rays, passed_by
from fitcheck.space.cells.sight import Scene, facing_sign, seen_by
from fitcheck.units import Metre, Ratio

Cell = tuple[int, int, int]

#: Minimum agreement of the lines of sight on the outer side of a surface; below it fronts and
#: backs are not distinguished.
CLEAR_FACING: Ratio = 0.5
#: Share of backs around a cell from which it counts as inside a body.
BACK_SHARE: Ratio = 0.2
#: Viewpoints below which no cell of a scan is proven.
SEVERAL = 2
#: Maximum distance from the inside point to the seen compartment [m].
NEAR_START: Metre = 0.25


@dataclass(frozen=True, eq=False, kw_only=True)
class Matter:
    """Obstacles in the grid, all grid.shape bool.

    surface : cells triangles touch; lid : cells declared lids touch; block : cells of declared
    solids; allowed : cells inside the crop and not on the rim
    """

    grid: Grid
    surface: NDArray[np.bool_]
    lid: NDArray[np.bool_]
    block: NDArray[np.bool_]
    allowed: NDArray[np.bool_]

    @property
    def solid(self) -> NDArray[np.bool_]:
        """Everything that stops a fill."""
        return self.surface | self.lid | self.block


@dataclass(frozen=True, eq=False, kw_only=True)
class Labelling:
    """The labels and how they were found.

    glimpsed : unseen cells that viewpoints saw, but not all lines of sight around them agree
    opening : widest opening of the compartment, None if it is closed
    facing : sign that turns the mesh's normals to the viewer, 0 if they disagree
    trapped : largest closed pocket that does not contain the inside point [cells]
    eyes, needed : viewpoints used, and how many had to see a cell; frames : of measured rays
    """

    label: NDArray[np.uint8]
    glimpsed: NDArray[np.bool_]
    opening: Opening | None
    facing: Ratio
    trapped: int
    eyes: int
    needed: int
    frames: int = 0

    @property
    def as_seen(self) -> NDArray[np.uint8]:
        """The labels with glimpsed cells free."""
        return np.where(self.glimpsed, np.uint8(FREE), self.label)


def needed_eyes(eyes: int, *, told_apart: bool) -> int:
    """How many viewpoints must have seen a cell.

    One line of sight may slip in through a missing face and out through another; two doing so is
    rare where all lines around a cell must agree as well. If fronts and backs cannot be
    distinguished, a third viewpoint is required instead.
    """
    return min(eyes, 2 if told_apart or eyes < 10 else 3)


@dataclass(frozen=True, eq=False, kw_only=True)
class Evidence:
    """From where a mesh was seen.

    eyes : (n, 3) viewpoints, none of them in a surface [m]; rays : measured rays of the file
    scan : the mesh was measured; cloud : it is points, whose sides no file gives, so that a third
    viewpoint takes the place of fronts
    """

    eyes: NDArray[np.float64]
    rays: Rays | None = None
    scan: bool = True
    cloud: bool = False


def label_seen(
    matter: Matter, scene: Scene, start: Cell, given: Evidence, tell: Tell = silent
) -> Labelling:
    """Label an open mesh: free is what was seen often enough, connected to the start cell.

    Measured rays of two frames prove a cell with fronts around it. Viewpoints of a scan do only if
    the lines of sight through the cell agree as well. Others that two viewpoints saw, or rays of
    two frames with half as many fronts around, are glimpsed, and so is everything where fronts and
    backs cannot be distinguished, or where there is only one viewpoint.
    """
    eyes = given.eyes
    stands = eyes if given.rays is None else np.concatenate([eyes, given.rays.stations])
    sign, clear = facing_sign(scene, stands)
    sign = sign if clear >= CLEAR_FACING else 0.0
    clear_cells = ~matter.solid
    reached = connected(clear_cells, start)
    opening = None
    if touches_rim(reached):
        opening = widest_opening(matter.grid, clear_cells, start)
    candidates = np.argwhere(reached & matter.allowed)
    needed = needed_eyes(len(eyes), told_apart=sign != 0.0)
    looks = look_around(scene, sign, tell) if sign != 0.0 else None
    proven, maybe = np.zeros((2, *matter.grid.shape), dtype=np.bool_)
    if len(eyes):
        seen = seen_by(scene, candidates, eyes, sign, needed, tell)
        good, enough = candidates[seen.times > 0], seen.times[seen.times > 0] >= needed
        agree = np.ones(len(good), dtype=np.bool_)
        if looks is not None and len(good):
            agree = agreed(matter.grid, good, seen, looks, eyes=len(eyes), scan=given.scan)
        if given.scan and ((sign == 0.0 and not given.cloud) or len(eyes) < SEVERAL):
            agree[:] = False
        maybe = _marked(matter.grid, good[enough])
        proven = _marked(matter.grid, good[enough & agree])
    if given.rays is not None:
        frames = passed_by(scene, candidates, given.rays, SEVERAL, tell)
        good = candidates[frames >= SEVERAL]
        if looks is not None:
            net = net_fronts(matter.grid, good, looks)
            proven |= _marked(matter.grid, good[net >= NET_FRONTS])
            good = good[net >= 0.5 * NET_FRONTS]
        maybe |= _marked(matter.grid, good)
    if looks is not None:
        behind = looks.among_backs(BACK_SHARE) & maybe
        proven &= ~_hanging_on(behind & proven, proven)
        maybe &= ~_hanging_on(behind, maybe)
    free = _compartment(matter.grid, proven, start)
    label = np.full(matter.grid.shape, UNSEEN, dtype=np.uint8)
    label[matter.solid] = SOLID
    label[free] = FREE
    glimpsed = np.zeros_like(free)
    if given.scan:
        glimpsed = _compartment(matter.grid, maybe | free, start) & ~free
    return Labelling(
        label=label,
        glimpsed=glimpsed,
        opening=opening,
        facing=sign,
        trapped=0,
        eyes=len(eyes),
        needed=needed,
        frames=0 if given.rays is None else len(given.rays.stations),
    )


def _compartment(grid: Grid, seen: NDArray[np.bool_], start: Cell) -> NDArray[np.bool_]:
    """The largest connected region of seen cells near the start cell, which may itself
    be unseen.
    """
    names, count = ndimage.label(seen)
    reach = max(1, round(NEAR_START / grid.pitch))
    window = tuple(slice(max(0, at - reach), at + reach + 1) for at in start)
    near = np.unique(names[window])
    near = near[near > 0]
    if len(near) == 0:
        return np.zeros_like(seen)
    sizes = np.bincount(names.ravel(), minlength=count + 1)
    result: NDArray[np.bool_] = names == near[sizes[near].argmax()]
    return result


def _marked(grid: Grid, cells: NDArray[np.int64]) -> NDArray[np.bool_]:
    mask = np.zeros(grid.shape, dtype=np.bool_)
    mask[tuple(cells.T)] = True
    return mask


def _hanging_on(mask: NDArray[np.bool_], seen: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """The clusters of a mask that touch anything but seen cells.

    Backs all around mean the inside of a body, and a body has faces; a few cells in mid-air that
    happen to see only backs have seen space on every side.
    """
    names, count = ndimage.label(mask, structure=np.ones((3, 3, 3)))
    touching = ndimage.binary_dilation(~seen, structure=np.ones((3, 3, 3)))
    kept = np.zeros(count + 1, dtype=np.bool_)
    kept[np.unique(names[touching & mask])] = True
    kept[0] = False
    result: NDArray[np.bool_] = kept[names]
    return result


def label_closed(matter: Matter, scene: Scene, start: Cell) -> Labelling | None:
    """Label a closed mesh: free is what a flood fill from the start reaches. None if it leaks out.

    Closed pockets the fill does not reach are the inside of bodies and count as solid; whatever is
    connected to the rim of the grid is outside the compartment and stays unseen.
    """
    clear = ~matter.solid
    reached = connected(clear & matter.allowed, start)
    rim = clear & ~matter.allowed
    if (reached & grown_by_one(rim)).any():
        return None
    label = np.full(matter.grid.shape, SOLID, dtype=np.uint8)
    label[_outside(clear, rim)] = UNSEEN
    trapped = _largest_pocket((label == SOLID) & clear & ~reached)
    label[reached] = FREE
    centre = matter.grid.centre(np.array(start))[None]
    sign, clarity = facing_sign(scene, centre)
    return Labelling(
        label=label,
        glimpsed=np.zeros_like(reached),
        opening=None,
        facing=sign if clarity >= CLEAR_FACING else 0.0,
        trapped=trapped,
        eyes=0,
        needed=0,
    )


def declare_free(
    labelling: Labelling, grid: Grid, boxes: tuple[Box, ...], allowed: NDArray[np.bool_]
) -> int:
    """Turn unseen cells whose centre is in a declared box into free ones; return their number."""
    turned, label = 0, labelling.label
    for box in boxes:
        chosen = cells_of(grid, box) & (label == UNSEEN) & allowed
        label[chosen] = FREE
        labelling.glimpsed[chosen] = False
        turned += int(chosen.sum())
    return turned


def cells_of(grid: Grid, box: Box, *, touched: bool = False) -> NDArray[np.bool_]:
    """Cells whose centre is in an upright box, or all it touches. grid.shape bool."""
    reach = np.array(box.half) + (0.5 * grid.pitch if touched else 0.0) + 1e-6 * grid.pitch
    mask = np.zeros(grid.shape, dtype=np.bool_)
    low = (np.array(box.centre) - reach - np.array(grid.origin)) / grid.pitch - 0.5
    high = (np.array(box.centre) + reach - np.array(grid.origin)) / grid.pitch - 0.5
    first = np.clip(np.ceil(low), 0, grid.shape).astype(int)
    last = np.clip(np.floor(high), -1, np.array(grid.shape) - 1).astype(int)
    mask[tuple(slice(a, b + 1) for a, b in zip(first, last, strict=True))] = True
    return mask


def grown_by_one(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """The mask and every cell that shares a face with it."""
    result = mask.copy()
    for axis in range(3):
        ahead, behind = [slice(None)] * 3, [slice(None)] * 3
        ahead[axis], behind[axis] = slice(1, None), slice(None, -1)
        result[tuple(ahead)] |= mask[tuple(behind)]
        result[tuple(behind)] |= mask[tuple(ahead)]
    return result


def within(label: NDArray[np.uint8]) -> NDArray[np.bool_]:
    """Cells that are inside the compartment as far as is known.

    There is something known (free or solid) on both sides along at least two of the three axes: a
    shadow behind a box is inside, the air behind the hull is not.
    """
    known = label != UNSEEN
    votes = np.zeros(label.shape, dtype=np.uint8)
    for axis in range(3):
        before = np.logical_or.accumulate(known, axis=axis)
        after = np.flip(np.logical_or.accumulate(np.flip(known, axis), axis=axis), axis)
        votes += before & after
    result: NDArray[np.bool_] = votes >= 2
    return result


def _outside(clear: NDArray[np.bool_], rim: NDArray[np.bool_]) -> NDArray[np.bool_]:
    names, _ = ndimage.label(clear)
    touching = np.unique(names[rim])
    result: NDArray[np.bool_] = np.isin(names, touching[touching > 0])
    return result


def _largest_pocket(mask: NDArray[np.bool_]) -> int:
    names, count = ndimage.label(mask)
    return int(np.bincount(names.ravel())[1:].max()) if count else 0
