"""result.json: every number in SI, in the boat frame; keys are only ever added."""

from __future__ import annotations

import math
from dataclasses import asdict
from typing import Any

from fitcheck import __version__
from fitcheck.kept.written import FORMAT
from fitcheck.model.found.fit import FaceGap, ModuleFit, ServiceFit
from fitcheck.model.found.hydraulics import Governing
from fitcheck.model.found.routes import HoseRoute, Unrouted
from fitcheck.model.given.kit import WATER
from fitcheck.model.result import Hold, Result
from fitcheck.report.modules import base_centre, box_size
from fitcheck.report.results.json_text import json_text
from fitcheck.report.results.said import (
    assumption_data,
    cut_data,
    finding_data,
    item_data,
    remedy_data,
    state_data,
    summary_data,
)
from fitcheck.report.weights import total, weights, without_water

Json = dict[str, Any]


def as_json(result: Result) -> str:
    """The text of result.json without its list of files; non-finite numbers become null."""
    return json_text(as_data(result))


def as_data(result: Result) -> Json:
    """Everything in a Result that other programs may need, as plain dicts and lists.

    Boat frame, metres, radians, pascals, kilograms, cubic metres per second, degrees Celsius.
    """
    holds = {"cut_joinery": result.cut_joinery, "order_hoses": result.order_hoses}
    return {
        "version": __version__,
        "format": FORMAT,
        "date": result.date,
        "scenario": result.scenario.name,
        "verdict": result.verdict,
        "holds": {name: _hold(hold) for name, hold in holds.items()},
        "findings": [finding_data(row) for row in result.findings],
        "remedies": [remedy_data(row) for row in result.remedies],
        "assumptions": [assumption_data(row) for row in result.assumptions],
        "space": _space(result),
        "allowances": asdict(result.scenario.kit.allowances),
        "modules": _modules(result),
        "weight": _weight(result),
        "hoses": [_hose(result, hose) for hose in result.routes.hoses],
        "hydraulics": _hydraulics(result),
        "order": [item_data(item) for item in result.order.items],
        "cuts": [cut_data(cut) for cut in result.order.cuts],
        "inputs": [{"file": file.path, "sha256": file.sha256} for file in result.scenario.inputs],
    }


def _hold(hold: Hold) -> Json:
    reasons = [
        {"rule": row.rule, "subject": row.subject, "text": row.text} for row in hold.reasons
    ]
    return {"safe": hold.safe, "because": hold.because, "reasons": reasons}


def _space(result: Result) -> Json:
    space = result.space
    held = {board.name: board for board in result.fit.boards}
    return {
        "free_volume": space.free_volume,
        "unseen_volume": space.unseen_volume,
        "pitch": space.grid.pitch,
        "triangles": len(space.triangles),
        "scale": space.frame.scale,
        "scale_uncertainty": space.scale_uncertainty,
        "accuracy": space.accuracy,
        "height_uncertainty": space.height_uncertainty,
        "uncertainty": asdict(space.uncertainty),
        "boards": [
            {
                "name": board.name,
                "state": board.board,
                "size": [2.0 * board.box.half[0], 2.0 * board.box.half[1]],
                "thickness": 2.0 * board.box.half[2],
                "corners": board.box.corners().tolist(),
                "held_by": list(held[board.name].held_by) if board.name in held else None,
            }
            for board in space.boards
        ],
    }


def _modules(result: Result) -> list[Json]:
    placed = zip(result.fit.modules, weights(result), strict=True)
    return [
        _module(module)
        | {
            "base": base_centre(module),
            "rotate": result.scenario.layout.placement(module.name).rotate,
            "size": box_size(module),
            "mass_dry": weight.dry,
            "mass_at": weight.dry_centre,
        }
        for module, weight in placed
    ]


def _weight(result: Result) -> Json | None:
    """All modules together; None without a module."""
    every = weights(result)
    if not every:
        return None
    data = asdict(total(every))
    del data["name"]
    return data | {"water_density": WATER, "without_water": without_water(result)}


def _module(module: ModuleFit) -> Json:
    return {
        "name": module.name,
        "verdict": module.verdict,
        "smallest_gap": module.smallest_gap,
        **_met(module),
        "corners": module.box.corners().tolist(),
        "mass": module.mass,
        "carried_by": [asdict(row) for row in module.carried_by],
        "faces": [
            {"face": face.face, "gap": face.gap, "place": face.place, **_met(face)}
            for face in module.faces
        ],
        "service": [
            {
                "face": room.face,
                "kind": room.kind,
                "wanted": room.wanted,
                "available": room.available,
                "place": room.place,
                "verdict": room.verdict,
                "corners": room.box.corners().tolist(),
                **_met(room),
            }
            for room in module.service
        ],
    }


