"""The result shown in the README's pictures of the demo, and its hash stored in each of them."""

from __future__ import annotations

import hashlib
from pathlib import Path

from fitcheck.model.result import Result
from fitcheck.report import first_screen
from tests import ROOT

FOLDER = ROOT / ".pictures"
#: The key of the hash among the texts of a PNG.
SHOWN = "answer-sha256"
#: Pictures of the demo; those of the scanning guide show no result.
PICTURES = ("answer.png", "page.png")


def answer(result: Result) -> str:
    """The answer as `fitcheck demo` prints it into its usual folder."""
    return first_screen(result, [Path("fitcheck-out/demo/report.html")], "metric")


def digest(result: Result) -> str:
    """Hash of the answer."""
    return hashlib.sha256(answer(result).encode()).hexdigest()
