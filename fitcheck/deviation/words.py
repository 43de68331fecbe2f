"""One mesh compared with another as tables and sentences, for terminal, page and CSV."""

from __future__ import annotations

import math

import numpy as np

from fitcheck.model.found.deviation import Deviation, FaceChange, ModuleChange, Patch
from fitcheck.report.tables import (
    AREA,
    HEIGHT,
    NOTHING,
    NUMBER,
    SIZE,
    UNSURE,
    Row,
    Table,
    columns,
    unprinted,
)
from fitcheck.report.words.words import standing_words
from fitcheck.units import System, show, show_row

#: Smaller changes of a gap are not reported.
LEAST_CHANGE = 0.002
#: A face this close to something counts as next to it.
NEXT_TO = 0.15
MOST_PATCHES = 40


def title(found: Deviation) -> str:
    """Which mesh is compared with which."""
    return f"{found.there} against {found.here}"


def headline(found: Deviation) -> str:
    """The conclusion in one line."""
    if not found.registration.trusted:
        return "the alignment is not reliable: see the findings"
    inward = [patch for patch in found.patches if patch.worst < 0.0]
    if found.verdict == "fail":
        return "the layout does not fit there"
    if inward:
        return f"less room in {len(inward)} area{'s' if len(inward) > 1 else ''}"
    return "no area has less room by more than the limit"


