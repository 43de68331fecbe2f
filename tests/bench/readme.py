"""The README's pictures of the demo: the answer as printed, and the head of the page.

Usage: python -m tests.bench.readme [FOLDER]. Each PNG holds the hash of the answer it shows, so
that a test can tell when it is out of date (tests/program/test_demo.py). The page is drawn by a
Chromium on the PATH; without one its picture stays as it was.
"""

from __future__ import annotations

import io
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

import matplotlib as mpl
from PIL import Image
from PIL.PngImagePlugin import PngInfo

from fitcheck.cli import main as fitcheck
from fitcheck.kept.written import read_written
from fitcheck.model.result import Result
from tests.specimens.shown import FOLDER, SHOWN, answer, digest

#: Of the page as a browser draws it [px].
SIZE = (1200, 1500)


def main() -> int:
    """Write the pictures."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else FOLDER
    with tempfile.TemporaryDirectory() as name:
        out = Path(name) / "demo"
        fitcheck(["demo", "--out", str(out)])
        result = read_written(out).whole()
        assert result is not None
        pictures: dict[str, Callable[[], bytes | None]] = {
            "answer.png": lambda: draw_text(answer(result)),
            "page.png": lambda: draw_page(out / "report.html"),
        }
        for file, draw in pictures.items():
            if (drawn := draw()) is not None:
                (folder / file).write_bytes(marked(drawn, result))
                print(folder / file)
    return 0


def marked(picture: bytes, result: Result) -> bytes:
    """The same PNG with the hash of the answer it shows."""
    info, stream = PngInfo(), io.BytesIO()
    info.add_text(SHOWN, digest(result))
    Image.open(io.BytesIO(picture)).save(stream, "PNG", pnginfo=info, optimize=True)
    return stream.getvalue()


def draw_text(text: str) -> bytes:
    """Text in a fixed pitch, as a terminal shows it."""
    mpl.use("Agg")
    from matplotlib import pyplot

    lines = text.splitlines()
    figure = pyplot.figure(figsize=(7.0, 0.17 * len(lines)), dpi=110, facecolor="white")
    figure.text(0.0, 1.0, text, family="DejaVu Sans Mono", size=9.5, va="top", linespacing=1.25)
    stream = io.BytesIO()
    figure.savefig(stream, format="png", bbox_inches="tight", pad_inches=0.15)
    pyplot.close(figure)
    return stream.getvalue()


def draw_page(page: Path) -> bytes | None:
    """The head of a page in a browser; None without one."""
    browser = shutil.which("chromium") or shutil.which("chromium-browser")
    if browser is None:
        return None
    with tempfile.TemporaryDirectory() as name:
        shot = Path(name) / "page.png"
        options = (
            "--headless",
            "--no-sandbox",
            "--disable-gpu",
            "--enable-unsafe-swiftshader",
            "--disable-background-networking",
            f"--user-data-dir={name}",
            f"--window-size={SIZE[0]},{SIZE[1]}",
            "--virtual-time-budget=20000",
            f"--screenshot={shot}",
        )
        subprocess.run(
            [browser, *options, page.resolve().as_uri()], check=True, capture_output=True
        )
        return shot.read_bytes()


if __name__ == "__main__":
    raise SystemExit(main())
