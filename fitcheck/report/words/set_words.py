"""Text on a set of files."""

from __future__ import annotations

from fitcheck.report.files import FileSet


def set_words(found: FileSet) -> str:
    """One line on a set of files."""
    said = {
        "whole": f"complete, {found.count} files of one run",
        "mixed": "mixed, not the files of one run",
        "unfinished": "unfinished, a newer set is ready but cannot be moved into place; check "
        "that the folder can be written",
    }.get(found.state, "")
    if found.missing:
        said += f"; missing: {', '.join(found.missing)}"
    if found.changed:
        said += f"; changed since they were written: {', '.join(found.changed)}"
    if found.state == "mixed":
        said += "; run the command that wrote them again"
    if found.finished:
        said += "; a run was stopped while moving them into place; the rest has been moved now"
    if found.given_up:
        said += "; a later run was stopped before its files were complete; it is ignored"
    return said
