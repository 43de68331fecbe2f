"""deviation.html: one mesh laid on another, the picture first, then what was found."""

from __future__ import annotations

from fitcheck.model.cautions import CAUTIONS
from fitcheck.model.finding import Finding
from fitcheck.model.found.deviation import Deviation
from fitcheck.model.found.look import SEVERITY_LOOKS
from fitcheck.report.document.sheet import image, section, sheet, text
from fitcheck.report.tables import NOTHING, Column, Table
from fitcheck.report.words import deviation_words as words
from fitcheck.report.words.words import place_words, yes_or_no
from fitcheck.units import System

_LONG = 22


def deviation_html(found: Deviation, picture: bytes | None, system: System) -> str:
    """The whole page; `picture` is a PNG or None."""
    laid = "".join(f"<p>{text(line)}</p>" for line in words.registration_words(found, system))
    parts = [
        section("picture", "Where they differ", _picture(found, picture)),
        section("findings", "Findings, the worst first", _findings(found, system)),
        section("faces", "By the faces of the modules", _modules(found, system)),
        section("places", "Places over the limit", _table(words.patch_table(found), system)),
        section("laid", "How one lies on the other", laid + _pairs(found, system)),
        section("assumptions", "Assumed, not measured", _assumptions(found)),
        section("cautions", "Cautions", _cautions()),
        section("inputs", "Files read", _inputs(found)),
    ]
    return sheet(
        "fitcheck deviation",
        f"{found.there} against {found.here}",
        "Boat frame: forward, to port, up from the sea. Inwards is towards the free space.",
        _verdict(found),
        "".join(parts),
    )


def _verdict(found: Deviation) -> str:
    kind = "fail" if not found.registration.trusted else found.verdict
    mark = {"fail": "X", "caution": "!", "pass": "ok"}[kind]
    said = words.headline(found)
    return (
        f'<p class="verdict {kind}"><span class="mark" aria-hidden="true">{mark}</span> '
        f"{text(said[:1].upper() + said[1:])}</p>"
    )


def _picture(found: Deviation, picture: bytes | None) -> str:
    if picture is None:
        return "<p>No picture: nothing on the machine that ran this could draw.</p>"
    told = f"{found.there} coloured by how far it lies inwards or outwards of {found.here}"
    return (
        f'<figure class="plate">{image(picture, told)}<figcaption>{text(found.there)} laid on '
        f"{text(found.here)}. Red: stands inwards, less room; blue: outwards, more room; grey: "
        "within the limit; white: nothing to compare with. Numbers are those of the places "
        "below.</figcaption></figure>"
    )


def _findings(found: Deviation, system: System) -> str:
    if not found.findings:
        return "<p>Nothing fails and nothing needs care.</p>"
    rows = "".join(_finding(row, system) for row in found.findings)
    return f'<ol class="findings">\n{rows}</ol>'


def _finding(row: Finding, system: System) -> str:
    look = SEVERITY_LOOKS[row.severity]
    word = look.word[:1].upper() + look.word[1:]
    place = place_words(row, system)
    more = ". ".join(
        part for part in (f"Where: {place}" if place else "", f"Source: {row.source}") if part
    )
    remedy = ""
    if row.remedy:
        remedy = f'<div class="remedy"><strong>Remedy:</strong> {text(row.remedy.text)}</div>'
    return (
        f'<li class="{row.severity}"><span class="mark" aria-hidden="true">{look.mark}</span>'
        f'<p><span class="word">{word}</span>, {text(row.subject)}: {text(row.text)}</p>'
        f'<p class="more">{text(more)}.</p>{remedy}</li>\n'
    )


def _modules(found: Deviation, system: System) -> str:
    if not found.modules:
        return ""
    faces = words.face_table(found)
    told = _table(faces, system) if faces.rows else "<p>No gap changes by 2 mm or more.</p>"
    return _table(words.module_table(found), system) + told


def _pairs(found: Deviation, system: System) -> str:
    return _table(words.pair_table(found), system)


def _assumptions(found: Deviation) -> str:
    rows = "".join(
        f"<li>{text(row.what)}: {text(row.value)}. {text(row.source)}. "
        f"Can flip the verdict: {yes_or_no(row.can_flip)}.</li>"
        for row in sorted(found.assumptions, key=lambda row: not row.can_flip)
    )
    return f"<ul>{rows}</ul>" if rows else ""


def _cautions() -> str:
    rows = (f"<dt>{text(row.about)}</dt><dd>{text(row.text)}</dd>" for row in CAUTIONS)
    return f'<dl class="cautions">{"".join(rows)}</dl>'


def _inputs(found: Deviation) -> str:
    rows = "".join(f"<li>{text(one.path)} <code>{one.sha256}</code></li>" for one in found.inputs)
    return f"<ul>{rows}</ul>"


def _table(table: Table, system: System) -> str:
    if not table.rows:
        return "<p>None.</p>"
    heads = "".join(
        f'<th scope="col" role="columnheader"{_kind(column)}>{text(column.heading)}</th>'
        for column in table.columns
    )
    rows = ""
    for row in table.rows:
        cells = "".join(
            _cell(column, shown, head=n == 0)
            for n, (column, shown) in enumerate(
                zip(table.columns, table.texts(row, system), strict=True)
            )
        )
        kind = f' class="{row.severity}"' if row.severity else ""
        rows += f'<tr role="row"{kind}>{cells}</tr>\n'
    return (
        f'<div class="wide"><table role="table"><caption>{text(table.caption)}</caption>'
        f'<thead role="rowgroup"><tr role="row">{heads}</tr></thead>\n'
        f'<tbody role="rowgroup">\n{rows}</tbody></table></div>\n'
    )


def _kind(column: Column) -> str:
    return ' class="amount"' if column.measure else ""


def _cell(column: Column, shown: str, *, head: bool) -> str:
    inside = text(shown).replace("_", "_<wbr>")
    if head:
        return f'<th scope="row" role="rowheader">{inside}</th>'
    kinds = [
        kind
        for kind, holds in (
            ("amount", column.measure is not None),
            ("empty", shown == NOTHING),
            ("long", len(shown) > _LONG),
        )
        if holds
    ]
    kind = f' class="{" ".join(kinds)}"' if kinds else ""
    return f'<td role="cell"{kind} data-heading="{text(column.heading)}">{inside}</td>'
