"""The files of a deviation."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Any

from fitcheck import __version__
from fitcheck.deviation import words
from fitcheck.deviation.page import deviation_html
from fitcheck.model.found.deviation import Deviation
from fitcheck.report.files import replace_all
from fitcheck.report.results.json_text import json_text
from fitcheck.report.results.said import assumption_data, finding_data
from fitcheck.report.scene.ply import as_ply
from fitcheck.report.tables import as_csv
from fitcheck.units import System


def write_deviation(
    found: Deviation, folder: Path, picture: bytes | None, units: System
) -> tuple[Path, ...]:
    """Write page, tables, data and the other mesh in the boat frame, all or none of them.

    Raises FitcheckError when the folder cannot be written.
    """
    contents = {
        "deviation.html": deviation_html(found, picture, units).encode("utf-8"),
        "deviation.json": json_text(_data(found)).encode(),
        "places.csv": as_csv(words.patch_table(found, units, most=None), units).encode("utf-8"),
        "faces.csv": as_csv(words.face_table(found, units, everything=True), units).encode(
            "utf-8"
        ),
        "other.ply": as_ply(found.triangles),
    }
    if picture is not None:
        contents["deviation.png"] = picture
    return replace_all(folder, contents)


def _data(found: Deviation) -> dict[str, Any]:
    """deviation.json: SI, boat frame."""
    laid = found.registration
    return {
        "version": __version__,
        "here": found.here,
        "there": found.there,
        "verdict": found.verdict,
        "trusted": laid.trusted,
        "limit": found.limit,
        "registration": {
            "similarity": asdict(laid.similarity),
            "scale_kept": laid.scale_kept,
            "declared_scale": laid.declared_scale,
            "scale_uncertainty": laid.scale_uncertainty,
            "middle": laid.middle,
            "reach": laid.reach,
            "covariance": laid.covariance.tolist(),
            "noise": laid.noise,
            "covered": laid.covered,
            "covers": laid.covers,
            "pair_spread": laid.pair_spread,
            "pairs": [asdict(pair) for pair in laid.pairs],
            "free": [{"words": row.words, "held": row.held} for row in laid.free],
        },
        "places": [asdict(patch) for patch in found.patches],
        "modules": [asdict(change) for change in found.modules],
        "findings": [finding_data(row) for row in found.findings],
        "assumptions": [assumption_data(row) for row in found.assumptions],
        "inputs": [asdict(one) for one in found.inputs],
    }
