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


def read_said(data: Json) -> Said:
    """A sentence as `_said` wrote it. Raises KeyError where there is no such sentence any more."""
    blanks = tuple((name, _read(value)) for name, value in data.items() if name != "sentence")
    said = Said(data["sentence"], blanks)
    said.text()
    return said


def _read(value: Any) -> Blank:
    if isinstance(value, list):
        return tuple(_read(item) for item in value)
    if not isinstance(value, dict):
        return value
    if "sentence" in value:
        return read_said(value)
    amount = value["value"]
    return Quantity(tuple(amount) if isinstance(amount, list) else amount, value["kind"])


def _said(said: Said) -> Json:
    return {"sentence": said.key, **{name: _blank(value) for name, value in said.blanks}}


def _blank(value: Blank) -> Any:
    if isinstance(value, Said):
        return _said(value)
    if isinstance(value, Quantity):
        return {"value": value.value, "kind": value.kind}
    return [_blank(item) for item in value] if isinstance(value, tuple) else value
