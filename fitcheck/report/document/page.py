"""report.html: one file for a browser, a phone and a printer, that asks nothing of any network."""

from __future__ import annotations

import base64
import json
import zipfile
from collections.abc import Iterable, Iterator, Sequence
from html import escape
from importlib.resources import files
from io import BytesIO
from string import Template

import numpy as np

from fitcheck import __version__
from fitcheck.errors import drawing_fault
from fitcheck.model.cautions import CAUTIONS
from fitcheck.model.finding import Finding, Remedy, Severity
from fitcheck.model.found.look import DUTY_LOOKS, SEVERITY_LOOKS, VERDICT_LOOKS, DutyLook
from fitcheck.model.found.routes import HoseRoute
from fitcheck.model.given.kit import DUTIES
from fitcheck.model.result import Hold, Result
from fitcheck.report import margins, numbers
from fitcheck.report.document import pressures
from fitcheck.report.document.chart import envelope_svg
from fitcheck.report.tables import NOTHING, Column, Row, Table, plain
from fitcheck.report.words.words import (
    amount_words,
    hose_number,
    npsh_words,
    place_words,
    proof_words,
    remedy_number,
    suction_verdict,
    suction_words,
    toml_value,
    yes_or_not_yet,
)
from fitcheck.units import System

_TURN = (
    "Drag to turn, wheel or two fingers to come nearer, shift and drag to move. "
    "Click a hose or a box, or a row of a table, and the rest fades."
)
_NO_WEBGL = (
    "This browser cannot draw the scene (no WebGL); the picture and the tables are complete "
    "without it."
)
_CANVAS = "The compartment with modules and hoses; arrow keys turn it, plus and minus zoom."
_LONG = 22  # characters from which a cell may not become a narrow column
_PICTURE_SWITCH = '<label><input type="checkbox" data-show="picture"> picture</label>'
_NO_FINDINGS = "Nothing fails and nothing needs care."
_THREE_ENDS = "THREE.GLTFLoader=GLTFLoader;})();"


def page_html(
    result: Result,
    picture: bytes | None,
    scene: bytes | None,
    system: System,
    missing: tuple[str, ...] = (),
    seal: str = "",
) -> str:
    """The whole page; `picture` is a PNG, `scene` the bytes of scene.glb, each None if not drawn.

    `missing` says why, a sentence each; `seal` is the hash of the result.
    """
    scenario, look = result.scenario, VERDICT_LOOKS[result.verdict]
    parts = (scenario.boat.name, scenario.kit.name, scenario.layout.name)
    return Template(_resource("page.html")).substitute(
        version=escape(__version__),
        seal=_text(_seal(result, seal)),
        title=_text(f"fitcheck: {scenario.name}"),
        css=_resource("page.css"),
        name=_text(scenario.name),
        about=_text("; ".join(part for part in (scenario.about, *parts) if part)),
        verdict=result.verdict,
        mark=look.mark,
        words=_capital(look.word),
        answers="\n".join(_answers(result, system)),
        picture=_picture(result, picture, missing),
        said_first=_text(_TURN),
        said_nothing=_text(_NO_WEBGL),
        said_canvas=_text(_CANVAS),
        switch=_PICTURE_SWITCH if picture else "",
        legend="\n".join(_legend()),
        sections="\n".join(_sections(result, system)),
        anchors=_script_json(list(_anchors(result))),
        scene=base64.b64encode(scene or b"").decode("ascii"),
        three=_three_or_nothing() if scene else "",
        js=_resource("page.js"),
    )


def _seal(result: Result, seal: str) -> str:
    """Which result the page was made from, and when that was worked out."""
    date = f"Worked out on {result.date}." if result.date else ""
    return " ".join(part for part in (date, f"SHA-256 of result.zip: {seal}" * bool(seal)) if part)


def three_js() -> str:
    """The drawing library and its glTF reader out of trimesh's notebook viewer, or "".

    Without it the page keeps its picture and tables and says that the scene cannot be drawn.
    """
    # Takes longer to load than the page to write, and is wanted for a page with a scene alone.
    import trimesh

    archive = zipfile.ZipFile(BytesIO(trimesh.resources.get_bytes("templates/viewer.zip")))
    text = archive.read("viewer.html.template").decode("utf-8")
    start, end = text.find("<script>"), text.rfind(_THREE_ENDS)
    return text[start + len("<script>") : end + len(_THREE_ENDS)] if 0 <= start < end else ""


