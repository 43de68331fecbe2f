"""compare.html: candidates side by side, differences first, the rest collapsed."""

from __future__ import annotations

from collections.abc import Iterator

from fitcheck.model.found.comparison import Candidate, Comparison, Ran
from fitcheck.model.found.look import VERDICT_LOOKS, verdict_words
from fitcheck.report.document.frame.frame import frame
from fitcheck.report.document.parts import Section, capital, cautions, image, table, text
from fitcheck.report.tables import NOTHING
from fitcheck.report.words.longest import longest_table
from fitcheck.report.words.side_by_side import BEST, Line, Side, letter, side_by_side
from fitcheck.report.words.words import yes_or_not_yet
from fitcheck.units import System

_STOPPED = {
    "read": "could not be read or used",
    "converged": "its numbers did not converge",
    "fault": "fitcheck itself failed",
    "killed": "its process ended before it was done",
    "waiting": "not run",
    "": "",
}


def compare_html(comparison: Comparison, system: System) -> str:
    """The whole page."""
    side = side_by_side(comparison, system)
    count = len(comparison.candidates)
    parts = [Section("candidates", "What is compared", _candidates(comparison))]
    if side.letters:
        remarks = "".join(f'<p class="stop">{text(remark)}</p>' for remark in side.remarks)
        parts.append(Section("differs", "What differs", remarks + _table(side)))
        longest = table(longest_table(comparison), system)
        parts.append(Section("longest", "One length for all", longest))
        parts.append(Section("same", f"The same in all {len(side.letters)}", _same(side)))
    parts.append(Section("fails", "What fails", _fails(comparison, system)))
    parts.append(cautions(system))
    return frame(
        "fitcheck comparison",
        f"{count} scenarios side by side",
        "Full report of one of them: fitcheck check and its file.",
        "",
        parts,
    )


def _candidates(comparison: Comparison) -> str:
    rows = "".join(_candidate(n, one) for n, one in enumerate(comparison.candidates))
    return f'<ul class="candidates">\n{rows}</ul>'


def _candidate(number: int, one: Candidate) -> str:
    head = f'<h3><span class="letter">{letter(number)}</span>{text(one.name)}</h3>'
    file = f"<p><code>{text(one.file)}</code></p>"
    if one.ran is None:
        return (
            f'<li class="fail">{head}<p class="stop">{_STOPPED[one.stopped]}</p>'
            f"<pre>{text_lines(one.why)}</pre>{file}</li>\n"
        )
    look = VERDICT_LOOKS[one.ran.verdict]
    words = verdict_words(one.ran.verdict, ready=one.ran.ready)
    drawn = image(one.picture, f"{one.name}: modules and hoses in place") if one.picture else ""
    return (
        f'<li class="{one.ran.verdict}">{head}'
        f'<p class="{one.ran.verdict}"><span class="mark" aria-hidden="true">{look.mark}</span> '
        f"<strong>{capital(words)}</strong></p>{_held(one.ran)}{drawn}{file}</li>\n"
    )


def text_lines(content: str) -> str:
    """Several lines, each escaped."""
    return "\n".join(text(line) for line in content.splitlines())


def _held(ran: Ran) -> str:
    cut, order = (yes_or_not_yet(hold.safe) for hold in (ran.cut_joinery, ran.order_hoses))
    return f"<p>Safe to cut joinery: <b>{cut}</b>. Safe to order hoses: <b>{order}</b>.</p>"


def _table(side: Side) -> str:
    if not side.differing:
        return "<p>Nothing.</p>"
    heads = "".join(
        f'<th scope="col" role="columnheader"><span class="letter">{mark}</span>{text(name)}</th>'
        for mark, name in zip(side.letters, side.names, strict=True)
    )
    rows = "".join(_rows(side))
    return (
        '<div class="wide"><table class="sides" role="table"><caption>What differs, the best of '
        'each row marked</caption><thead role="rowgroup"><tr role="row">'
        f'<th scope="col" role="columnheader">Row</th>{heads}</tr></thead>\n'
        f'<tbody role="rowgroup">\n{rows}</tbody></table></div>'
    )


def _rows(side: Side) -> Iterator[str]:
    group = ""
    for line in side.differing:
        if line.group != group:
            group = line.group
            span = len(side.letters) + 1
            yield (
                f'<tr class="group" role="row"><th scope="rowgroup" role="rowheader" '
                f'colspan="{span}">{text(group)}</th></tr>\n'
            )
        yield _row(line, side)


def _row(line: Line, side: Side) -> str:
    best = line.best
    cells = ""
    for n, (entry, mark) in enumerate(zip(line.entries, side.letters, strict=True)):
        shown = text(entry.text if entry else NOTHING).replace("_", "_<wbr>")
        tag = f'<span class="tag">{BEST}</span>' if n in best else ""
        kinds = " ".join(
            kind
            for kind, holds in (
                ("best", n in best),
                (entry.severity or "" if entry else "", entry is not None),
            )
            if kind and holds
        )
        kind = f' class="{kinds}"' if kinds else ""
        heading = f"{mark} {side.names[n]}"
        cells += (
            f'<td role="cell"{kind} data-heading="{text(heading)}"><span>{shown}{tag}</span></td>'
        )
    label = text(line.label).replace("_", "_<wbr>")
    return f'<tr role="row"><th scope="row" role="rowheader">{label}</th>{cells}</tr>\n'


def _same(side: Side) -> str:
    rows = "".join(
        f"<li><span>{text(line.group)}, {text(line.label)}:</span> "
        f"{text(line.entries[0].text if line.entries[0] else NOTHING)}</li>"
        for line in side.same
    )
    return f'<ul class="same">{rows}</ul>' if rows else ""


def _fails(comparison: Comparison, system: System) -> str:
    parts = []
    for n, ran in comparison.ran:
        if ran.fails:
            name = comparison.candidates[n].name
            rows = "".join(f"<li>{text(row.said.text(system))}</li>" for row in ran.fails)
            parts.append(
                f'<h3><span class="letter">{letter(n)}</span>{text(name)}</h3><ul>{rows}</ul>'
            )
    return "".join(parts)
