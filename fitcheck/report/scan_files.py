"""The files of a look at a scan."""

from __future__ import annotations

from pathlib import Path

from fitcheck import __version__
from fitcheck.report.files import replace_all
from fitcheck.report.results.json_text import json_text


def write_scan(
    folder: Path, mesh: str, text: str, rows: tuple[tuple[str, str], ...], picture: bytes | None
) -> tuple[Path, ...]:
    """Write scan.txt, scan.json and, where one was drawn, scan.png, all or none of them.

    rows : heading and words of each remark. Raises FitcheckError when the folder cannot be
    written.
    """
    said = [{"about": about, "text": words} for about, words in rows]
    data = {"version": __version__, "mesh": mesh, "remarks": said}
    contents = {
        "scan.txt": text.encode("utf-8"),
        "scan.json": json_text(data).encode(),
    }
    return replace_all(folder, contents if picture is None else contents | {"scan.png": picture})
