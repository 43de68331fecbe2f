"""The files of a result, and how each is made."""

from __future__ import annotations

from pathlib import Path

from fitcheck.model.result import Result
from fitcheck.report import numbers
from fitcheck.report.data import as_json
from fitcheck.report.files import replace_all
from fitcheck.report.page import page_html
from fitcheck.report.ply import as_ply
from fitcheck.report.scene import scene_glb
from fitcheck.report.tables import as_csv
from fitcheck.units import System


def write_all(
    result: Result, folder: Path, picture: bytes | None, units: System
) -> tuple[Path, ...]:
    """Write every file of a result into a folder and return their paths, the page first.

    `picture` is a PNG of the result, None where nothing could draw one. Every file is made before
    the first is put in place, so a failure leaves an earlier result as it was.
    Raises FitcheckError when the folder cannot be written.
    """
    scene = scene_glb(result)
    contents = {
        "report.html": page_html(result, picture, scene, units).encode("utf-8"),
        "result.json": as_json(result).encode("utf-8"),
        "hoses.csv": as_csv(numbers.hose_sheet(result), units).encode("utf-8"),
        "clips.csv": as_csv(numbers.clip_table(result), units).encode("utf-8"),
        "order.csv": as_csv(numbers.order_sheet(result), units).encode("utf-8"),
        "compartment.ply": as_ply(result.space.triangles),
        "scene.glb": scene,
    }
    return replace_all(folder, contents)
