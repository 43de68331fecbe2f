"""The files of a result, and how each is made."""

from __future__ import annotations

import hashlib
from contextlib import suppress
from pathlib import Path

from fitcheck.errors import drawing_fault
from fitcheck.kept import PICTURE, keep_files
from fitcheck.kept.codec import packed
from fitcheck.kept.written import WHOLE
from fitcheck.model.finding import Tell, silent
from fitcheck.model.result import Result
from fitcheck.report import modules, numbers
from fitcheck.report.document.page import page_html
from fitcheck.report.files import replace_all
from fitcheck.report.results.data import as_json
from fitcheck.report.scene.bodies import scene_glb
from fitcheck.report.scene.ply import as_ply
from fitcheck.report.tables import Decimal, Table, as_csv
from fitcheck.units import System


def write_undrawn(
    result: Result, folder: Path, units: System, decimal: Decimal = "point"
) -> tuple[Path, ...]:
    """Write every file that needs no drawing, including the page, before anything is drawn.

    All contents are created before the first file is put in place, so a failure leaves an earlier
    result unchanged. Raises FitcheckError when the folder cannot be written.
    """
    whole = _whole(result)
    missing = ("Picture and scene are not drawn yet.",)
    page = page_html(result, None, None, units, missing, _sealed(whole))
    return replace_all(folder, _undrawn(result, page, whole, units, decimal))


def write_all(
    result: Result,
    folder: Path,
    picture: bytes | None,
    units: System,
    missing: tuple[str, ...] = (),
    tell: Tell = silent,
    decimal: Decimal = "point",
) -> tuple[Path, ...]:
    """Write every file of a result into a folder and return their paths, the page first.

    `picture` is a PNG of the result, None if it could not be drawn; `missing` gives the reasons. A
    scene that cannot be made becomes one line in the page and to `tell`; the other files are
    written. If everything was drawn, the files are cached. Raises FitcheckError when the folder
    cannot be written.
    """
    scene = None
    try:
        scene = scene_glb(result)
    except Exception as error:
        missing = (*missing, drawing_fault("scene", error))
        tell(missing[-1])
    whole = _whole(result)
    page = page_html(result, picture, scene, units, missing, _sealed(whole))
    contents = _undrawn(result, page, whole, units, decimal)
    contents |= {} if scene is None else {"scene.glb": scene}
    if picture is not None and scene is not None and decimal == "point":
        keep_files(result.scenario.inputs, units, contents | {PICTURE: picture})
    return replace_all(folder, contents)


def _whole(result: Result) -> bytes:
    """The whole result as bytes; empty if it cannot be serialised, which must not lose the other
    files.
    """
    with suppress(TypeError, ValueError):
        return packed(result)
    return b""


def _sealed(whole: bytes) -> str:
    """Identification of the result on its page: hash and date."""
    return hashlib.sha256(whole).hexdigest() if whole else ""


def _undrawn(
    result: Result, page: str, whole: bytes, units: System, decimal: Decimal
) -> dict[str, bytes]:
    def sheet(table: Table) -> bytes:
        return as_csv(table, units, decimal).encode("utf-8")

    return {
        "report.html": page.encode("utf-8"),
        "result.json": as_json(result).encode("utf-8"),
        "modules.csv": sheet(modules.module_sheet(result)),
        "hoses.csv": sheet(numbers.hose_sheet(result)),
        "clips.csv": sheet(numbers.clip_table(result)),
        "order.csv": sheet(numbers.order_sheet(result)),
        "compartment.ply": as_ply(result.space.triangles),
    } | ({WHOLE: whole} if whole else {})
