"""Files to Scenario: every file and every fault in one pass."""

from __future__ import annotations

import tomllib
from pathlib import Path as FilePath
from typing import Any

from fitcheck.errors import Fault, ScenarioError
from fitcheck.kept.inputs import BOAT_FILES, digest, shown_path
from fitcheck.model.given.kit import Kit
from fitcheck.model.given.scenario import InputFile, Scenario
from fitcheck.scenario.build import build_boat, build_kit, build_layout
from fitcheck.scenario.checks.boat_checks import check_boat
from fitcheck.scenario.checks.kit_checks import check_kit
from fitcheck.scenario.checks.line_checks import check_layout, check_lines
from fitcheck.scenario.document import (
    SECTIONS,
    Document,
    key_text,
    missing_file,
    read_document,
)
from fitcheck.scenario.faults import validate, where_it_belongs
from fitcheck.scenario.schema.kit_schema import KitTable, LayoutTable
from fitcheck.scenario.schema.words import did_you_mean, listed, near
from fitcheck.scenario.tree import Tree

_TOP = ("name", "about", "uses", *SECTIONS)
#: Placeholder kit where only the boat is read.
NO_KIT = KitTable.model_construct(name="no kit", modules={})


def read_scenario(path: FilePath | str, *, boat_alone: bool = False) -> Scenario:
    """Read a scenario file and the files it uses; with `boat_alone`, kit and layout may be
    missing.

    Raises ScenarioError with every fault of every file: what is wrong, where, what to write.
    """
    path = FilePath(path)
    documents, faults = _read_all(path)
    tree = Tree(_homes(documents, faults))
    _note_misplaced(documents, tree)
    alone = boat_alone and not (tree.has("kit") or tree.has("layout"))
    if not faults:
        _note_missing_sections(documents, tree, faults, ("boat",) if alone else SECTIONS)
    there = [section for section in SECTIONS if tree.has(section)]
    tables = {section: validate(tree, section) for section in there}
    if "boat" in there:
        check_boat(tree)
    if "kit" in there:
        check_kit(tree)
        check_lines(tree)
    if "layout" in there:
        check_layout(tree)
    named = {key: _named(tree, key) for key in BOAT_FILES} if "boat" in there else {}
    faults += tree.faults
    if faults or named.get("mesh") is None:
        raise ScenarioError(tuple(faults))
    return _scenario(path, documents, tree, tables, {k: f for k, f in named.items() if f})


def read_kit(path: FilePath | str) -> Kit:
    """Read the kit alone, from a kit file or from a scenario that uses one.

    Raises ScenarioError with every fault of [kit]; boat and layout are ignored.
    """
    path = FilePath(path)
    documents, faults = _read_all(path)
    homes = _homes(documents, faults)
    tree = Tree({"kit": homes["kit"]} if "kit" in homes else {})
    if not faults and not tree.has("kit"):
        said, remedy = "there is no [kit] in it", "give a kit file, or a scenario that uses one"
        faults.append(documents[0].fault(("kit",), said, remedy))
    if faults:
        raise ScenarioError(tuple(faults))
    table = validate(tree, "kit")
    check_kit(tree)
    check_lines(tree)
    if tree.faults or table is None:
        raise ScenarioError(tuple(tree.faults))
    return build_kit(table, FilePath(tree.home("kit").shown).stem)


def _scenario(
    path: FilePath,
    documents: list[Document],
    tree: Tree,
    tables: dict[str, Any],
    named: dict[str, InputFile],
) -> Scenario:
    home = tree.home("boat").shown
    files = {one: tree.home(one).shown if tree.has(one) else home for one in SECTIONS}
    stems = {section: FilePath(file).stem for section, file in files.items()}
    inputs = [InputFile(path=one.shown, sha256=one.sha256) for one in documents]
    return Scenario(
        name=documents[0].data.get("name", path.stem),
        about=documents[0].data.get("about", ""),
        boat=build_boat(
            tables["boat"], stems["boat"], {key: file.path for key, file in named.items()}
        ),
        kit=build_kit(tables.get("kit") or NO_KIT, stems["kit"]),
        layout=build_layout(tables.get("layout") or LayoutTable(), stems["layout"]),
        boat_file=files["boat"],
        kit_file=files["kit"],
        layout_file=files["layout"],
        inputs=(*inputs, *named.values()),
        lines={key_text(key): at.line for key, at in tree.home("boat").places.items()},
    )


# --- the files --------------------------------------------------------------------------------