def _three_or_nothing() -> str:
    """The drawing library, or "" where it cannot be had; the page then says so itself."""
    try:
        return three_js()
    except Exception:
        return ""


def _resource(name: str) -> str:
    return (files("fitcheck.report.document") / name).read_text("utf-8")


def _text(text: str) -> str:
    """Text from anywhere, safe inside an element or a quoted attribute."""
    return escape(plain(text), quote=True)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _script_json(item: object) -> str:
    """JSON that cannot end the script element it stands in."""
    return json.dumps(item, allow_nan=False).replace("<", "\\u003c").replace("&", "\\u0026")


# --- head -------------------------------------------------------------------------------------


def _answers(result: Result, system: System) -> Iterator[str]:
    yield _hold("Safe to cut joinery", result.cut_joinery)
    yield _hold("Safe to order hoses", result.order_hoses)
    verdict, words = suction_verdict(result), suction_words(result, system)
    yield (
        f'<li class="{verdict}"><strong>Suction at the feed pump</strong> '
        f"<span>{_text(_capital(words))}. NPSH: {_text(npsh_words(result, system))}.</span></li>"
    )


def _hold(what: str, hold: Hold) -> str:
    kind = "pass" if hold.safe else "fail"
    because = f"because {hold.because}" if hold.safe else hold.because
    return (
        f'<li class="{kind}"><strong>{what}: {yes_or_not_yet(hold.safe)}</strong> '
        f"<span>{_text(_capital(because))}</span></li>"
    )


def _picture(result: Result, picture: bytes | None, missing: tuple[str, ...]) -> str:
    told = "".join(f'<p class="none">{_text(_capital(line))}</p>' for line in missing)
    if picture is None:
        none = '<p class="none">No picture: nothing on the machine that ran this could draw.</p>'
        return told or none
    data = base64.b64encode(picture).decode("ascii")
    shown = f"The compartment of {result.scenario.boat.name} with its modules and hoses"
    return f'{told}<img alt="{_text(shown)}" src="data:image/png;base64,{data}">'


def _legend() -> Iterator[str]:
    for duty in DUTIES:
        look = DUTY_LOOKS[duty]
        yield f"<li>{_swatch(look)} {duty} ({look.style})</li>"


def _swatch(look: DutyLook) -> str:
    """A piece of the line, edged dark so that pale colours hold on white."""
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


def _anchors(result: Result) -> Iterator[dict[str, object]]:
    """Where labels stand, boat frame; those that come first keep their place."""
    for hose in result.routes.hoses:
        found = isinstance(hose, HoseRoute)
        look = DUTY_LOOKS[result.scenario.kit.line(hose.line).duty]
        yield {
            "node": numbers.node_of(hose),
            "text": str(hose_number(result, hose.line)),
            "kind": "hose" if found else "hose lost",
            "colour": look.colour,
            "at": _middle(hose.path)
            if isinstance(hose, HoseRoute)
            else list(hose.nearest_approach),
        }
    for module in result.fit.modules:
        top = module.box.corners()[:, 2].max()
        at = [module.box.centre[0], module.box.centre[1], float(top)]
        name = plain(module.name)
        yield {"node": f"module:{module.name}", "text": name, "kind": "module", "at": at}


