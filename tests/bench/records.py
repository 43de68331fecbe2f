"""Measurements, one JSON object per line, so that a run can be stopped and resumed."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from tests import ROOT

Record = dict[str, Any]

CODE = ("fitcheck/routing", "fitcheck/geometry")
GENERATOR = ("bay", "curve", "grow", "parts", "problems")


def _mark(files: list[Path]) -> str:
    digest = hashlib.sha256()
    for file in sorted(files):
        digest.update(file.read_bytes())
    return digest.hexdigest()[:10]


def code_mark() -> str:
    """Changes with every change of the router."""
    return _mark([file for folder in CODE for file in (ROOT / folder).rglob("*.py")])


def problem_mark() -> str:
    """Changes with every change of the generator."""
    return _mark([ROOT / "tests/planted" / f"{name}.py" for name in GENERATOR])


class Store:
    """Records of a file; only those of this generator count, routes of older code included."""

    def __init__(self, file: Path) -> None:
        self.file = file
        self.code, self.problem = code_mark(), problem_mark()
        file.parent.mkdir(parents=True, exist_ok=True)
        self.records = list(self._read())

    def _read(self) -> Iterator[Record]:
        if self.file.exists():
            for line in self.file.read_text().splitlines():
                record = json.loads(line)
                if record["problem"] == self.problem:
                    yield record

    def add(self, record: Record) -> None:
        """Keep a record and write it at once."""
        record = {**record, "code": self.code, "problem": self.problem}
        self.records.append(record)
        with self.file.open("a") as out:
            out.write(json.dumps(record) + "\n")

    def of(self, kind: str, *, any_code: bool = False) -> dict[Any, Record]:
        """Records of a kind by key (seed, or seed and method); the last one wins."""
        return {
            key_of(record): record
            for record in self.records
            if record["kind"] == kind and (any_code or record["code"] == self.code)
        }

    def has(self, kind: str, key: Any, *, any_code: bool = False) -> bool:
        """Whether something has already been measured."""
        return key in self.of(kind, any_code=any_code)


def key_of(record: Record) -> Any:
    """The key that distinguishes records of one kind."""
    return (record["seed"], record["method"]) if "method" in record else record["seed"]