def _read_all(path: FilePath) -> tuple[list[Document], list[Fault]]:
    """The scenario file and the files it uses, and any that cannot be read."""
    first = read_document(path, None)
    if not isinstance(first, Document):
        return [], first
    documents, faults = [first], _top_faults(first, _TOP)
    for number, name in enumerate(_uses(first, faults)):
        key = ("uses", number)
        if name in first.data["uses"][:number]:
            faults.append(first.fault(key, f"'{name}' is already named", "name each file once"))
            continue
        used = read_document(first.folder / name, (first, key))
        if isinstance(used, Document):
            documents.append(used)
            faults += _top_faults(used, SECTIONS)
        else:
            faults += used
    return documents, faults


def _uses(document: Document, faults: list[Fault]) -> list[str]:
    uses = document.data.get("uses", [])
    example = 'write e.g. uses = ["boat.toml", "kit.toml", "layout.toml"]'
    if isinstance(uses, list) and all(isinstance(name, str) and name.strip() for name in uses):
        return uses
    faults.append(document.fault(("uses",), "is not a list of file names in quotes", example))
    return []


def _top_faults(document: Document, known: tuple[str, ...]) -> list[Fault]:
    """Faults of the keys outside any table."""
    faults = []
    for name, value in document.data.items():
        if name not in known:
            said, remedy = "is not a key of this file", did_you_mean(name, known, "the keys are")
            if name in _TOP:
                said = "belongs in the scenario file that names this one"
                remedy = "move it there"
            elif name == "other":
                said = "describes another mesh, so this is no scenario"
                remedy = "give it after --pairs: fitcheck deviation SCENARIO MESH --pairs FILE"
            elif near(name, known) is None:
                remedy = where_it_belongs(name, value) or remedy
            faults.append(document.fault((name,), said, remedy))
        elif name in SECTIONS and not isinstance(value, dict):
            faults.append(document.fault((name,), "is not a table", f"write a table [{name}]"))
        elif name in ("name", "about") and not isinstance(value, str):
            said = "is not text in quotes"
            faults.append(document.fault((name,), said, f'write e.g. {name} = "my boat"'))
    return faults


def _homes(documents: list[Document], faults: list[Fault]) -> dict[str, Document]:
    """Which file contains each section; a second one is a fault."""
    homes: dict[str, Document] = {}
    for document in documents:
        for section in SECTIONS:
            if not isinstance(document.data.get(section), dict):
                continue
            if section in homes:
                said = f"[{section}] is already in {homes[section].shown}"
                remedy = f"keep all of [{section}] in one file"
                faults.append(document.fault((section,), said, remedy))
            homes.setdefault(section, document)
    return homes


def _note_misplaced(documents: list[Document], tree: Tree) -> None:
    """Note tables under an unknown name, or in a second file of the same section."""
    for document in documents:
        for name, value in document.data.items():
            if name not in SECTIONS or (tree.has(name) and tree.home(name) is not document):
                tree.misplaced(name, value)


def _note_missing_sections(
    documents: list[Document], tree: Tree, faults: list[Fault], wanted: tuple[str, ...]
) -> None:
    """Sections that no file contains; only reported if every file could be read."""
    missing = [section for section in wanted if not tree.has(section)]
    if not missing:
        return
    first = documents[0]
    names = " and no ".join(f"[{section}]" for section in missing)
    where = "any of the files" if len(documents) > 1 else "this file"
    said = f"there is no {names} in {where}"
    remedy = "add what is missing, or name the files that hold it in `uses`"
    if len(missing) > 1 and len(documents) == 1 and (users := _users(first)):
        remedy = f"give the scenario that uses this file: {listed(users)}"
    faults.append(first.fault((missing[0],), said, remedy))


def _users(document: Document) -> list[str]:
    """The scenario files in the same folder that use a file."""
    own = FilePath(document.shown)
    found = []
    for file in sorted(own.parent.glob("*.toml")):
        try:
            uses = tomllib.loads(file.read_text("utf-8-sig")).get("uses", ())
        except (OSError, ValueError, RecursionError):
            continue
        if own.name in uses:
            found.append(shown_path(file))
    return found


def _named(tree: Tree, name: str) -> InputFile | None:
    """A file the boat names and its digest, or a fault in the tree."""
    key = ("boat", name)
    text = tree.text(*key)
    if not text:
        return None
    path = tree.home("boat").folder / text
    try:
        return InputFile(path=shown_path(path), sha256=digest(path))
    except (FileNotFoundError, IsADirectoryError, NotADirectoryError):
        tree.fault(key, *missing_file(path, tree.home("boat").folder))
    except OSError as error:
        tree.fault(key, f"cannot be read: {error.strerror}", "check its permissions")
    return None
