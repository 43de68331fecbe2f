"""report.html: one file for a browser, a phone and a printer, that asks nothing of any network."""

from __future__ import annotations

import base64
import json
import zipfile
from collections.abc import Iterator
from html import escape
from io import BytesIO
from string import Template

import numpy as np

from fitcheck import __version__
from fitcheck.errors import drawing_fault
from fitcheck.model.found.look import DUTY_LOOKS, VERDICT_LOOKS
from fitcheck.model.found.routes import HoseRoute
from fitcheck.model.given.kit import DUTIES
from fitcheck.model.result import Hold, Result
from fitcheck.report import margins, modules, numbers
from fitcheck.report.document import pressures
from fitcheck.report.document.chart import envelope_svg
from fitcheck.report.document.parts import (
    NO_FINDINGS,
    assumptions,
    capital,
    cautions,
    details,
    finding_list,
    image,
    inputs,
    resource,
    section,
    swatch,
    table,
    text,
    verdict,
)
from fitcheck.report.tables import plain
from fitcheck.report.words.words import (
    hose_number,
    npsh_words,
    suction_verdict,
    suction_words,
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
_PICTURE_SWITCH = '<label><input type="checkbox" data-show="picture"> picture</label>'
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
    return Template(resource("page.html")).substitute(
        version=escape(__version__),
        seal=text(_seal(result, seal)),
        title=text(f"fitcheck: {scenario.name}"),
        css=resource("page.css"),
        name=text(scenario.name),
        about=text("; ".join(part for part in (scenario.about, *parts) if part)),
        verdict=verdict(result.verdict, look.mark, look.word),
        answers="\n".join(_answers(result, system)),
        picture=_picture(result, picture, missing),
        said_first=text(_TURN),
        said_nothing=text(_NO_WEBGL),
        said_canvas=text(_CANVAS),
        switch=_PICTURE_SWITCH if picture else "",
        legend="\n".join(_legend()),
        sections="".join(_sections(result, system)),
        anchors=_script_json(list(_anchors(result))),
        scene=base64.b64encode(scene or b"").decode("ascii"),
        three=_three_or_nothing() if scene else "",
        js=resource("page.js"),
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
    viewer = archive.read("viewer.html.template").decode("utf-8")
    start, end = viewer.find("<script>"), viewer.rfind(_THREE_ENDS)
    return viewer[start + len("<script>") : end + len(_THREE_ENDS)] if 0 <= start < end else ""


def _three_or_nothing() -> str:
    """The drawing library, or "" where it cannot be had; the page then says so itself."""
    try:
        return three_js()
    except Exception:
        return ""


def _script_json(item: object) -> str:
    """JSON that cannot end the script element it stands in."""
    return json.dumps(item, allow_nan=False).replace("<", "\\u003c").replace("&", "\\u0026")


# --- head -------------------------------------------------------------------------------------


def _answers(result: Result, system: System) -> Iterator[str]:
    yield _hold("Safe to cut joinery", result.cut_joinery, system)
    yield _hold("Safe to order hoses", result.order_hoses, system)
    words = suction_words(result, system)
    yield (
        f'<li class="{suction_verdict(result)}"><strong>Suction at the feed pump</strong> '
        f"<span>{text(capital(words))}. NPSH: {text(npsh_words(result, system))}.</span></li>"
    )


def _hold(what: str, hold: Hold, system: System) -> str:
    kind = "pass" if hold.safe else "fail"
    because = hold.said.text(system)
    because = f"because {because}" if hold.safe else because
    return (
        f'<li class="{kind}"><strong>{what}: {yes_or_not_yet(hold.safe)}</strong> '
        f"<span>{text(capital(because))}</span></li>"
    )


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
    yield section("findings", "Findings, the worst first", _findings(result, system))
    hoses = table(numbers.hose_table(result), system, main=True)
    runs = details(numbers.run_table(result), system)
    kept = details(numbers.keep_table(result), system)
    clips = details(numbers.clip_table(result), system)
    yield section("hoses", "Hoses", hoses + kept + runs + clips)
    yield section("modules", "Modules", _modules(result, system))
    yield section("water", "Water", _water(result, system))
    cuts = table(numbers.cut_table(result), system)
    yield section(
        "order", "What to order", table(numbers.order_table(result, system), system) + cuts
    )
    yield assumptions(result.assumptions, system)
    yield cautions()
    yield inputs(result.scenario.inputs, system)


def _modules(result: Result, system: System) -> str:
    return (
        table(modules.module_table(result, system), system, main=True)
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
    """How long the suction side may be at which lift, and what the bypass allows."""
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
        "<figcaption>Left of its curve, some setting of the bypass feeds the plant with a suction "
        "side of that bore and keeps the vacuum within its limit, upright, clean and dirty, bores "
        "on the narrow side. The ring is this layout, shaded what its bore allows."
        f"</figcaption></figure>{words}"
    )


# --- findings ---------------------------------------------------------------------------------


def _findings(result: Result, system: System) -> str:
    """What fails or needs care, then the notes, folded away."""
    nodes = _nodes(result)
    urgent = [row for row in result.findings if row.severity != "note"]
    notes = [row for row in result.findings if row.severity == "note"]
    told = finding_list(urgent, system, nodes, result.remedies) if urgent else NO_FINDINGS
    if not notes:
        return told
    summary = f"{len(notes)} note{'' if len(notes) == 1 else 's'}"
    listed = finding_list(notes, system, nodes, result.remedies, len(urgent) + 1)
    return f"{told}\n<details><summary>{summary}</summary>{listed}</details>"


def _nodes(result: Result) -> dict[str, str]:
    """Subject of a finding to node of the scene."""
    hoses = {hose.line: numbers.node_of(hose) for hose in result.routes.hoses}
    return hoses | {module.name: f"module:{module.name}" for module in result.fit.modules}
