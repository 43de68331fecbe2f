"""The three pictures of the field guide in the README, made from a simulated phone scan.

Usage: python -m tests.bench.guide [FOLDER]. One locker under a berth, scanned from the hatch
alone and then from all round inside, and the same scan with its tape measures and waterline marks.
"""

from __future__ import annotations

import sys
import tempfile
from dataclasses import replace
from pathlib import Path

import numpy as np
import pyvista as pv
from numpy.typing import NDArray

from fitcheck.model.found.look import SCAN_COLOUR, UNSEEN_COLOUR
from fitcheck.model.found.space import FREE, Space
from fitcheck.space import survey
from fitcheck.units import show
from fitcheck.view.drawn.cameras import Outlook
from fitcheck.view.drawn.captions import Tag
from fitcheck.view.drawn.key import Column
from fitcheck.view.drawn.overlay import INK
from fitcheck.view.drawn.scene import Part
from fitcheck.view.drawn.shapes import joined
from fitcheck.view.drawn.skin import scan_skin, unseen_skin
from fitcheck.view.pictures.scan_still import EYE_COLOUR
from tests import specimens
from tests.bench.stills import render
from tests.scans.fusion import fuse
from tests.scans.scan import Scan, make_scan
from tests.scans.seeds import tuning_seed

Array = NDArray[np.float64]
SHAPE, SEED, SEVERITY = "locker", 3, "light"
TAPE_COLOUR, SEA_COLOUR = "#B8860B", "#0B7A75"
#: A compartment is drawn from this side, from above.
OUTLOOK = Outlook(towards_eye=(0.45, -0.62, 0.64), up=(0.0, 0.0, 1.0), square=False)


def main() -> int:
    """Write the pictures."""
    folder = Path(sys.argv[1] if len(sys.argv) > 1 else ".pictures")
    whole = make_scan(SHAPE, tuning_seed(SEED), SEVERITY)
    space, tapes, marks = surveyed(whole)
    hurried, _, _ = surveyed(from_the_hatch(whole))
    framed = space.triangles.reshape(-1, 3)
    for name, drawn in (
        ("scan_hatch.png", draw(hurried, "From the hatch alone", framed)),
        ("scan_round.png", draw(space, "From all round inside", framed)),
        ("scan_marks.png", draw_marks(space, framed, tapes, marks)),
    ):
        (folder / name).write_bytes(drawn)
    print(f"free: {free(hurried):.0f} L from the hatch, {free(space):.0f} L from all round")
    return 0


def from_the_hatch(scan: Scan) -> Scan:
    """The scan if the phone is only held above the hatch."""
    bay = scan.truth.bay
    pictures = [one for one in scan.pictures if one.pose.eye[2] > bay.under]
    top = np.array([bay.high[0], bay.high[1], bay.over + 0.3])
    surface = fuse(pictures, bay.low - 0.25, top + np.array([0.25, 0.25, 0.0]))
    triangles = np.ascontiguousarray(scan.truth_to_mesh(surface))
    places = scan.truth_to_mesh(np.array([one.pose.eye for one in pictures]))
    return replace(scan, triangles=triangles, viewpoints=places[:: max(1, len(places) // 6)])


def surveyed(scan: Scan) -> tuple[Space, list[tuple[Array, Array, float]], Array]:
    """The program's own view of a scan; tape measures and waterline marks in the boat frame."""
    with tempfile.TemporaryDirectory() as folder:
        boat = scan.boat(Path(folder) / "scan.ply")
        space = survey(specimens.scenario(boat, layout=specimens.layout(pitch=0.015)))
    turn, shift = np.array(space.frame.turn), np.array(space.frame.shift)

    def placed(points: object) -> Array:
        return space.frame.scale * np.asarray(points) @ turn.T + shift

    tapes = [(placed(tape.start), placed(tape.end), tape.length) for tape in scan.tapes]
    return space, tapes, placed(scan.waterline)


def free(space: Space) -> float:
    """Litres that count as free."""
    return float((space.label == FREE).sum()) * 1e3 * space.grid.pitch**3


def draw(space: Space, title: str, framed: Array) -> bytes:
    """Draw surfaces, unseen space, and the phone positions."""

    def write(column: Column) -> None:
        column.title(title, 20, INK, 24)
        column.skip(8)
        column.swatch("surface", SCAN_COLOUR, filled=True)
        column.swatch("not seen", UNSEEN_COLOUR, filled=True)
        column.swatch("phone held here", EYE_COLOUR, filled=True)
        column.skip(10)
        column.lines([f"{free(space):.0f} L count as free."])

    balls = [pv.Sphere(radius=0.016, center=eye) for eye in space.viewpoints]
    hidden = unseen_skin(space)
    skin = [
        Part(name="scan", group="scan", mesh=scan_skin(space), colour=SCAN_COLOUR, one_sided=True),
        Part(name="eyes", group="ground", mesh=joined(balls), colour=EYE_COLOUR, through=True),
    ]
    if hidden.n_cells:
        skin.append(
            Part(
                name="unseen",
                group="unseen",
                mesh=hidden,
                colour=UNSEEN_COLOUR,
                opacity=0.5,
                lit=False,
                hatched=True,
            )
        )
    return render(framed, skin, [], write, OUTLOOK)


def draw_marks(
    space: Space, framed: Array, tapes: list[tuple[Array, Array, float]], marks: Array
) -> bytes:
    """The surfaces with tape measures from point to point and marks of the waterline."""
    lines = joined([pv.Tube(pointa=a, pointb=b, radius=0.005) for a, b, _ in tapes])
    ends = joined([pv.Sphere(radius=0.012, center=p) for a, b, _ in tapes for p in (a, b)])
    dots = joined([pv.Sphere(radius=0.014, center=mark) for mark in marks])
    parts = [
        Part(name="scan", group="scan", mesh=scan_skin(space), colour=SCAN_COLOUR, one_sided=True),
        Part(name="tapes", group="ground", mesh=lines, colour=TAPE_COLOUR, through=True),
        Part(name="ends", group="ground", mesh=ends, colour=TAPE_COLOUR, through=True),
        Part(name="marks", group="ground", mesh=dots, colour=SEA_COLOUR, through=True),
    ]
    tags = [
        Tag(
            text=show(length, "length"),
            group="ground",
            anchors=np.array([(a + b) / 2, (a + b) / 2]),
            edge_colour=TAPE_COLOUR,
        )
        for a, b, length in tapes
    ]

    def write(column: Column) -> None:
        column.title("What to measure", 20, INK, 24)
        column.skip(8)
        column.swatch("tape measure", TAPE_COLOUR, filled=True)
        column.swatch("waterline mark", SEA_COLOUR, filled=True)
        column.skip(10)
        column.lines(
            [
                "Long ones, in different directions, between points the scan holds.",
                "Marks far apart fore and aft and across.",
            ]
        )

    return render(framed, parts, tags, write, OUTLOOK)


if __name__ == "__main__":
    sys.exit(main())
