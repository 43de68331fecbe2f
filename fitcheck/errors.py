"""What can go wrong that is not a verdict.

FitcheckError
  ScenarioError      every fault of every file, together
  MeshError          the mesh cannot be used: what was seen, what to do
  OutOfRangeError    a correlation or curve used beyond its published range
  ConvergenceError   a solve that did not reach its residual
ValidityWarning      usable, but outside the published range
"""

from __future__ import annotations

from dataclasses import dataclass

_LONGEST = 600
NO_MEMORY = "not enough memory; take a coarser pitch, thin the mesh or free memory"


def shown(text: str) -> str:
    """Any text as one line: control characters by number, a long one shortened in the middle.

    The end is kept, because it contains the remedy.
    """
    plain = "".join(one if one.isprintable() else ascii(one)[1:-1] for one in text)
    if len(plain) <= _LONGEST:
        return plain
    head, tail = plain[: _LONGEST // 2], plain[-_LONGEST // 3 :]
    return f"{head} ... ({len(plain) - len(head) - len(tail)} characters left out) ... {tail}"


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class Fault:
    """One fault in one file, with what to write instead."""

    file: str
    line: int
    key: str
    text: str
    remedy: str

    def __str__(self) -> str:
        remedy = f"; {self.remedy}" if self.remedy else ""
        return shown(f"{self.file}:{self.line}: {self.key}: {self.text}{remedy}")


def drawing_fault(what: str, error: Exception) -> str:
    """One line on a failed drawing; nothing else is lost with it."""
    said = " ".join(str(error).split())[:200]
    return f"no {what}: drawing it failed ({type(error).__name__}: {said}); all else is written"


def in_words(error: BaseException) -> str:
    """The message for anything that ended a run; for a program fault without its traceback."""
    if isinstance(error, FitcheckError):
        return str(error)
    if isinstance(error, MemoryError):
        return NO_MEMORY
    if isinstance(error, OSError):
        where = error.filename if error.filename is not None else "the output"
        return shown(
            f"{where}: {error.strerror or error}; check that it can be read or written and that "
            "there is room"
        )
    said = " ".join(str(error).split())[:120]
    return shown(f"a fault of fitcheck itself, not of your files ({type(error).__name__}: {said})")


class FitcheckError(Exception):
    """Base of every error a user can fix."""


class ScenarioError(FitcheckError):
    """The scenario files cannot be used; contains all faults at once."""

    def __init__(self, faults: tuple[Fault, ...]) -> None:
        self.faults = tuple(sorted(faults))
        super().__init__("\n".join(str(fault) for fault in self.faults))


class MeshError(FitcheckError):
    """The mesh file cannot be used; says what was found and what to do.

    key : the key of the boat file that is at fault
    """

    def __init__(self, file: str, seen: str, remedy: str, key: str = "boat.mesh") -> None:
        self.file, self.seen, self.remedy, self.key = file, seen, remedy, key
        super().__init__(shown(f"{file}: {seen}; {remedy}"))

    def located(self, boat_file: str, line: int) -> MeshError:
        """The same error with file, line and key of the scenario."""
        where = f"{self.key}: {self.file}" if self.key == "boat.mesh" else self.key
        if self.file.startswith(self.key):
            where = self.file
        return MeshError(f"{boat_file}:{line}: {where}", self.seen, self.remedy, self.key)


class OutOfRangeError(FitcheckError):
    """A quantity is outside the validity range of its source."""

    def __init__(self, quantity: str, value: str, valid: str, source: str) -> None:
        self.quantity, self.value, self.valid, self.source = quantity, value, valid, source
        super().__init__(f"{quantity} {value} is outside {valid} ({source})")


class ConvergenceError(FitcheckError):
    """A numerical solve did not reach its required residual."""

    def __init__(self, what: str, residual: str) -> None:
        self.what, self.residual = what, residual
        super().__init__(f"{what} did not converge: {residual}")


class ValidityWarning(UserWarning):
    """The value is usable but outside the published range of its source."""
