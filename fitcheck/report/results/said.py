"""Sentences in result.json: the text, and the key and values it was formatted from."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from fitcheck.findings.said import Blank, Quantity, Said
from fitcheck.model.finding import Assumption, Finding, Remedy
from fitcheck.model.found.hydraulics import LineSummary, State
from fitcheck.model.found.order import Cut, OrderItem

Json = dict[str, Any]


def finding_data(row: Finding) -> Json:
    """A finding in words and as data: the sentence key, and the values of its blanks."""
    return asdict(row) | {
        "text": row.text,
        "said": _said(row.said),
        "remedy": remedy_data(row.remedy) if row.remedy else None,
        "alternatives": [remedy_data(remedy) for remedy in row.alternatives],
    }


def remedy_data(row: Remedy) -> Json:
    """A remedy in words and as data."""
    return asdict(row) | {"text": row.text, "said": _said(row.said)}


def assumption_data(row: Assumption) -> Json:
    """An assumption in words and as data."""
    return asdict(row) | {
        "what": row.what,
        "value": row.value,
        "said": _said(row.said),
        "taken": _said(row.taken),
    }


def state_data(row: State) -> Json:
    """A state with the parts its name was formatted from."""
    return asdict(row) | {"said": _said(row.said)}


def summary_data(row: LineSummary) -> Json:
    """The judgement of a line in words and as data."""
    return asdict(row) | {"verdict": row.verdict, "said": _said(row.said)}


def item_data(row: OrderItem) -> Json:
    """A row of the order in words and as data."""
    return asdict(row) | {
        "item": row.item,
        "note": row.note,
        "said": _said(row.said),
        "remark": _said(row.remark) if row.remark else None,
    }


def cut_data(row: Cut) -> Json:
    """A piece to cut, with the derivation of its length in words and as data."""
    return asdict(row) | {"because": row.because, "said": _said(row.said)}


def _said(said: Said) -> Json:
    return {"sentence": said.key, **{name: _blank(value) for name, value in said.blanks}}


def _blank(value: Blank) -> Any:
    if isinstance(value, Said):
        return _said(value)
    if isinstance(value, Quantity):
        return {"value": value.value, "kind": value.kind}
    return [_blank(item) for item in value] if isinstance(value, tuple) else value
