"""Building blocks of pages: sections, tables, findings, cautions, pictures."""

from __future__ import annotations

import base64
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from html import escape

from fitcheck.findings.catalogue import row_of
from fitcheck.model.cautions import CAUTIONS
from fitcheck.model.finding import Assumption, Finding, Remedy
from fitcheck.model.found.look import DUTY_LOOKS, SEVERITY_LOOKS, DutyLook
from fitcheck.model.given.scenario import InputFile
from fitcheck.report.numbers import assumption_table, input_table
from fitcheck.report.tables import NOTHING, Column, Mark, Row, Table, plain
from fitcheck.report.words.words import (
    amount_words,
    place_words,
    proof_words,
    remedy_number,
    toml_value,
)
from fitcheck.units import System

NO_FINDINGS = "<p>Nothing fails, and there are no cautions.</p>"
_LONG = 22  # characters from which a cell may not become a narrow column


def text(content: str) -> str:
    """Any text, escaped for an element or a quoted attribute."""
    return escape(plain(content), quote=True)


def capital(content: str) -> str:
    """The same with a capital first letter."""
    return content[:1].upper() + content[1:]


def attribute(name: str, value: str) -> str:
    """A data attribute with a leading space, "" without a value."""
    return f' data-{name}="{text(value)}"' if value else ""


@dataclass(frozen=True, slots=True)
class Section:
    """A part of a page under a heading, in HTML; left out if empty."""

    name: str
    heading: str
    content: str


def contents(sections: Sequence[Section], *, scene: bool) -> str:
    """The list of sections, the scene before them."""
    stage = [("stage", "Picture and scene")] if scene else []
    rows = "".join(
        f'<li><a href="#{name}">{text(heading)}</a></li>'
        for name, heading in (*stage, *((s.name, s.heading) for s in sections if s.content))
    )
    return f'<nav class="contents" aria-label="Contents"><ol>{rows}</ol></nav>'


def sections_html(sections: Sequence[Section]) -> str:
    """Every section that is not empty."""
    return "".join(
        f'<section id="{part.name}" aria-labelledby="{part.name}-heading">\n'
        f'<details class="part" open><summary><h2 id="{part.name}-heading">{text(part.heading)}'
        f"</h2></summary>\n{part.content}\n</details></section>\n"
        for part in sections
        if part.content
    )


def verdict(kind: str, mark: str, words: str) -> str:
    """The line with the conclusion."""
    return (
        f'<p class="verdict {kind}"><span class="mark" aria-hidden="true">{mark}</span> '
        f"{text(capital(words))}</p>"
    )


def image(png: bytes, told: str) -> str:
    """A picture embedded in the page."""
    data = base64.b64encode(png).decode("ascii")
    return f'<img alt="{text(told)}" src="data:image/png;base64,{data}">'


def swatch(look: DutyLook) -> str:
    """A sample of a hose's line, with dark edges so that pale colours show on white."""
    width = 4 * look.width
    dash = " ".join(f"{part * width * 0.8:.1f}" for part in look.dash)
    line = '<line x1="1" y1="6" x2="51" y2="6" '
    return (
        '<svg class="swatch" width="52" height="12" aria-hidden="true">'
        f'{line}stroke="#1b2227" stroke-width="{width + 1.6:.1f}"/>'
        f'{line}stroke="#fff" stroke-width="{width:.1f}"/>'
        f'{line}stroke="{look.colour}" stroke-width="{width:.1f}" stroke-dasharray="{dash}"/>'
        "</svg>"
    )


def cautions(system: System) -> Section:
    """The cautions printed with every result."""
    rows = (
        f"<dt>{text(row.about)}</dt><dd>{text(row.said.text(system))}</dd>" for row in CAUTIONS
    )
    content = f'<dl class="cautions">{"".join(rows)}</dl>'
    return Section("cautions", "Cautions", content)


def assumptions(rows: Sequence[Assumption], system: System) -> Section:
    """What was assumed."""
    content = table(assumption_table(rows), system) or "<p>Nothing.</p>"
    return Section("assumptions", "Assumed, not measured", content)


def inputs(rows: Sequence[InputFile], system: System) -> Section:
    """The files that were read."""
    return Section("inputs", "Files read", table(input_table(rows), system, code=(1,)))


# --- findings ---------------------------------------------------------------------------------


def finding_list(
    findings: Sequence[Finding],
    system: System,
    nodes: Mapping[str, str] | None = None,
    remedies: Sequence[Remedy] = (),
    first: int = 1,
) -> str:
    """Findings in the order given, numbered from `first`.

    `nodes` gives a subject's node, None without a scene.
    """
    rows = "".join(
        _finding(number, finding, nodes, system, remedies)
        for number, finding in enumerate(findings, first)
    )
    return f'<ol class="findings">\n{rows}</ol>'


