"""No verdict or number depends on a sentence, a heading or the spelling of a name."""

from __future__ import annotations

import dataclasses
import hashlib
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from fitcheck.findings import said
from fitcheck.findings.said import Said
from fitcheck.findings.sentences import SENTENCES
from fitcheck.model.finding import Assumption, Change, Finding, Remedy
from fitcheck.model.found.routes import Unrouted
from fitcheck.model.result import Hold, Result
from fitcheck.pipeline import run
from fitcheck.report import modules, numbers
from fitcheck.report.tables import as_csv
from tests.layouts import Bay, dangers, sound

#: Texts for people; none of them decides anything.
SAID: dict[type, tuple[str, ...]] = {
    Finding: ("said", "source"),
    Remedy: ("said",),
    Assumption: ("said", "taken", "source"),
    Unrouted: ("said",),
}
#: The file of a change depends on the folder of the test.
LEFT_OUT = SAID | {Change: ("file",)}
#: Columns of the tables that repeat sentences.
NOTES = ("Note", "Because", "Item")
NONSENSE = "zq"

Facts = dict[str, Any]


def thin_and_hot() -> Bay:
    """A sound layout with a shelf, a hot engine in front of it and too thin a suction hose."""
    made = list(sound())[2]
    boat, kit, layout = (made.tables[key] for key in ("boat", "kit", "layout"))
    boat["solids"] = [
        {
            "name": "engine",
            "corners": [made.picked((0.7, 0.25, -0.39)), made.picked((0.9, 0.4, -0.2))],
            "distance": "40 mm",
        }
    ]
    kit["hoses"]["s19"]["bore"] = "6 mm"
    layout["modules"]["vessel"]["at"][0] = "0.2600 m"
    return made


def no_way() -> Bay:
    """A wall between a port and everything else."""
    return next(row.bay for row in dangers() if row.bay.name == "a_wall_shuts_the_tank_off")


def clashes() -> Bay:
    """The pumps overlap each other, and the vessel overlaps the bulkhead."""
    made = list(sound())[2]
    modules = made.tables["layout"]["modules"]
    modules["feed"]["at"][0] = "0.0000 m"
    modules["vessel"]["at"][0] = "1.2000 m"
    return made


SPECIMENS: dict[str, Callable[[], Bay]] = {
    "clash": clashes,
    "thin": thin_and_hot,
    "wall": no_way,
}


def nonsense(text: str | Said) -> str | Said:
    """A replacement for every text, the same for equal texts."""
    if isinstance(text, Said) or text.startswith(NONSENSE) or not text:
        return text
    return NONSENSE + hashlib.sha256(text.encode()).hexdigest()[:12]


def scramble(monkeypatch: pytest.MonkeyPatch) -> None:
    """From now on every sentence is nonsense, and every other text too, as soon as it is built."""
    others = {key: str(nonsense(text)) for key, text in SENTENCES.items()}
    monkeypatch.setattr(said, "SENTENCES", others)

    def scrambled(plain: Callable[..., None], keys: tuple[str, ...]) -> Callable[..., None]:
        def build(self: object, **given: Any) -> None:
            plain(self, **given | {key: nonsense(given[key]) for key in keys if key in given})

        return build

    for kind, keys in SAID.items():
        monkeypatch.setattr(kind, "__init__", scrambled(kind.__init__, keys))


def facts(result: Result) -> Facts:
    """Everything in a result and in its tables, except sentences."""
    words = [hose.reason for hose in result.routes.hoses if isinstance(hose, Unrouted)]
    words += [row.verdict for row in result.hydraulics.summaries]
    words.sort(key=len, reverse=True)
    holds = {name: getattr(result, name) for name in ("cut_joinery", "order_hoses")}
    tables = {
        name: as_csv(_unsaid(table, words), "metric")
        for name, table in {
            "hoses": numbers.hose_sheet(result),
            "hose rows": numbers.hose_table(result),
            "clips": numbers.clip_table(result),
            "order": numbers.order_sheet(result),
            "cuts": numbers.cut_table(result),
            "fit": modules.fit_table(result, "metric"),
        }.items()
    }
    stages = ("space", "fit", "routes", "hydraulics", "order")
    told = {name: _plain(getattr(result, name)) for name in stages}
    return {"verdict": result.verdict, **_plain(holds), **told, **tables}


