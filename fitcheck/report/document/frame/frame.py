"""The frame of every page: title, opening, contents, sections, footer."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from importlib.resources import files
from string import Template

from fitcheck import __version__
from fitcheck.report.document.parts import Section, contents, sections_html, text


def resource(name: str) -> str:
    """A file of this room."""
    return (files("fitcheck.report.document.frame") / name).read_text("utf-8")


def frame(
    maker: str,
    name: str,
    about: str,
    opening: str,
    sections: Sequence[Section],
    *,
    stage: str = "",
    seal: str = "",
    notice: str = "",
    scripts: str = "",
) -> str:
    """A whole page; `opening`, `stage` and `scripts` are HTML, the rest is text."""
    return Template(resource("frame.html")).substitute(
        version=escape(__version__),
        title=text(f"fitcheck: {name}"),
        css=resource("page.css"),
        maker=text(maker),
        name=text(name),
        about=text(about),
        opening=opening,
        contents=contents(sections, scene=bool(stage)),
        stage=stage,
        sections=sections_html(sections),
        seal=text(seal),
        notice=text(notice),
        fold=resource("fold.js"),
        scripts=scripts,
    )
