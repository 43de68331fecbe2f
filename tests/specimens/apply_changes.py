"""Apply remedies to scenario files, as a user with an editor would."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from fitcheck.scenario.keys import set_key


def apply_changes(changes: Iterable[Mapping[str, Any]], folder: Path) -> None:
    """Write each change {file, key, value} into its file.

    file is relative to the current folder; a file of that name in `folder` takes precedence.
    """
    for change in changes:
        path = folder / Path(str(change["file"])).name
        path = path if path.exists() else Path(str(change["file"]))
        text = path.read_text("utf-8").replace("\r\n", "\n")
        path.write_text(
            set_key(text, tuple(str(change["key"]).split(".")), change["value"]), "utf-8"
        )
