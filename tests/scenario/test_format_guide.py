"""scenarios/FORMAT.md describes what the reader of scenario files does."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import trimesh
from pydantic_core import PydanticCustomError

from fitcheck.model.found.routes import HoseRoute
from fitcheck.pipeline import run
from fitcheck.scenario.schema.boat_schema import BoatTable
from fitcheck.scenario.schema.kit_schema import KitTable, LayoutTable
from fitcheck.scenario.schema.lines import Path as KeyPath
from fitcheck.scenario.schema.other_schema import OtherTable
from fitcheck.scenario.schema.quantities import Quantity
from fitcheck.scenario.schema.table import Table, find_table, keys_of
from fitcheck.units import parse
from tests.format_tables import GUIDE, filled_in, named, quantities, ranges, tables
from tests.specimens.scenario_texts import KIT, LAYOUT, faults_of, write_files

TEXT = GUIDE.read_text("utf-8")
KINDS = dict(re.findall(r"^\| ([a-z ]+) \| (`\".*) \|$", TEXT, flags=re.MULTILINE))


def test_every_table_of_the_format_is_in_the_guide() -> None:
    assert named(TEXT) == set(tables())


def test_the_guide_is_up_to_date() -> None:
    assert filled_in(TEXT) == TEXT, "run: python -m tests.format_tables"


@pytest.mark.parametrize("table", tables().values(), ids=lambda table: table.__name__)
def test_every_example_can_be_read(table: type[Table]) -> None:
    wanted: dict[str, object] = {}
    for key, field in keys_of(table).items():
        example = str((field.examples or [""])[0])
        assert field.description, key
        if not re.match(r"\[+(boat|kit|layout|other)\.", example):
            wanted[key] = tomllib.loads(f"value = {example}")["value"]
    headers = {key for key in keys_of(table) if key not in wanted}
    if "modules" in headers and table.__name__ == "KitTable":
        wanted["modules"] = tomllib.loads(KIT)["kit"]["modules"]
    read = table.model_validate(wanted)
    assert len(read.model_fields_set) == len(wanted)


ROOTS = {"boat": BoatTable, "kit": KitTable, "layout": LayoutTable, "other": OtherTable}


def shown(root: type[Table], path: KeyPath, value: Any) -> Iterator[tuple[type[Table], str]]:
    """Every key below a place of a file, with its table."""
    table = find_table(root, path)
    steps = value.items() if isinstance(value, dict) else enumerate(value)
    for step, inside in steps:
        if table is not None and isinstance(step, str):
            yield table, step
        if isinstance(inside, dict | list):
            yield from shown(root, (*path, step), inside)


def test_every_key_is_shown_by_a_shipped_scenario() -> None:
    """In its own table, because the same key elsewhere does not show where it belongs."""
    seen = {
        (table.__name__, key)
        for file in GUIDE.parent.glob("*.toml")
        for name, value in tomllib.loads(file.read_text("utf-8")).items()
        if name in ROOTS
        for table, key in shown(ROOTS[name], (), value)
    }
    asked = {(name, key) for name, table in tables().items() for key in keys_of(table)}
    # The unit of another mesh is read like that of the boat's own; measured rays take files too
    # large to ship, and tests/space/test_rays.py writes some.
    assert asked - seen == {
        ("OtherTable", "unit"),
        ("BoatTable", "rays"),
        ("BoatTable", "stations"),
    }


@pytest.mark.parametrize("kind", KINDS)
def test_every_quantity_of_the_guide_can_be_read(kind: str) -> None:
    texts = re.findall(r'`"([^"]+)"`', KINDS[kind])
    assert texts
    for text in texts:
        parse(text, kind.removesuffix(" of water"))


def test_messages_of_the_guide_are_real(tmp_path: Path) -> None:
    kit = KIT.replace('mass = "7.5 lb"', 'mass = "7.5"')
    path = write_files(tmp_path, kit=kit, layout=LAYOUT.replace("pitch", "pich"))
    said = [str(fault).replace(f"{tmp_path}/", "") for fault in faults_of(path)]
    shown = re.findall(r"```text\n(.*?)```", TEXT, flags=re.DOTALL)[0].splitlines()
    assert said == shown


@pytest.mark.parametrize("table", tables().values(), ids=lambda table: table.__name__)
def test_every_number_of_the_format_has_a_plausible_range(table: type[Table]) -> None:
    for key, field in keys_of(table).items():
        # Points picked on the mesh are in its own, unknown unit; plungers are a choice.
        if "float" in str(field.annotation) and not quantities(field):
            assert "picked" in str(field.examples) or key in ("up", "forward"), key
        for one in quantities(field):
            assert one.read(_written(one.least, one)) < one.read(_written(one.most, one))
            assert one.why


def _written(text: str, one: Quantity) -> str | float:
    return text if one.kind else float(text)


@pytest.mark.parametrize("one", ranges(), ids=lambda one: f"{one.least} to {one.most}")
def test_a_quantity_outside_its_range_is_refused(one: Quantity) -> None:
    number, _, unit = one.most.partition(" ")
    for factor in (1.001, 1e6):
        beyond = f"{float(number) * factor} {unit}".strip()
        with pytest.raises(PydanticCustomError, match="not plausible"):
            one.read(_written(beyond, one))


def test_the_small_scenario_of_the_guide_runs_as_the_guide_says(tmp_path: Path) -> None:
    (found,) = re.findall(r"<!-- small -->\n```toml\n(.*?)```", TEXT, re.DOTALL)
    locker = trimesh.creation.box((1.2, 0.8, 0.9))
    locker.apply_translation((0.6, 0.4, 0.45))
    locker.invert()
    locker.export(tmp_path / "locker.stl")
    (tmp_path / "locker.toml").write_text(found)
    result = run(tmp_path / "locker.toml")
    assert all(isinstance(hose, HoseRoute) for hose in result.routes.hoses)
    assert result.cut_joinery.safe
    assert {row.rule for row in result.order_hoses.reasons} == {"device-missing"}
