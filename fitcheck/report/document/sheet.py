"""The frame of a page without a scene."""

from __future__ import annotations

from html import escape
from string import Template

from fitcheck import __version__
from fitcheck.report.document.parts import resource, text


def sheet(maker: str, name: str, about: str, verdict: str, sections: str) -> str:
    """A whole page; `verdict` and `sections` are HTML, the rest is text."""
    return Template(resource("sheet.html")).substitute(
        version=escape(__version__),
        title=text(f"fitcheck: {name}"),
        css=resource("page.css") + resource("sheet.css"),
        maker=text(maker),
        name=text(name),
        about=text(about),
        verdict=verdict,
        sections=sections,
    )