def _finding(
    number: int,
    finding: Finding,
    nodes: Mapping[str, str] | None,
    system: System,
    remedies: Sequence[Remedy],
) -> str:
    look = SEVERITY_LOOKS[finding.severity]
    data = "" if nodes is None else _in_scene(finding, nodes, system)
    subject = text(finding.subject)
    more = [
        f"{capital(row_of(finding.rule).title)} {amount_words(finding, system)}"
        if finding.value is not None
        else "",
        f"Where: {place_words(finding, system)}" if finding.place is not None else "",
        f"Source: {finding.source}" if finding.source else "",
    ]
    told = ". ".join(part for part in more if part)
    return (
        f'<li id="finding-{number}" class="{finding.severity}"{data}>'
        f'<span class="mark" aria-hidden="true">{look.mark}</span>'
        f'<p><span class="word">{number}. {capital(look.word)}</span>, '
        f"{subject if nodes is None else f'<span data-pick>{subject}</span>'}: "
        f"{text(finding.said.text(system))}</p>"
        f'<p class="more">{text(told)}.</p>'
        f"{_remedy(finding.remedy, remedies, 'Remedy', system) if finding.remedy else ''}"
        f"{''.join(_remedy(row, remedies, 'Or', system) for row in finding.alternatives)}</li>\n"
    )


def _in_scene(finding: Finding, nodes: Mapping[str, str], system: System) -> str:
    """The data a click on a finding needs."""
    place = "" if finding.place is None else " ".join(f"{value:.4f}" for value in finding.place)
    data = attribute("node", nodes.get(finding.subject, "")) + attribute("place", place)
    word = capital(SEVERITY_LOOKS[finding.severity].word)
    return data + attribute("said", f"{word}: {finding.said.text(system)}") if data else ""


def _remedy(remedy: Remedy, remedies: Sequence[Remedy], word: str, system: System) -> str:
    lines = [
        f"in {plain(change.file)}: {plain(change.key)} = {toml_value(change.written(system))}"
        for change in remedy.changes
    ]
    code = f"<pre><code>{escape(chr(10).join(lines))}</code></pre>" if lines else ""
    head = f"{word}{remedy_number(remedy, remedies)}{proof_words(remedy)}"
    words = text(remedy.said.text(system))
    return f'<div class="remedy"><strong>{head}:</strong> {words}{code}</div>'


# --- tables -----------------------------------------------------------------------------------


def folded(summary: str, content: str) -> str:
    """Content collapsed under a summary line."""
    return f'<details class="fold"><summary>{text(summary)}</summary>{content}</details>'


def details(told: Table, system: System) -> str:
    """A table collapsed under its caption, "" without rows."""
    if not told.rows:
        return ""
    return folded(told.caption, table(told, system))


def table(told: Table, system: System, *, main: str = "", code: Iterable[int] = ()) -> str:
    """A table with headings in scope, "" without rows; rows carry the node they belong to.

    `main` names the rows of the table that a click in the scene leads to: "hose" gives hose-1.

    Roles are explicit because rows are displayed as cards on a phone, and some browsers then no
    longer treat them as a table.
    """
    if not told.rows:
        return ""
    heads = "".join(
        f'<th scope="col" role="columnheader"{_class(column)}>{text(column.heading)}</th>'
        for column in told.columns
    )
    rows = "".join(
        _row(told, row, system, f"{main}-{number}" if main else "", set(code))
        for number, row in enumerate(told.rows, 1)
    )
    return (
        f'<div class="wide"><table role="table"><caption>{text(told.caption)}</caption>'
        f'<thead role="rowgroup"><tr role="row">{heads}</tr></thead>\n'
        f'<tbody role="rowgroup">\n{rows}</tbody></table></div>\n'
    )


def _row(told: Table, row: Row, system: System, main: str, code: set[int]) -> str:
    texts = told.own_texts(row, system)
    named = 1 if told.columns[0].role == "number" else 0
    cells = "".join(
        _cell(column, content, row, head=index == named, code=index in code)
        for index, (column, content) in enumerate(zip(told.columns, texts, strict=True))
    )
    pairs = zip(told.columns, told.texts(row, system), strict=True)
    said = "; ".join(f"{column.heading} {shown}" for column, shown in pairs if shown != NOTHING)
    data = attribute("node", row.node) + (attribute("said", said) if row.node else "")
    kind = f' class="{row.severity}"' if row.severity else ""
    own = f' id="{main}" data-main="1"' if main else ""
    return f'<tr role="row"{own}{kind}{data}>{cells}</tr>\n'


def _mark(mark: Mark) -> str:
    """A finding on a row, with a link to it."""
    look = SEVERITY_LOOKS[mark.severity]
    return (
        f'<a class="on {mark.severity}" href="#finding-{mark.number}">{capital(look.word)}: '
        f"{text(mark.title)} (finding\u00a0{mark.number})</a> "
    )


def _class(column: Column) -> str:
    return ' class="amount"' if column.measure else ""


def _cell(column: Column, content: str, row: Row, *, head: bool, code: bool) -> str:
    # Names break after their underscores, not within a word.
    shown = f"<code>{text(content)}</code>" if code else text(content).replace("_", "_<wbr>")
    if column.marked:
        shown = "".join(_mark(mark) for mark in row.marks) + shown
    if column.role == "duty" and row.duty:
        look = next(look for duty, look in DUTY_LOOKS.items() if duty == row.duty)
        shown = f'<span class="duty">{swatch(look)} {shown}</span>'
    if head:
        return f'<th scope="row" role="rowheader"{" data-pick" if row.node else ""}>{shown}</th>'
    kinds = [
        kind
        for kind, holds in (
            ("amount", column.measure is not None),
            ("number", column.role == "number"),
            ("judged", column.role == "verdict"),
            ("empty", content == NOTHING),
            ("long", len(content) > _LONG and not code),
        )
        if holds
    ]
    kind = f' class="{" ".join(kinds)}"' if kinds else ""
    return f'<td role="cell"{kind} data-heading="{text(column.heading)}">{shown}</td>'
