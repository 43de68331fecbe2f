"""The fit of the same layout in another mesh, and the findings on it."""

from __future__ import annotations

import math
from dataclasses import replace

from fitcheck.findings.said import Said, length, quantities, quantity, say
from fitcheck.model.finding import Finding, Remedy
from fitcheck.model.found.deviation import FaceChange, ModuleChange, Patch
from fitcheck.model.found.fit import FaceGap, Fit, ModuleFit
from fitcheck.units import Metre

PRACTICE = "common practice, no source"
#: Maximum inward places reported one by one; the table has all of them.
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
        gap_here=_tightest(here),
        gap_there=_tightest(there),
        meets_there=met.meets if (met := there.tightest) else "",
        faces=tuple(_face(here.name, gap, beyond.get(gap.face)) for gap in here.faces),
    )


def _tightest(module: ModuleFit) -> Metre:
    return met.gap if (met := module.tightest) else math.inf


def _served(module: ModuleFit) -> bool:
    return all(room.verdict != "does not fit" for room in module.service)


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
    """Modules that fit here but not there, those that became tight, and those that fit nowhere."""
    rows = []
    for change in changes:
        before, after = _fails(here, change.name), _fails(there, change.name)
        if after and change.there == "unseen" and not before:
            text = say("not-seen-there.unseen", mesh=name)
            rows.append(_said("fail", "not-seen-there", change, text, name))
        elif after and not before:
            text = _lost(name, change, after[0])
            rows.append(_said("fail", "no-longer-fits", change, text, name))
        elif after:
            text = say("fits-neither.either", mesh=name, said=after[0].said)
            rows.append(_said("fail", "fits-neither", change, text, name))
        elif change.there == "tight" and change.here == "fits":
            text = say("tight-there.tight", less=_less(name, change))
            rows.append(_said("caution", "tight-there", change, text, name))
    return tuple(rows)


def _fails(fit: Fit, name: str) -> list[Finding]:
    return [row for row in fit.findings if row.subject == name and row.severity == "fail"]


def _lost(name: str, change: ModuleChange, said: Finding) -> Said:
    if change.there != "clash":
        return say("no-longer-fits.service", mesh=name, said=said.said)
    return say("no-longer-fits.box", less=_less(name, change))


def _less(name: str, change: ModuleChange) -> Said:
    """The face with the smallest gap among those that lost: "its left face has 3 mm in front of
    it, 18 mm less".
    """
    lost = [face for face in change.faces if face.change is not None and face.change < 0.0]
    if not lost:
        return say("face.none", mesh=name)
    worst = min(lost, key=lambda face: face.there or 0.0)
    left = worst.there or 0.0
    deep = say("face.deep", depth=length(-left)) if left < 0.0 else None
    return say(
        "face.less",
        mesh=name,
        face=worst.face,
        before=deep or say("face.before", gap=length(left)),
        met=say("face.met", met=worst.meets_there) if worst.meets_there else None,
        less=length(-(worst.change or 0.0)),
    )


def patch_findings(name: str, patches: tuple[Patch, ...], limit: Metre) -> tuple[Finding, ...]:
    """Places with less room, worst first; more room is a note."""
    inward = [patch for patch in patches if patch.worst < 0.0]
    outward = [patch for patch in patches if patch.worst > 0.0]
    rows = [_inward(name, patch, limit) for patch in inward[:MOST_TOLD]]
    if len(inward) > MOST_TOLD:
        rest = inward[MOST_TOLD:]
        text = say("stands-inwards.more", places=len(rest), limit=length(limit))
        rows.append(_plain("caution", "stands-inwards", name, text, -rest[0].worst, limit))
    if outward:
        most = length(outward[0].worst)
        text = say("stands-outwards.places", places=len(outward), most=most)
        rows.append(_plain("note", "stands-outwards", name, text, outward[0].worst, limit))
    return tuple(rows)


def _inward(name: str, patch: Patch, limit: Metre) -> Finding:
    doubt = beside = None
    if patch.beside:
        beside = say("stands-inwards.beside", modules=patch.beside)
    if -patch.worst - patch.uncertainty < limit:
        doubt = say("stands-inwards.doubt", within=length(patch.uncertainty))
    text = say(
        "stands-inwards.place",
        worst=length(-patch.worst),
        typical=length(-patch.typical),
        area=quantity(patch.area, "patch"),
        spans=_spans(patch),
        beside=beside,
        doubt=doubt,
    )
    remedy = Remedy(said=say("stands-inwards.remedy"))
    finding = _plain("caution", "stands-inwards", name, text, -patch.worst, limit)
    return replace(finding, place=patch.place, remedy=remedy)


def _spans(patch: Patch) -> list[Said]:
    """Extent: "0.35 to 0.80 m forward, 0.71 to 0.74 m to port, ..."."""
    ways = (
        (say("way.forward"), say("way.aft")),
        (say("way.port"), say("way.starboard")),
        (say("span.above"), say("span.below")),
    )
    rows = zip(patch.low, patch.high, ways, strict=True)
    return [_span(low, high, *way) for low, high, way in rows]


def _span(low: Metre, high: Metre, ahead: Said, back: Said) -> Said:
    if low >= 0.0:
        return say("span.one-side", span=quantities((low, high), "span"), way=ahead)
    if high <= 0.0:
        return say("span.one-side", span=quantities((-high, -low), "span"), way=back)
    less, more = quantity(-low, "way"), quantity(high, "way")
    return say("span.both-sides", less=less, back=back, more=more, ahead=ahead)


def _said(severity: str, rule: str, change: ModuleChange, text: Said, name: str) -> Finding:
    return Finding(
        severity=severity,  # type: ignore[arg-type]
        rule=rule,
        subject=change.name,
        said=text,
        source=f"the same layout in {name}",
        value=change.gap_there if math.isfinite(change.gap_there) else None,
        unit="m",
        remedy=Remedy(said=say("change.remedy", mesh=name)),
    )


def _plain(severity: str, rule: str, name: str, text: Said, value: Metre, limit: Metre) -> Finding:
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
