"""The file of pairs to an Other, with all faults at once."""

from __future__ import annotations

from pathlib import Path

from fitcheck.errors import ScenarioError
from fitcheck.kept.inputs import digest, shown_path
from fitcheck.model.found.deviation import Other, Pair
from fitcheck.model.given.boat import TapeMeasure
from fitcheck.model.given.scenario import InputFile
from fitcheck.scenario.document import Document, missing_file, read_document
from fitcheck.scenario.faults import validate
from fitcheck.scenario.schema.other_schema import OtherTable
from fitcheck.scenario.schema.words import did_you_mean
from fitcheck.scenario.tree import Tree
from fitcheck.units import MESH_UNITS

FEWEST = 4


def read_other(path: Path, mesh: Path) -> Other:
    """Read a file of pairs for a mesh. Raises ScenarioError with all its faults."""
    document = read_document(path, None)
    if not isinstance(document, Document):
        raise ScenarioError(tuple(document))
    tree = Tree({"other": document})
    faults = [
        document.fault((name,), "is not a key of this file", did_you_mean(name, ("other",), ""))
        for name in document.data
        if name != "other"
    ]
    if not isinstance(document.data.get("other"), dict):
        remedy = "add a table [other] and four or more tables [[other.pairs]]"
        faults.append(document.fault(("other",), "there is no table [other]", remedy))
        raise ScenarioError(tuple(faults))
    table = validate(tree, "other")
    _check_pairs(tree)
    found = _mesh(tree, mesh)
    faults += tree.faults
    if faults or found is None:
        raise ScenarioError(tuple(faults))
    inputs = (InputFile(path=document.shown, sha256=document.sha256), found)
    return _other(table, document.shown, mesh, inputs)


def _check_pairs(tree: Tree) -> None:
    count = len(tree.items("other", "pairs"))
    if count < FEWEST:
        tree.fault(
            ("other", "pairs"),
            f"has {count} pairs where {FEWEST} or more are required",
            "pick more places on both meshes, spread over length, width and height",
        )
    names = [tree.text("other", "pairs", n, "name") for n in range(count)]
    for n, name in enumerate(names):
        if name and name in names[:n]:
            tree.fault(
                ("other", "pairs", n, "name"),
                f"'{name}' is already the name of a pair",
                "give each its own",
            )


def _mesh(tree: Tree, mesh: Path) -> InputFile | None:
    try:
        return InputFile(path=shown_path(mesh), sha256=digest(mesh))
    except (FileNotFoundError, IsADirectoryError, NotADirectoryError):
        tree.fault(("other",), *missing_file(mesh, Path()))
    except OSError as error:
        tree.fault(("other",), f"{mesh} cannot be read: {error.strerror}", "check its permissions")
    return None


def _other(table: OtherTable, file: str, mesh: Path, inputs: tuple[InputFile, ...]) -> Other:
    return Other(
        name=table.name or mesh.stem,
        mesh=str(mesh),
        file=file,
        origin=table.origin,
        unit=None if table.unit is None else MESH_UNITS[table.unit],
        accuracy=table.accuracy,
        viewpoints=tuple(table.viewpoints),
        tape_measures=tuple(
            TapeMeasure(start=tape.start, end=tape.end, length=tape.length, within=tape.within)
            for tape in table.tape
        ),
        pairs=tuple(
            Pair(name=pair.name, here=pair.here, there=pair.there) for pair in table.pairs
        ),
        inputs=inputs,
    )