def _middle(path: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> list[float]:
    return [float(value) for value in path[len(path) // 2]]


# --- sections ---------------------------------------------------------------------------------


def _sections(result: Result, system: System) -> Iterator[str]:
    yield _section("findings", "Findings, the worst first", _findings(result, system))
    hoses = _table(numbers.hose_table(result), system, main=True)
    runs = _details(numbers.run_table(result), system)
    kept = _details(numbers.keep_table(result), system)
    clips = _details(numbers.clip_table(result), system)
    yield _section("hoses", "Hoses", hoses + kept + runs + clips)
    service = _details(numbers.service_table(result), system)
    modules = _table(numbers.fit_table(result, system), system, main=True)
    yield _section("modules", "Modules", modules + service)
    yield _section("water", "Water", _water(result, system))
    cuts = _table(numbers.cut_table(result), system)
    yield _section(
        "order", "What to order", _table(numbers.order_table(result, system), system) + cuts
    )
    yield _section("assumptions", "Assumed, not measured", _assumptions(result, system))
    yield _section("cautions", "Cautions", _cautions())
    yield _section("inputs", "Files read", _table(numbers.input_table(result), system, code=(1,)))


def _section(name: str, heading: str, content: str) -> str:
    return (
        f'<section id="{name}" aria-labelledby="{name}-heading">\n'
        f'<h2 id="{name}-heading">{heading}</h2>\n{content}\n</section>'
    )


def _details(table: Table, system: System) -> str:
    if not table.rows:
        return ""
    return f"<details><summary>{_text(table.caption)}</summary>{_table(table, system)}</details>"


def _water(result: Result, system: System) -> str:
    said = (
        f"<p><strong>Suction:</strong> {_text(suction_words(result, system))}.</p>"
        f"<p><strong>NPSH:</strong> {_text(npsh_words(result, system))}.</p>"
    )
    tables = (pressures.back_pressure_table(result), pressures.rule_table(result))
    return (
        said
        + _table(margins.governing_table(result, system), system)
        + _envelope(result, system)
        + "".join(_table(table, system) for table in tables)
        + _details(pressures.loss_table(result), system)
        + _details(pressures.pump_table(result), system)
        + _details(margins.reach_table(result, system), system)
        + _details(margins.held_table(result), system)
    )


def _envelope(result: Result, system: System) -> str:
    """How long the suction side may be at which lift, and what the bypass allows."""
    around = result.hydraulics.envelope
    told = [margins.longest_words(result, system), margins.bypass_words(result, system)]
    words = "".join(f"<p>{_text(_capital(text))}.</p>" for text in told if text)
    if around is None:
        return words
    own = next((curve.hose for curve in around.curves if curve.bore == around.own_bore), "")
    try:
        drawing = envelope_svg(around, system, own)
    except Exception as error:
        return f'<p class="none">{_text(_capital(drawing_fault("chart", error)))}</p>{words}'
    return (
        f'<figure class="envelope">{drawing}'
        "<figcaption>Left of its curve, some setting of the bypass feeds the plant with a suction "
        "side of that bore and keeps the vacuum within its limit, upright, clean and dirty, bores "
        "on the narrow side. The ring is this layout, shaded what its bore allows."
        f"</figcaption></figure>{words}"
    )


def _assumptions(result: Result, system: System) -> str:
    table = numbers.assumption_table(result)
    return _table(table, system) if table.rows else "<p>Nothing.</p>"


def _cautions() -> str:
    rows = (f"<dt>{_text(row.about)}</dt><dd>{_text(row.text)}</dd>" for row in CAUTIONS)
    return f'<dl class="cautions">{"".join(rows)}</dl>'


# --- findings ---------------------------------------------------------------------------------


def _findings(result: Result, system: System) -> str:
    """What fails or needs care, then the notes, folded away."""
    nodes = _nodes(result)
    urgent = [row for row in result.findings if row.severity != "note"]
    notes = [row for row in result.findings if row.severity == "note"]
    told = (
        _finding_list(urgent, nodes, system, result.remedies)
        if urgent
        else f"<p>{_NO_FINDINGS}</p>"
    )
    if not notes:
        return told
    summary = f"{len(notes)} note{'' if len(notes) == 1 else 's'}"
    listed = _finding_list(notes, nodes, system, result.remedies)
    return f"{told}\n<details><summary>{summary}</summary>{listed}</details>"


def _finding_list(
    findings: list[Finding], nodes: dict[str, str], system: System, remedies: Sequence[Remedy]
) -> str:
    rows = "".join(_finding(finding, nodes, system, remedies) for finding in findings)
    return f'<ol class="findings">\n{rows}</ol>'


def _nodes(result: Result) -> dict[str, str]:
    """Subject of a finding to node of the scene."""
    hoses = {hose.line: numbers.node_of(hose) for hose in result.routes.hoses}
    return hoses | {module.name: f"module:{module.name}" for module in result.fit.modules}


def _finding(
    finding: Finding, nodes: dict[str, str], system: System, remedies: Sequence[Remedy]
) -> str:
    look = SEVERITY_LOOKS[finding.severity]
    place = "" if finding.place is None else " ".join(f"{value:.4f}" for value in finding.place)
    said = _attribute("said", f"{_capital(look.word)}: {finding.text}")
    data = _attribute("node", nodes.get(finding.subject, "")) + _attribute("place", place)
    more = [
        f"Found {amount_words(finding, system)}" if finding.value is not None else "",
        f"Where: {place_words(finding, system)}" if finding.place is not None else "",
        f"Source: {finding.source}" if finding.source else "",
    ]
    told = ". ".join(part for part in more if part)
    return (
        f'<li class="{finding.severity}"{data}{said if data else ""}>'
        f'<span class="mark" aria-hidden="true">{look.mark}</span>'
        f'<p><span class="word">{_capital(look.word)}</span>, '
        f"<span data-pick>{_text(finding.subject)}</span>: {_text(finding.text)}</p>"
        f'<p class="more">{_text(told)}.</p>'
        f"{_remedy(finding.remedy, remedies, 'Remedy') if finding.remedy else ''}"
        f"{''.join(_remedy(row, remedies, 'Or') for row in finding.alternatives)}</li>\n"
    )


def _attribute(name: str, value: str) -> str:
    return f' data-{name}="{_text(value)}"' if value else ""


def _remedy(remedy: Remedy, remedies: Sequence[Remedy], word: str) -> str:
    lines = [
        f"in {plain(change.file)}: {plain(change.key)} = {toml_value(change.value)}"
        for change in remedy.changes
    ]
    code = f"<pre><code>{escape(chr(10).join(lines))}</code></pre>" if lines else ""
    head = f"{word}{remedy_number(remedy, remedies)}{proof_words(remedy)}"
    return f'<div class="remedy"><strong>{head}:</strong> {_text(remedy.text)}{code}</div>'


# --- tables -----------------------------------------------------------------------------------


def _table(table: Table, system: System, *, main: bool = False, code: Iterable[int] = ()) -> str:
    """A table with headings in scope; rows carry the node they belong to.

    Roles are spelt out because on a phone the rows are drawn as cards, and some browsers then
    forget that they were a table.
    """
    if not table.rows:
        return ""
    heads = "".join(
        f'<th scope="col" role="columnheader"{_class(column)}>{_text(column.heading)}</th>'
        for column in table.columns
    )
    rows = "".join(_row(table, row, system, main, set(code)) for row in table.rows)
    return (
        f'<div class="wide"><table role="table"><caption>{_text(table.caption)}</caption>'
        f'<thead role="rowgroup"><tr role="row">{heads}</tr></thead>\n'
        f'<tbody role="rowgroup">\n{rows}</tbody></table></div>\n'
    )


def _row(table: Table, row: Row, system: System, main: bool, code: set[int]) -> str:
    texts = table.texts(row, system)
    named = 1 if table.columns[0].heading == "No." else 0
    cells = "".join(
        _cell(column, text, row, head=index == named, code=index in code)
        for index, (column, text) in enumerate(zip(table.columns, texts, strict=True))
    )
    pairs = zip(table.columns, texts, strict=True)
    said = "; ".join(f"{column.heading} {text}" for column, text in pairs if text != NOTHING)
    data = _attribute("node", row.node) + (_attribute("said", said) if row.node else "")
    return f"<tr{_severity(row.severity)}{data}{' data-main=1' if main else ''}>{cells}</tr>\n"


def _severity(severity: Severity | None) -> str:
    return f' class="{severity}"' if severity else ""


def _class(column: Column) -> str:
    return ' class="amount"' if column.measure else ""


def _cell(column: Column, text: str, row: Row, *, head: bool, code: bool) -> str:
    # Names break after their underscores, not within a word.
    shown = f"<code>{_text(text)}</code>" if code else _text(text).replace("_", "_<wbr>")
    if column.heading == "Duty" and row.duty:
        look = next(look for duty, look in DUTY_LOOKS.items() if duty == row.duty)
        shown = f'<span class="duty">{_swatch(look)} {shown}</span>'
    if head:
        return f'<th scope="row" role="rowheader"{" data-pick" if row.node else ""}>{shown}</th>'
    kinds = [
        kind
        for kind, holds in (
            ("amount", column.measure is not None),
            ("number", column.heading == "No."),
            ("judged", column.heading == "Verdict"),
            ("empty", text == NOTHING),
            ("long", len(text) > _LONG and not code),
        )
        if holds
    ]
    kind = f' class="{" ".join(kinds)}"' if kinds else ""
    return f'<td role="cell"{kind} data-heading="{_text(column.heading)}">{shown}</td>'