def _met(found: ModuleFit | FaceGap | ServiceFit) -> Json:
    """What decides a gap, its uncertainty, and everything within reach."""
    return {
        "meets": found.meets,
        "uncertainty": found.uncertainty,
        "contacts": [asdict(contact) for contact in found.contacts],
    }


def _hose(result: Result, hose: HoseRoute | Unrouted) -> Json:
    line = result.scenario.kit.line(hose.line)
    known = {
        "line": hose.line,
        "duty": line.duty,
        "from": str(line.start),
        "to": str(line.end),
        "hose": hose.hose,
        "routed": isinstance(hose, HoseRoute),
        "required_bend_radius": hose.required_bend_radius,
        "required_clearance": hose.required_clearance,
        "outside_diameter": hose.outside_diameter,
        "start": hose.start,
        "start_direction": hose.start_direction,
        "end": hose.end,
        "end_direction": hose.end_direction,
    }
    found = _route(result, hose) if isinstance(hose, HoseRoute) else _lost(hose)
    return known | found


def _route(result: Result, hose: HoseRoute) -> Json:
    cut = result.order.cut(hose.line)
    return {
        "length": hose.length,
        "bound": hose.bound,
        "bound_kind": hose.bound_kind,
        "smallest_bend_radius": hose.smallest_bend_radius,
        "clearance": hose.clearance,
        "clearance_to": hose.clearance_to,
        "uncertainty": hose.uncertainty,
        "clearance_uncertainty": hose.clearance_uncertainty,
        "contacts": [asdict(contact) for contact in hose.contacts],
        "straight": hose.straight,
        "cut_length": cut.cut_length if cut else None,
        "assembly": None if hose.assembly is None else asdict(hose.assembly),
        "wander": hose.wander,
        "mounting_spare": hose.mounting_spare if math.isfinite(hose.mounting_spare) else None,
        "fittings": list(hose.fittings),
        "fitting_loss_coefficient": hose.fitting_loss_coefficient,
        "holes": [asdict(result.space.hole(name)) for name in hose.holes],
        "legs": [asdict(leg) for leg in hose.legs],
        "bends": [asdict(bend) for bend in hose.bends],
        "path": hose.path.tolist(),
        "way": hose.way,
        "reach": hose.reach,
        "clips": [asdict(clip) for clip in hose.clips],
        "unsupported": [asdict(span) for span in hose.unsupported],
        "nearest_approach": None,
        "missing": None,
        "reason": None,
    }


#: What a hose without a route does not have: null, or an empty list.
_NULL = (
    *("length", "bound", "bound_kind", "smallest_bend_radius", "clearance", "clearance_to"),
    *("uncertainty", "clearance_uncertainty", "straight", "cut_length", "assembly", "wander"),
    *("mounting_spare", "fittings", "fitting_loss_coefficient", "way", "reach"),
)
_EMPTY = ("contacts", "holes", "legs", "bends", "path", "clips", "unsupported")


def _lost(hose: Unrouted) -> Json:
    """The same keys without a route: results are null, what was tried is listed."""
    told = {
        "at_least": hose.bound,
        "nearest_approach": hose.nearest_approach,
        "missing": hose.missing,
        "reason": hose.reason,
    }
    return dict.fromkeys(_NULL) | {name: [] for name in _EMPTY} | told


def _governing(row: Governing) -> Json:
    data = asdict(row)
    del data["said"], data["shown_as"]
    return {"quantity": row.quantity, "key": row.said.key, **data}


def _hydraulics(result: Result) -> Json:
    water = result.hydraulics
    return {
        "states": [state_data(state) for state in water.states],
        "lines": [asdict(line) for line in water.lines],
        "pumps": [asdict(pump) for pump in water.pumps],
        "summaries": [summary_data(row) for row in water.summaries],
        "back_pressures": [asdict(row) for row in water.back_pressures],
        "governing": [_governing(row) for row in water.governing],
        "turning_points": [asdict(row) for row in water.turning_points],
        "held": [asdict(row) for row in water.held],
        "envelope": None if water.envelope is None else asdict(water.envelope),
        "bypass": None if water.bypass is None else asdict(water.bypass),
        "flush": None if water.flush is None else asdict(water.flush),
    }
