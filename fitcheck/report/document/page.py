"""report.html: one file for a browser, a phone and a printer, without network access."""

from __future__ import annotations

import base64
import json
import zipfile
from collections.abc import Iterator
from io import BytesIO
from string import Template

import numpy as np

from fitcheck.errors import drawing_fault
from fitcheck.model.found.look import DUTY_LOOKS
from fitcheck.model.found.routes import HoseRoute
from fitcheck.model.given.kit import DUTIES
from fitcheck.model.result import Result
from fitcheck.report import margins, modules, numbers
from fitcheck.report.document import pressures
from fitcheck.report.document.chart import envelope_svg
from fitcheck.report.document.frame.frame import frame, resource
from fitcheck.report.document.opening import opening
from fitcheck.report.document.parts import (
    NO_FINDINGS,
    Section,
    assumptions,
    capital,
    cautions,
    details,
    finding_list,
    image,
    inputs,
    swatch,
    table,
    text,
)
from fitcheck.report.tables import plain
from fitcheck.report.words.words import hose_number
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
_PICTURE_SWITCH = '<label><input type="checkbox" data-show="picture"> picture</label>'
_NOTICE = (
    " The scene is drawn by three.js, whose MIT licence notice is in the source of this page."
)
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

    `missing` gives the reasons, one sentence each; `seal` is the hash of the result.
    """
    scenario = result.scenario
    parts = (scenario.boat.name, scenario.kit.name, scenario.layout.name)
    return frame(
        "fitcheck report",
        scenario.name,
        "; ".join(part for part in (scenario.about, *parts) if part),
        opening(result, system),
        tuple(_sections(result, system)),
        stage=_stage(result, picture, missing),
        seal=_seal(result, seal),
        notice=_NOTICE,
        scripts=_scripts(result, scene),
    )


def _stage(result: Result, picture: bytes | None, missing: tuple[str, ...]) -> str:
    return Template(resource("stage.html")).substitute(
        picture=_picture(result, picture, missing),
        said_first=text(_TURN),
        said_nothing=text(_NO_WEBGL),
        said_canvas=text(_CANVAS),
        switch=_PICTURE_SWITCH if picture else "",
        legend="\n".join(_legend()),
    )


def _scripts(result: Result, scene: bytes | None) -> str:
    """The scripts and data that draw the scene."""
    anchors = _script_json(list(_anchors(result)))
    bodies = base64.b64encode(scene or b"").decode("ascii")
    return (
        f'<script type="application/json" id="anchors">{anchors}</script>\n'
        f'<script type="text/plain" id="scene">{bodies}</script>\n'
        f"<script>\n{_three_or_nothing() if scene else ''}\n</script>\n"
        f"<script>\n{resource('page.js')}\n</script>"
    )


def _seal(result: Result, seal: str) -> str:
    """Which result the page was made from, and when it was calculated."""
    date = f"Calculated on {result.date}." if result.date else ""
    return " ".join(part for part in (date, f"SHA-256 of result.zip: {seal}" * bool(seal)) if part)


def three_js() -> str:
    """The drawing library and its glTF reader from trimesh's notebook viewer, or "".

    Without it the page keeps its picture and tables and says that the scene cannot be drawn.
    """
    # Takes longer to load than the page to write, and is only needed for a page with a scene.
    import trimesh

    archive = zipfile.ZipFile(BytesIO(trimesh.resources.get_bytes("templates/viewer.zip")))
    viewer = archive.read("viewer.html.template").decode("utf-8")
    start, end = viewer.find("<script>"), viewer.rfind(_THREE_ENDS)
    return viewer[start + len("<script>") : end + len(_THREE_ENDS)] if 0 <= start < end else ""


def _three_or_nothing() -> str:
    """The drawing library, or "" if unavailable; the page then says so itself."""
    try:
        return three_js()
    except Exception:
        return ""


def _script_json(item: object) -> str:
    """JSON that cannot close its script element."""
    return json.dumps(item, allow_nan=False).replace("<", "\\u003c").replace("&", "\\u0026")


# --- stage ------------------------------------------------------------------------------------


def _picture(result: Result, picture: bytes | None, missing: tuple[str, ...]) -> str:
    told = "".join(f'<p class="none">{text(capital(line))}</p>' for line in missing)
    if picture is None:
        none = '<p class="none">No picture: nothing on the machine that ran this could draw.</p>'
        return told or none
    shown = f"The compartment of {result.scenario.boat.name} with its modules and hoses"
    return told + image(picture, shown)


def _legend() -> Iterator[str]:
    for duty in DUTIES:
        look = DUTY_LOOKS[duty]
        yield f"<li>{swatch(look)} {duty} ({look.style})</li>"


def _anchors(result: Result) -> Iterator[dict[str, object]]:
    """Positions of the labels, boat frame; earlier ones have priority."""
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


def _sections(result: Result, system: System) -> Iterator[Section]:
    for name, heading, content in (
        ("findings", "Findings, the worst first", _findings(result, system, notes=False)),
        ("hoses", "Hoses", _hoses(result, system)),
        ("modules", "Modules", _modules(result, system)),
        ("water", "Water", _water(result, system)),
        ("order", "What to order", table(numbers.order_table(result, system), system)),
        ("notes", "Notes", _findings(result, system, notes=True)),
    ):
        yield Section(name, heading, content)
    yield assumptions(result.assumptions, system)
    yield cautions(system)
    yield inputs(result.scenario.inputs, system)


def _hoses(result: Result, system: System) -> str:
    return table(numbers.hose_table(result), system, main="hose") + "".join(
        details(told(result), system)
        for told in (
            numbers.cut_table,
            numbers.keep_table,
            numbers.run_table,
            numbers.clip_table,
        )
    )


def _modules(result: Result, system: System) -> str:
    return (
        table(modules.module_table(result, system), system, main="module")
        + f"<p>{text(modules.weight_words(result, system))}</p>"
        + details(modules.fit_table(result, system), system)
        + details(modules.service_table(result), system)
    )


def _water(result: Result, system: System) -> str:
    return (
        table(margins.governing_table(result, system), system)
        + _envelope(result, system)
        + table(pressures.back_pressure_table(result, system), system)
        + details(pressures.loss_table(result, system), system)
        + details(pressures.pump_table(result, system), system)
        + details(margins.held_table(result), system)
    )


def _envelope(result: Result, system: System) -> str:
    """Allowed suction length over lift, and bypass settings."""
    around = result.hydraulics.envelope
    told = [margins.longest_words(result, system), margins.bypass_words(result, system)]
    words = "".join(f"<p>{text(capital(line))}.</p>" for line in told if line)
    if around is None:
        return words
    own = next((curve.hose for curve in around.curves if curve.bore == around.own_bore), "")
    try:
        drawing = envelope_svg(around, system, own)
    except Exception as error:
        return f'<p class="none">{text(capital(drawing_fault("chart", error)))}</p>{words}'
    return (
        f'<figure class="envelope">{drawing}'
        "<figcaption>To the left of the curve of a bore, some setting of the bypass feeds the "
        "plant and keeps the suction vacuum within its limit, with the boat upright, "
        "filters clean and dirty and bores at the narrow end of their tolerance. The ring marks "
        "this layout; the shaded area is what its bore allows."
        f"</figcaption></figure>{words}"
    )


# --- findings ---------------------------------------------------------------------------------


def _findings(result: Result, system: System, *, notes: bool) -> str:
    """Fails and cautions, or the notes, numbered as in the result."""
    numbered = [
        (number, row)
        for number, row in enumerate(result.findings, 1)
        if (row.severity == "note") == notes
    ]
    if not numbered:
        return "" if notes else NO_FINDINGS
    rows = [row for _, row in numbered]
    return finding_list(rows, system, _nodes(result), result.remedies, first=numbered[0][0])


def _nodes(result: Result) -> dict[str, str]:
    """Subject of a finding -> node of the scene."""
    hoses = {hose.line: numbers.node_of(hose) for hose in result.routes.hoses}
    return hoses | {module.name: f"module:{module.name}" for module in result.fit.modules}
