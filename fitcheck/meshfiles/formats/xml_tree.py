"""Read XML with all counts limited: no entities, no outside files, no unlimited depth."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any
from xml.parsers import expat

import numpy as np
from numpy.typing import NDArray

from fitcheck.errors import MeshError
from fitcheck.meshfiles.reading import REEXPORT, THIN, decimal, whole

#: A mesh of ten million triangles has this many elements in 3MF.
MAX_ELEMENTS = 16_000_000
#: A tree of its own keeps every element, so the limit is lower.
MAX_TREE = 300_000
MAX_DEPTH = 200

Attributes = dict[str, str]


@dataclass(slots=True)
class Element:
    """One element: name without its namespace, attributes likewise, text, children."""

    tag: str
    attributes: Attributes
    text: str = ""
    children: list[Element] = field(default_factory=list)

    def all(self, tag: str) -> Iterator[Element]:
        """Children with that name."""
        return (child for child in self.children if child.tag == tag)

    def first(self, tag: str) -> Element | None:
        """The first child with that name."""
        return next(self.all(tag), None)

    def walk(self) -> Iterator[Element]:
        """This element and all its descendants."""
        stack = [self]
        while stack:
            element = stack.pop()
            yield element
            stack += reversed(element.children)


def stream(
    parts: Iterable[bytes],
    name: str,
    start: Callable[[str, Attributes], None],
    end: Callable[[str], None],
    most: int = MAX_ELEMENTS,
    text: Callable[[str], None] | None = None,
) -> None:
    """Call start and end for every element of an XML text that arrives in parts.

    Raises MeshError for text that is not well-formed, declares entities, or exceeds the limits.
    """
    parser = expat.ParserCreate()
    count, depth = 0, 0

    def on_start(tag: str, attributes: Attributes) -> None:
        nonlocal count, depth
        count, depth = count + 1, depth + 1
        if count > most:
            raise MeshError(name, f"has more than {most:,} XML elements", THIN)
        if depth > MAX_DEPTH:
            raise MeshError(name, f"its XML is nested more than {MAX_DEPTH} deep", REEXPORT)
        start(_bare(tag), attributes)

    def on_end(tag: str) -> None:
        nonlocal depth
        depth -= 1
        end(_bare(tag))

    def on_doctype(*_: object) -> None:
        raise MeshError(name, "its XML declares its own entities", REEXPORT)

    parser.StartElementHandler, parser.EndElementHandler = on_start, on_end
    parser.StartDoctypeDeclHandler = on_doctype
    if text is not None:
        parser.buffer_text = True
        parser.CharacterDataHandler = text
    try:
        for part in parts:
            parser.Parse(part, False)
        parser.Parse(b"", True)
    except expat.ExpatError as error:
        seen = f"its XML is cut short or damaged at line {error.lineno}"
        raise MeshError(name, seen, REEXPORT) from None


def read_tree(parts: Iterable[bytes], name: str) -> Element:
    """The whole of a small XML text as a tree. Raises MeshError."""
    root = Element("", {})
    stack, pieces = [root], [[""]]

    def start(tag: str, attributes: Attributes) -> None:
        element = Element(tag, {_bare(key): value for key, value in attributes.items()})
        stack[-1].children.append(element)
        stack.append(element)
        pieces.append([])

    def end(_: str) -> None:
        stack.pop().text = "".join(pieces.pop())

    stream(parts, name, start, end, MAX_TREE, lambda piece: pieces[-1].append(piece))
    return root.children[0]


def numbers(text: str, name: str, kind: type = float) -> NDArray[Any]:
    """Numbers separated by white space. Raises MeshError for anything else."""
    read: Callable[[bytes], float] = whole if kind is int else decimal
    try:
        return np.fromiter((read(word.encode()) for word in _words(text)), dtype=kind)
    except (ValueError, OverflowError):
        raise MeshError(name, "contains text instead of numbers", REEXPORT) from None


def _words(text: str, step: int = 1 << 20) -> Iterator[str]:
    """Words of a long text, without building a list of all of them."""
    start = 0
    while start < len(text):
        end = min(start + step, len(text))
        while end < len(text) and not text[end].isspace():
            end += 1
        yield from text[start:end].split()
        start = end


def _bare(tag: str) -> str:
    return tag.rpartition(":")[2]
