"""The frame of a page without a scene, and the parts such pages share."""

from __future__ import annotations

import base64
from html import escape
from importlib.resources import files
from string import Template

from fitcheck import __version__
from fitcheck.report.tables import plain


def sheet(maker: str, name: str, about: str, verdict: str, sections: str) -> str:
    """A whole page; `verdict` and `sections` are HTML, the rest is text."""
    return Template(_resource("sheet.html")).substitute(
        version=escape(__version__),
        title=text(f"fitcheck: {name}"),
        css=_resource("page.css") + _resource("sheet.css"),
        maker=text(maker),
        name=text(name),
        about=text(about),
        verdict=verdict,
        sections=sections,
    )


def section(name: str, heading: str, content: str) -> str:
    """A part of the page under a heading, "" when there is nothing in it."""
    if not content:
        return ""
    return (
        f'<section id="{name}" aria-labelledby="{name}-heading">\n'
        f'<h2 id="{name}-heading">{text(heading)}</h2>\n{content}\n</section>\n'
    )


def image(png: bytes, told: str) -> str:
    """A picture that stands in the page itself."""
    data = base64.b64encode(png).decode("ascii")
    return f'<img alt="{text(told)}" src="data:image/png;base64,{data}">'


def text(content: str) -> str:
    """Text from anywhere, safe inside an element or a quoted attribute."""
    return escape(plain(content), quote=True)


def _resource(name: str) -> str:
    return (files("fitcheck.report.document") / name).read_text("utf-8")
