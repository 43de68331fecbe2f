"""Every finding the code can construct, read from its source: rule, severities, steps barred.

An expression is traced through conditions, local names, constants of modules and the arguments of
every call; anything that cannot be traced is an error, so that nothing is silently left out.
"""

from __future__ import annotations

import ast
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path

#: The fields of a finding that are traced.
CARRIED = ("rule", "severity", "bars")

Value = str | tuple["Value", ...]
Bound = Mapping[str, tuple[ast.expr | None, "Scope"]]


@dataclass
class Built:
    """The properties of findings of one rule."""

    severities: set[str] = field(default_factory=set)
    bars: set[str] = field(default_factory=set)
    where: set[str] = field(default_factory=set)


@dataclass(frozen=True)
class Scope:
    """A function of a file and the bindings of its parameters."""

    file: str
    function: ast.FunctionDef | None
    bound: Bound


class Source:
    """The source of a package, and the properties of its findings."""

    def __init__(self, files: Mapping[str, str]) -> None:
        self._trees = {name: ast.parse(text) for name, text in files.items()}

    @classmethod
    def of(cls, folder: Path) -> Source:
        """A package in a folder; files by their dotted names."""
        return cls(
            {
                ".".join(file.relative_to(folder.parent).with_suffix("").parts): file.read_text()
                for file in sorted(folder.rglob("*.py"))
            }
        )

    def built(self) -> dict[str, Built]:
        """For every rule, the properties of its findings."""
        found: dict[str, Built] = defaultdict(Built)
        for file, _, call in self._calls["replace"]:
            if {word.arg for word in call.keywords} & set(CARRIED):
                raise AssertionError(f"{file}:{call.lineno}: cannot follow {ast.unparse(call)}")
        for file, function, call in self._calls["Finding"]:
            for scope in self._scopes(file, function):
                given = _given(call, scope)
                bars = self._values(given["bars"], scope) if "bars" in given else set()
                for rule in self._values(given["rule"], scope):
                    row = found[str(rule)]
                    row.severities |= {str(one) for one in self._values(given["severity"], scope)}
                    row.bars |= {str(step) for one in bars for step in one}
                    row.where.add(f"{file}:{call.lineno}")
        return dict(found)

    @cached_property
    def _calls(self) -> dict[str, list[tuple[str, ast.FunctionDef | None, ast.Call]]]:
        """All calls by the plain name of the called function."""
        found: dict[str, list[tuple[str, ast.FunctionDef | None, ast.Call]]] = defaultdict(list)

        def walk(file: str, node: ast.AST, inside: ast.FunctionDef | None) -> None:
            if isinstance(node, ast.FunctionDef):
                inside = node
            if isinstance(node, ast.Call):
                called = node.func
                name = getattr(called, "id", getattr(called, "attr", ""))
                found[name].append((file, inside, node))
            for child in ast.iter_child_nodes(node):
                walk(file, child, inside)

        for file, tree in self._trees.items():
            walk(file, tree, None)
        return found

    def _scopes(self, file: str, function: ast.FunctionDef | None) -> Iterator[Scope]:
        """The function once for each call of it; once unbound where its parameters are unused."""
        if function is None or not _matter(function):
            yield Scope(file, function, {})
            return
        yield from self._called(file, function)

    def _called(self, file: str, function: ast.FunctionDef) -> Iterator[Scope]:
        """The function once for each call of it."""
        private = function.name.startswith("_")
        calls = [
            (where, inside, call)
            for where, inside, call in self._calls[function.name]
            if where == file or not private
        ]
        if not calls:
            raise AssertionError(f"{file}: {function.name} builds findings and nothing calls it")
        for where, inside, call in calls:
            for outer in self._scopes(where, inside):
                yield Scope(file, function, _bind(function, call, outer))

    def _values(self, node: ast.expr, scope: Scope) -> set[Value]:
        match node:
            case ast.Constant(value=str(text)):
                return {text}
            case ast.Constant(value=None):
                return set()
            case ast.JoinedStr():
                texts = {""}
                for part in node.values:
                    inner = part.value if isinstance(part, ast.FormattedValue) else part
                    more = self._values(inner, scope)
                    texts = {text + str(one) for text in texts for one in more}
                return set(texts)
            case ast.IfExp():
                return self._values(node.body, scope) | self._values(node.orelse, scope)
            case ast.Tuple():
                rows: list[tuple[Value, ...]] = [()]
                for one in node.elts:
                    rows = [(*row, more) for row in rows for more in self._values(one, scope)]
                return set(rows)
            case ast.Subscript(value=ast.Name(id=name)):
                table = self._constant(scope.file, name)
                if isinstance(table, ast.Dict):
                    return {one for row in table.values for one in self._values(row, scope)}
            case ast.Call(func=ast.Name(id=name)):
                home = self._function(scope.file, name)
                if home is not None:
                    return self._returned(*home)
            case ast.Name(id=name):
                return self._named(name, scope)
        raise AssertionError(f"{scope.file}:{node.lineno}: cannot follow {ast.unparse(node)}")

    def _named(self, name: str, scope: Scope) -> set[Value]:
        if name in scope.bound:
            given, outer = scope.bound[name]
            return set() if given is None else self._values(given, outer)
        if scope.function is not None:
            local = [
                node.value
                for node in ast.walk(scope.function)
                if isinstance(node, ast.Assign | ast.AnnAssign)
                and node.value is not None
                and name in {getattr(one, "id", "") for one in _targets(node)}
            ]
            if local:
                return {one for value in local for one in self._values(value, scope)}
            if name in _parameters(scope.function):
                return {
                    one
                    for called in self._called(scope.file, scope.function)
                    for one in self._named(name, called)
                }
        constant = self._constant(scope.file, name)
        if constant is not None:
            return self._values(constant, Scope(scope.file, None, {}))
        raise AssertionError(f"{scope.file}: cannot follow {name}")

    def _returned(self, file: str, function: ast.FunctionDef) -> set[Value]:
        """What a function without its own rule or severity may return."""
        scope = Scope(file, function, {})
        returns = [node for node in ast.walk(function) if isinstance(node, ast.Return)]
        return {one for node in returns if node.value for one in self._values(node.value, scope)}

    def _function(self, file: str, name: str) -> tuple[str, ast.FunctionDef] | None:
        """The location of a function called by a plain name, following imports."""
        for node in self._trees[file].body:
            if isinstance(node, ast.FunctionDef) and node.name == name:
                return file, node
            if isinstance(node, ast.ImportFrom) and node.module in self._trees:
                for one in node.names:
                    if (one.asname or one.name) == name:
                        return self._function(node.module, one.name)
        return None

    def _constant(self, file: str, name: str) -> ast.expr | None:
        """The value of a name of a module, following imports."""
        for node in self._trees[file].body:
            if isinstance(node, ast.Assign | ast.AnnAssign) and name in {
                getattr(one, "id", "") for one in _targets(node)
            }:
                return node.value
            if isinstance(node, ast.ImportFrom) and node.module in self._trees:
                for one in node.names:
                    if (one.asname or one.name) == name:
                        return self._constant(node.module, one.name)
        return None


