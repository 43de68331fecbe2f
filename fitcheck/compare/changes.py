"""What the same layout comes to in another mesh, and what to say of it."""

from __future__ import annotations

import math
from dataclasses import replace

from fitcheck.model.finding import Finding, Remedy
from fitcheck.model.found.deviation import FaceChange, ModuleChange, Patch
from fitcheck.model.found.fit import FaceGap, Fit, ModuleFit
from fitcheck.units import Metre, show

PRACTICE = "common practice, no source"
#: Inward places told one by one; the table has them all.
MOST_TOLD = 6


def module_changes(here: Fit, there: Fit) -> tuple[ModuleChange, ...]:
    """Every module of both, face by face."""
    return tuple(_module(module, there.module(module.name)) for module in here.modules)


def _module(here: ModuleFit, there: ModuleFit) -> ModuleChange:
    beyond = {gap.face: gap for gap in there.faces}
    return ModuleChange(
        name=here.name,
        here=here.verdict,
        there=there.verdict,
        served_here=_served(here),
        served_there=_served(there),
        gap_here=here.smallest_gap,
        gap_there=there.smallest_gap,
        meets_there=there.meets,
        faces=tuple(_face(here.name, gap, beyond.get(gap.face)) for gap in here.faces),
    )


def _served(module: ModuleFit) -> bool:
    return all(room.available >= room.wanted - 1e-9 for room in module.service)


def _face(module: str, here: FaceGap, there: FaceGap | None) -> FaceChange:
    return FaceChange(
        module=module,
        face=here.face,
        here=_finite(here.gap),
        there=None if there is None else _finite(there.gap),
        meets_here=here.meets,
        meets_there="" if there is None else there.meets,
    )


def _finite(gap: Metre) -> Metre | None:
    return gap if math.isfinite(gap) else None


def change_findings(
    name: str, changes: tuple[ModuleChange, ...], here: Fit, there: Fit
) -> tuple[Finding, ...]:
    """Modules that fit here and not there, those that got tight, and those that fit nowhere."""
    rows = []
    for change in changes:
        before, after = _fails(here, change.name), _fails(there, change.name)
        if after and change.there == "unseen" and not before:
            text = f"In {name} it stands where nothing was seen: nobody can say whether it fits."
            rows.append(_said("fail", "not-seen-there", change, text, name))
        elif after and not before:
            text = _lost(name, change, after[0])
            rows.append(_said("fail", "no-longer-fits", change, text, name))
        elif after:
            text = f"Fits neither here nor in {name}: {after[0].text}"
            rows.append(_said("fail", "fits-neither", change, text, name))
        elif change.there == "tight" and change.here == "fits":
            text = _less(name, change) + " It is tight there and not here."
            rows.append(_said("caution", "tight-there", change, text.strip(), name))
    return tuple(rows)


def _fails(fit: Fit, name: str) -> list[Finding]:
    return [row for row in fit.findings if row.subject == name and row.severity == "fail"]


def _lost(name: str, change: ModuleChange, said: Finding) -> str:
    if change.there != "clash":
        return f"Its service space is no longer there in {name}: {said.text}"
    return f"{_less(name, change)} It no longer fits there."


def _less(name: str, change: ModuleChange) -> str:
    """The tightest of the faces that lost: "its left face has 3 mm before it, 18 mm less"."""
    lost = [face for face in change.faces if face.change is not None and face.change < 0.0]
    if not lost:
        return f"In {name}:"
    worst = min(lost, key=lambda face: face.there or 0.0)
    left, less = worst.there or 0.0, -(worst.change or 0.0)
    before = f"{_mm(left)} before it" if left >= 0.0 else f"something {_mm(-left)} deep in it"
    met = f" ({worst.meets_there})" if worst.meets_there else ""
    return f"In {name} its {worst.face} face has {before}{met}, {_mm(less)} less."


def patch_findings(name: str, patches: tuple[Patch, ...], limit: Metre) -> tuple[Finding, ...]:
    """Where there is less room, the worst first; more room is a note."""
    inward = [patch for patch in patches if patch.worst < 0.0]
    outward = [patch for patch in patches if patch.worst > 0.0]
    rows = [_inward(name, patch, limit) for patch in inward[:MOST_TOLD]]
    if len(inward) > MOST_TOLD:
        rest = inward[MOST_TOLD:]
        many = "place stands" if len(rest) == 1 else "places stand"
        text = f"{len(rest)} smaller {many} inwards by more than {_mm(limit)}; see the table."
        rows.append(_plain("caution", "stands-inwards", name, text, -rest[0].worst, limit))
    if outward:
        text = (
            f"{len(outward)} {'place leaves' if len(outward) == 1 else 'places leave'} more room, "
            f"up to {_mm(outward[0].worst)} more: moved, or not there, or not scanned."
        )
        rows.append(_plain("note", "stands-outwards", name, text, outward[0].worst, limit))
    return tuple(rows)


def _inward(name: str, patch: Patch, limit: Metre) -> Finding:
    text = (
        f"Stands {_mm(-patch.worst)} inwards (typically {_mm(-patch.typical)}) over "
        f"{1e4 * patch.area:.0f} cm2, {spans_words(patch)}"
    )
    text += f", beside {', '.join(patch.beside)}." if patch.beside else "."
    if -patch.worst - patch.uncertainty < limit:
        text += f" One mesh lies on the other to {_mm(patch.uncertainty)}, so it may be less."
    remedy = Remedy(said="Measure that place on board before anything is built to fit it.")
    finding = _plain("caution", "stands-inwards", name, text, -patch.worst, limit)
    return replace(finding, place=patch.place, remedy=remedy)


def spans_words(patch: Patch) -> str:
    """From where to where: "0.35 to 0.80 m forward, 0.71 to 0.74 m to port, ..."."""
    ways = (("forward", "aft"), ("to port", "to starboard"), ("above the sea", "below the sea"))
    return ", ".join(
        _span(low, high, *way) for low, high, way in zip(patch.low, patch.high, ways, strict=True)
    )


def _span(low: Metre, high: Metre, more: str, less: str) -> str:
    if low >= 0.0:
        return f"{low:.2f} to {high:.2f} m {more}"
    if high <= 0.0:
        return f"{-high:.2f} to {-low:.2f} m {less}"
    return f"{-low:.2f} m {less} to {high:.2f} m {more}"


def _said(severity: str, rule: str, change: ModuleChange, text: str, name: str) -> Finding:
    return Finding(
        severity=severity,  # type: ignore[arg-type]
        rule=rule,
        subject=change.name,
        said=text,
        source=f"the same layout in {name}",
        value=change.gap_there if math.isfinite(change.gap_there) else None,
        unit="m",
        remedy=Remedy(said=f"Give {name} a layout of its own, and check it by itself."),
    )


def _plain(severity: str, rule: str, name: str, text: str, value: Metre, limit: Metre) -> Finding:
    return Finding(
        severity=severity,  # type: ignore[arg-type]
        rule=rule,
        subject=name,
        said=text,
        source=PRACTICE,
        value=value,
        limit=limit,
        unit="m",
    )


def _mm(length: Metre) -> str:
    return show(length, "length")
