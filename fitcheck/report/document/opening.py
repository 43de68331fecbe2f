"""The top of the report: the answer of the first screen, each part linked to its detail."""

from __future__ import annotations

from collections.abc import Iterator

from fitcheck.model.found.look import VERDICT_LOOKS
from fitcheck.model.result import Result
from fitcheck.report.document.parts import capital, text, verdict
from fitcheck.report.words.answer import FLIPS, SAFETY, Answer, Cuts, answer
from fitcheck.report.words.words import apply_command
from fitcheck.units import System

# The page has the same bytes wherever it is written, so it does not know its folder.
_FOLDER = "FOLDER"
_COMMANDS = (
    "{command} writes remedy N into new files next to yours. FOLDER is the folder of this page; "
    "run the command where the scenario was checked."
)


def opening(result: Result, system: System) -> str:
    """Verdict, steps, what to do, what to cut, and the facts behind it."""
    told, look = answer(result, system), VERDICT_LOOKS[result.verdict]
    steps = "".join(_step(*step) for step in told.steps)
    return "\n".join(
        (
            verdict(result.verdict, look.mark, capital(told.verdict)),
            f'<ul class="answers">{steps}</ul>',
            '<div class="first">',
            _to_do(told, system, applicable=bool(result.remedies)),
            _to_cut(told),
            "</div>",
            f'<dl class="facts">{"".join(_facts(told))}</dl>',
        )
    )


def _step(what: str, safe: bool, words: str) -> str:
    return (
        f'<li class="{"pass" if safe else "fail"}"><strong>{text(what)}</strong> '
        f"<span>{text(capital(words))}.</span></li>"
    )


def _to_do(told: Answer, system: System, *, applicable: bool) -> str:
    if not told.deeds:
        return ""
    rows = ""
    for deed in told.deeds:
        command = apply_command(_FOLDER, deed.remedy, system) if deed.remedy else ""
        shown = command and f"<pre><code>{command}</code></pre>"
        rows += (
            f'<li><p><a href="#finding-{deed.place}">{text(deed.wrong)}</a></p>'
            f"<p>{text(deed.right)}</p>{shown}</li>"
        )
    left = f' <a href="#findings">{told.left} more</a>' if told.left else ""
    commands = _COMMANDS.format(command=apply_command(_FOLDER, "N", system))
    used = f'<p class="more">{commands}</p>' if applicable else ""
    return f'<div class="deeds"><h2>{told.heading}{left}</h2><ol>{rows}</ol>{used}</div>'


def _to_cut(told: Answer) -> str:
    if told.cuts:
        rows = f'<dl class="cuts">{"".join(_cuts(row) for row in told.cuts)}</dl>'
    else:
        rows = "<p>No hose is routed.</p>"
    lost = f'<p class="stop">No route: {text(", ".join(told.lost))}</p>' if told.lost else ""
    return f"<div><h2>Cut lengths</h2><p>{text(told.cut_note)}</p>{rows}{lost}</div>"


def _cuts(row: Cuts) -> str:
    pieces = "".join(
        f'<li><a href="#hose-{number}"><b>{number}</b> {text(length)}</a></li>'
        for number, length in row.pieces
    )
    return f"<dt>{text(row.hose)}</dt><dd><ul>{pieces}</ul></dd>"


def _facts(told: Answer) -> Iterator[str]:
    rows = (
        ("Modules", told.boxes, "modules"),
        ("Pump", "; ".join(told.pump), "water"),
        ("Assumed", told.flips and f"{FLIPS} {told.flips}", "assumptions"),
        ("Safety", SAFETY, "cautions"),
    )
    for name, words, place in rows:
        if words:
            yield f'<dt><a href="#{place}">{name}</a></dt><dd>{text(words)}</dd>'