def _targets(node: ast.Assign | ast.AnnAssign) -> list[ast.expr]:
    return node.targets if isinstance(node, ast.Assign) else [node.target]


def _parameters(function: ast.FunctionDef) -> dict[str, ast.expr | None]:
    """Parameters in their order, with their defaults."""
    plain = [*function.args.posonlyargs, *function.args.args]
    lacking: list[ast.expr | None] = [None] * (len(plain) - len(function.args.defaults))
    rows = dict(zip([one.arg for one in plain], [*lacking, *function.args.defaults], strict=True))
    named = [one.arg for one in function.args.kwonlyargs]
    return rows | dict(zip(named, function.args.kw_defaults, strict=True))


def _matter(function: ast.FunctionDef) -> bool:
    """Whether an argument of a call may be a rule, a severity or a step barred."""
    return bool(set(CARRIED) & set(_parameters(function))) or bool(function.args.kwarg)


def _bind(function: ast.FunctionDef, call: ast.Call, outer: Scope) -> Bound:
    parameters = _parameters(function)
    inner = Scope(outer.file, None, {})
    bound: dict[str, tuple[ast.expr | None, Scope]] = {
        name: (default, inner) for name, default in parameters.items()
    }
    for name, value in zip(parameters, call.args, strict=False):
        bound[name] = (value, outer)
    for word in call.keywords:
        if word.arg:
            bound[word.arg] = (word.value, outer)
    return bound


def _given(call: ast.Call, scope: Scope) -> dict[str, ast.expr]:
    """The arguments a finding is built with; those passed on as `**more` are looked up by name."""
    given = {word.arg: word.value for word in call.keywords if word.arg}
    if len(given) < len(call.keywords):
        given |= {
            name: ast.Name(id=name, lineno=call.lineno) for name in CARRIED if name in scope.bound
        }
    if not {"rule", "severity"} <= set(given):
        raise AssertionError(f"{scope.file}:{call.lineno}: cannot follow {ast.unparse(call)}")
    return given
