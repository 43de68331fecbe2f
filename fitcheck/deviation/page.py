"""deviation.html: one mesh compared with another, the picture first, then the findings."""

from __future__ import annotations

from fitcheck.deviation import words
from fitcheck.model.found.deviation import Deviation
from fitcheck.model.found.look import VERDICT_LOOKS
from fitcheck.report.document.frame.frame import frame
from fitcheck.report.document.parts import (
    NO_FINDINGS,
    Section,
    assumptions,
    cautions,
    finding_list,
    image,
    inputs,
    table,
    text,
    verdict,
)
from fitcheck.units import System, show


def deviation_html(found: Deviation, picture: bytes | None, system: System) -> str:
    """The whole page; `picture` is a PNG or None."""
    findings = finding_list(found.findings, system) if found.findings else NO_FINDINGS
    places = table(words.patch_table(found, system), system) or "<p>None.</p>"
    laid = "".join(f"<p>{text(line)}</p>" for line in words.registration_words(found, system))
    parts = [
        Section("picture", "Where they differ", _picture(found, picture)),
        Section("findings", "Findings, worst first", findings),
        Section("faces", "Modules by face", _modules(found, system)),
        Section("places", "Areas over the limit", places),
        Section("laid", "Alignment", laid + table(words.pair_table(found), system)),
        assumptions(sorted(found.assumptions, key=lambda row: not row.can_flip), system),
        cautions(system),
        inputs(found.inputs, system),
    ]
    return frame(
        "fitcheck deviation",
        words.title(found),
        "Boat frame: forward, to port, up from the sea. Inwards is towards the free space.",
        verdict(found.verdict, VERDICT_LOOKS[found.verdict].mark, words.headline(found)),
        parts,
    )


def _picture(found: Deviation, picture: bytes | None) -> str:
    if picture is None:
        return "<p>No picture: nothing on the machine that ran this could draw.</p>"
    told = f"{found.there} coloured by its deviation from {found.here}"
    return (
        f'<figure class="plate">{image(picture, told)}<figcaption>{text(found.there)} aligned '
        f"with {text(found.here)}. Red: inwards, less room; blue: outwards, more room; grey: "
        "within the limit; white: nothing to compare with. Numbers are those of the areas "
        "below.</figcaption></figure>"
    )


def _modules(found: Deviation, system: System) -> str:
    if not found.modules:
        return ""
    least = show(words.LEAST_CHANGE, "length", system)
    told = table(words.face_table(found, system), system)
    told = told or f"<p>No gap changes by {least} or more.</p>"
    return table(words.module_table(found), system) + told
