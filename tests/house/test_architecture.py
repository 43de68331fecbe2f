"""House rules that can be checked automatically."""

from __future__ import annotations

import ast
import dataclasses
import importlib
import pkgutil
import subprocess
import sys
import typing
from collections.abc import Iterator
from pathlib import Path

import pytest

import fitcheck
import fitcheck.model

PACKAGE = Path(fitcheck.__file__).parent
FILES = sorted(PACKAGE.rglob("*.py"))
FORBIDDEN_NAMES = {"utils", "util", "helpers", "helper", "manager", "handler", "common", "misc"}
HOMES = {
    "pyvista": ("view",),
    "vtkmodules": ("view",),
    "trimesh": ("report",),
    "cascadio": ("meshfiles",),
    "laspy": ("meshfiles",),
    "pye57": ("meshfiles",),
    "fluids": ("hydraulics",),
    "gsw": ("hydraulics",),
    "numba": ("geometry", "meshfiles", "space", "fit", "routing", "kernels.py"),
    "networkx": ("hydraulics", "routing"),
    "pydantic": ("scenario",),
    "rich": ("report",),
}


def model_classes() -> list[type]:
    """Every dataclass of the model."""
    found = []
    for module in pkgutil.walk_packages(fitcheck.model.__path__, "fitcheck.model."):
        content = vars(importlib.import_module(module.name)).values()
        found += [item for item in content if isinstance(item, type)]
    return sorted(
        {item for item in found if dataclasses.is_dataclass(item)}, key=lambda item: item.__name__
    )


def bare_floats(annotation: object) -> Iterator[object]:
    """Floats without a unit from Annotated."""
    if annotation is float:
        yield annotation
    elif typing.get_origin(annotation) is not typing.Annotated:
        for part in typing.get_args(annotation):
            yield from bare_floats(part)


@pytest.mark.parametrize("item", model_classes(), ids=lambda item: item.__name__)
def test_every_number_of_the_model_has_a_unit(item: type) -> None:
    hints = typing.get_type_hints(item, include_extras=True)
    assert [name for name, hint in hints.items() if list(bare_floats(hint))] == []


@pytest.mark.parametrize("item", model_classes(), ids=lambda item: item.__name__)
def test_the_model_is_frozen(item: type) -> None:
    assert item.__dataclass_params__.frozen  # type: ignore[attr-defined]


def test_a_bare_float_would_be_caught() -> None:
    assert list(bare_floats(tuple[float, int])) == [float]


@pytest.mark.parametrize("file", FILES, ids=lambda file: str(file.relative_to(PACKAGE)))
def test_every_file_has_a_docstring(file: Path) -> None:
    tree = ast.parse(file.read_text())
    assert ast.get_docstring(tree)
    assert file.stem not in FORBIDDEN_NAMES


@pytest.mark.parametrize(
    "package",
    [file for file in FILES if file.name == "__init__.py"],
    ids=lambda file: str(file.relative_to(PACKAGE)),
)
def test_a_package_exports_no_name_of_its_own_modules(package: Path) -> None:
    """A module imported later would replace the exported name."""
    inside = {file.stem for file in package.parent.glob("*.py")}
    inside |= {file.parent.name for file in package.parent.glob("*/__init__.py")}
    offered = {
        name.asname or name.name
        for node in ast.parse(package.read_text()).body
        if isinstance(node, ast.ImportFrom) and node.module
        for name in node.names
        if node.module.split(".")[-1] != name.name
    }
    assert offered & inside == set()


def imports_of(file: Path) -> Iterator[str]:
    """Top-level names a file imports."""
    for node in ast.walk(ast.parse(file.read_text())):
        if isinstance(node, ast.Import):
            yield from (name.name.split(".")[0] for name in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield node.module.split(".")[0]


@pytest.mark.parametrize("file", FILES, ids=lambda file: str(file.relative_to(PACKAGE)))
def test_heavy_libraries_are_imported_in_their_room_only(file: Path) -> None:
    room = file.relative_to(PACKAGE).parts[0]
    strays = {name for name in imports_of(file) if name in HOMES and room not in HOMES[name]}
    assert strays == set()


@pytest.mark.parametrize("file", FILES, ids=lambda file: str(file.relative_to(PACKAGE)))
def test_public_names_have_docstrings(file: Path) -> None:
    tree = ast.parse(file.read_text())
    bare = [
        node.name
        for node in tree.body
        if isinstance(node, ast.FunctionDef | ast.ClassDef)
        and not node.name.startswith("_")
        and not ast.get_docstring(node)
    ]
    assert bare == []


def test_help_loads_no_heavy_library() -> None:
    heavy = ("numpy", "scipy", "numba", "trimesh", "pyvista", "pydantic", "rich", "networkx")
    code = (
        "import sys\n"
        "from fitcheck.cli import main\n"
        "try:\n    main(['--help'])\nexcept SystemExit:\n    pass\n"
        f"print([name for name in {heavy!r} if name in sys.modules])"
    )
    answer = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    assert answer.stdout.strip().endswith("[]")


def test_import_contract_holds() -> None:
    root = PACKAGE.parent
    answer = subprocess.run(
        [sys.executable, "-c", "from importlinter.cli import lint_imports_command as c; c()"],
        cwd=root,
        capture_output=True,
        text=True,
        check=False,
    )
    assert answer.returncode == 0, answer.stdout + answer.stderr