def _unsaid(table: numbers.Table, words: list[str]) -> numbers.Table:
    """A table without its notes, and its verdicts without the stages' sentences."""

    def bare(heading: str, cell: Any) -> Any:
        if isinstance(cell, Said):
            return ""
        if heading == "Verdict":
            for said in words:
                cell = cell.replace(said, "")
        return cell

    kept = [(n, row.heading) for n, row in enumerate(table.columns) if row.heading not in NOTES]
    return dataclasses.replace(
        table,
        columns=tuple(table.columns[n] for n, _ in kept),
        rows=tuple(
            dataclasses.replace(
                row, cells=tuple(bare(heading, row.cells[n]) for n, heading in kept)
            )
            for row in table.rows
        ),
    )


def _plain(value: Any) -> Any:
    if isinstance(value, Hold):
        return {"safe": value.safe, "reasons": _plain(value.reasons)}
    if dataclasses.is_dataclass(value):
        left_out = LEFT_OUT.get(type(value), ())
        names = [row.name for row in dataclasses.fields(value) if row.name not in left_out]
        return {name: _plain(getattr(value, name)) for name in names}
    if isinstance(value, np.ndarray):
        return [value.shape, hashlib.sha256(np.ascontiguousarray(value).tobytes()).hexdigest()]
    if isinstance(value, tuple | list):
        return [_plain(one) for one in value]
    if isinstance(value, dict):
        return {_plain(key): _plain(one) for key, one in value.items()}
    return value


def differing(first: Any, second: Any, at: str = "") -> list[str]:
    """Where two sets of facts differ."""
    if isinstance(first, dict) and isinstance(second, dict) and first.keys() == second.keys():
        return [row for key in first for row in differing(first[key], second[key], f"{at}/{key}")]
    if isinstance(first, list) and isinstance(second, list) and len(first) == len(second):
        rows = enumerate(zip(first, second, strict=True))
        return [row for n, (a, b) in rows for row in differing(a, b, f"{at}/{n}")]
    same = first == second or (first != first and second != second)
    return [] if same else [f"{at}: {first!r} {second!r}"]


#: Meaningless names, and names that mean something to a person, in the same order.
MODULES = {"feed": ("xm1", "compartment"), "hp": ("xm2", "inside"), "vessel": ("xm3", "unseen")}
LINES = {
    "suck": ("xq1", "caution"),
    "feedline": ("xq2", "fails"),
    "hpl": ("xq3", "fine"),
    "brine": ("xq4", "nothing"),
    "product": ("xq5", "a-bit"),
}
VOLUMES = {"engine": ("xv1", "inside of a solid"), "pump shelf": ("xv2", "the solid engine")}


def renamed(tables: Any, which: int) -> Any:
    """The same tables with modules, lines and volumes under one or the other set of names."""
    if isinstance(tables, list):
        return [renamed(row, which) for row in tables]
    if isinstance(tables, str):
        owner, dot, port = tables.partition(".")
        return f"{MODULES[owner][which]}.{port}" if dot and owner in MODULES else tables
    if not isinstance(tables, dict):
        return tables
    table = {key: renamed(value, which) for key, value in tables.items()}
    for kind, names in (("modules", MODULES), ("lines", LINES)):
        if kind in table:
            table[kind] = {names[key][which]: row for key, row in table[kind].items()}
    for key, names in (("module", MODULES), ("name", VOLUMES)):
        if table.get(key) in names:
            table[key] = names[table[key]][which]
    return table


def written(specimen: str, which: int, folder: Path) -> Path:
    """A specimen with one of its two sets of names."""
    made = SPECIMENS[specimen]()
    made.tables["layout"]["pitch"] = "30 mm"
    made.tables = renamed(made.tables, which)
    return made.write(folder)


@pytest.mark.parametrize("specimen", sorted(SPECIMENS))
def test_nonsense_sentences_and_misleading_names_change_no_verdict(
    specimen: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As it is, and with nonsense sentences and other names: identical apart from those."""
    as_it_is = facts(run(written(specimen, 0, tmp_path / "plain")))
    scramble(monkeypatch)
    told = run(written(specimen, 1, tmp_path / "other"))
    assert {row.text[:2] for row in told.findings} == {NONSENSE}
    names = dict([*MODULES.values(), *LINES.values(), *VOLUMES.values()])
    assert differing(by_other_names(as_it_is, names), facts(told)) == []


def by_other_names(found: Any, names: dict[str, str]) -> Any:
    """Facts with every name replaced by its counterpart."""
    if isinstance(found, dict):
        return {key: by_other_names(value, names) for key, value in found.items()}
    if isinstance(found, list):
        return [by_other_names(value, names) for value in found]
    if not isinstance(found, str):
        return found
    return re.sub(rf"\b({'|'.join(names)})\b", lambda one: names[one[0]], found)