def registration_words(found: Deviation, system: System) -> list[str]:
    """The alignment of the two meshes, and its uncertainty."""
    laid = found.registration
    places = found.places[:: max(1, len(found.places) // 2000)]
    doubt = laid.uncertainty(places) if len(places) else np.zeros(1)
    size = [show(value, "length", system) for value in (doubt.min(), doubt.max())]
    return [
        f"{len(laid.pairs)} pairs agree within {show(laid.pair_spread, 'length', system)}; "
        f"matching surfaces differ by {show(laid.noise, 'length', system)}.",
        f"{100.0 * laid.covered:.0f} % of {found.there} matches {found.here}, "
        f"{100.0 * laid.covers:.0f} % the other way round.",
        f"Uncertainty of the alignment: {size[0]} at best, {size[1]} at worst (95 %). A "
        "difference of the whole mesh, such as a hull that is wider everywhere, is not detected.",
        _scale_words(found, system),
    ]


def _scale_words(found: Deviation, system: System) -> str:
    laid = found.registration
    unit = show(laid.similarity.scale, "mesh unit", system)
    own = float(np.sqrt(laid.covariance[6, 6])) / laid.reach
    if laid.scale_kept:
        return (
            f"Its proven scale was kept: one unit is {unit} ± "
            f"{100.0 * laid.scale_uncertainty:.1f} %."
        )
    told = f"Its scale was solved: one unit is {unit} ± {100.0 * own:.2f} %"
    if laid.declared_scale is None:
        return told + "."
    off = laid.similarity.scale / laid.declared_scale - 1.0
    return told + f"; that is {100.0 * off:+.2f} % from what its unit gives."


def pair_table(found: Deviation) -> Table:
    """Every pair, in the final fit and against the others."""
    return Table(
        caption="Pairs",
        columns=columns(
            "Pair",
            *unprinted(*columns(("Forward", HEIGHT), ("To port", HEIGHT), ("Up", HEIGHT))),
            ("Deviation", SIZE),
            ("Deviation from the other pairs", SIZE),
        ),
        rows=tuple(
            Row(cells=(pair.name, *pair.place, pair.off, pair.left_out))
            for pair in found.registration.pairs
        ),
    )


def patch_table(found: Deviation, system: System, *, most: int | None = MOST_PATCHES) -> Table:
    """Places over the limit, less room first, numbered as in the picture."""
    return Table(
        caption=f"Areas that deviate by more than {show(found.limit, 'gap', system)}",
        columns=columns(
            NUMBER,
            "Direction",
            ("Maximum", SIZE),
            *unprinted(*columns(("Typical", SIZE), ("±", SIZE))),
            ("Area", AREA),
            *unprinted(*columns("Size")),
            "Where",
            *unprinted(*columns("Next to")),
        ),
        rows=tuple(
            _patch_row(n, patch, system) for n, patch in enumerate(found.patches[:most], 1)
        ),
    )


def _patch_row(number: int, patch: Patch, system: System) -> Row:
    inward = patch.worst < 0.0
    cells = (
        str(number),
        "inwards, less room" if inward else "outwards, more room",
        abs(patch.worst),
        abs(patch.typical),
        patch.uncertainty,
        patch.area,
        size_words(patch, system),
        where_words(patch, system),
        ", ".join(patch.beside),
    )
    return Row(cells=cells, severity="caution" if inward else None)


def size_words(patch: Patch, system: System) -> str:
    """Size of the patch, by its two longest sides along the boat's axes."""
    spans = sorted((high - low for low, high in zip(patch.low, patch.high, strict=True)))
    return show_row((spans[2], spans[1]), "size", system)


def where_words(patch: Patch, system: System) -> str:
    """The extent in the boat."""
    ways = (("fwd", "aft"), ("port", "stbd"), ("above sea", "below sea"))
    return "; ".join(
        _span(low, high, *way, system)
        for low, high, way in zip(patch.low, patch.high, ways, strict=True)
    )


def _span(low: float, high: float, more: str, less: str, system: System) -> str:
    if high - low < 0.02:
        middle = (low + high) / 2.0
        return f"{show(abs(middle), 'way', system)} {more if middle >= 0.0 else less}"
    if low >= 0.0:
        return f"{show_row((low, high), 'span', system)} {more}"
    if high <= 0.0:
        return f"{show_row((-high, -low), 'span', system)} {less}"
    return f"{show(-low, 'way', system)} {less} to {show(high, 'way', system)} {more}"


def module_table(found: Deviation) -> Table:
    """Every module at the same place in either mesh."""
    return Table(
        caption=f"The same layout here and in {found.there}",
        columns=columns(
            "Module",
            "Here",
            "There",
            ("Tightest gap here", SIZE),
            ("Tightest gap there", SIZE),
            *unprinted(*columns("Gap there to")),
        ),
        rows=tuple(_module_row(change) for change in found.modules),
    )


def _module_row(change: ModuleChange) -> Row:
    here, _ = standing_words(change.here, served=change.served_here)
    there, severity = standing_words(change.there, served=change.served_there)
    gaps = _known(change.gap_here), _known(change.gap_there)
    return Row(cells=(change.name, here, there, *gaps, change.meets_there), severity=severity)


def _known(gap: float) -> float | None:
    return gap if math.isfinite(gap) else None


def face_table(found: Deviation, system: System, *, everything: bool = False) -> Table:
    """By face of the modules: the gap in front of it in either mesh, largest loss first.

    Without `everything`, only faces against or next to something, where that has changed.
    """
    faces = [face for change in found.modules for face in change.faces]
    if not everything:
        faces = [face for face in faces if _stands_by(face)]
    faces.sort(key=lambda face: face.change if face.change is not None else math.inf)
    return Table(
        caption="By face" if everything else "Faces on or next to something",
        columns=columns(
            "Module",
            "Face",
            ("Gap here", SIZE),
            ("Gap there", SIZE),
            "Change",
            *unprinted(*columns("Limited by")),
        ),
        rows=tuple(_face_row(face, system) for face in faces),
    )


def _stands_by(face: FaceChange) -> bool:
    known = [gap for gap in (face.here, face.there) if gap is not None]
    return abs(face.change or 0.0) >= LEAST_CHANGE and min(known) <= NEXT_TO


def _face_row(face: FaceChange, system: System) -> Row:
    less = face.change is not None and face.change < 0.0
    cells = (
        face.module,
        face.face,
        face.here,
        face.there,
        change_words(face, system),
        face.meets_there,
    )
    return Row(cells=cells, severity="caution" if less else None)


def change_words(face: FaceChange, system: System) -> str:
    """ "18 mm less" or "12 mm more"."""
    if face.change is None:
        return NOTHING
    return f"{UNSURE.show(abs(face.change), system)} {'less' if face.change < 0.0 else 'more'}"
