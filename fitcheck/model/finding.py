"""Results common to all stages: findings, remedies, assumptions."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from fitcheck.findings.rule import SEVERITIES, Severity, Step
from fitcheck.findings.said import Said
from fitcheck.units import Point, Ratio, System, in_file, parse

#: Called with one short sentence whenever a stage has made progress.
Tell = Callable[[str | Said], None]


def silent(_: str | Said) -> None:
    """A listener that ignores progress."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One key of one scenario file and the value to write there (TOML value: text or list).

    kind : of a value that is an amount, or several, as for `units.in_file`; "" for a name
    """

    file: str
    key: str
    value: str | tuple[str, ...]
    kind: str = ""

    def written(self, system: System) -> str | tuple[str, ...]:
        """The value with its amounts in the units asked for."""
        if isinstance(self.value, tuple):
            return tuple(self._written(one, system) for one in self.value)
        return self._written(self.value, system)

    def _written(self, one: str, system: System) -> str:
        if not self.kind or system == "metric":
            return one
        return in_file(parse(one, self.kind), self.kind, system)


@dataclass(frozen=True, slots=True, kw_only=True)
class Remedy:
    """A remedy for a finding; `changes` can be applied mechanically (may be empty).

    `proven` is how it was tested before it is reported: "" not at all, "solved" by solving again,
    "run again" by the whole job with the changes made.
    """

    said: Said
    changes: tuple[Change, ...] = ()
    proven: Literal["", "solved", "run again"] = ""

    @property
    def text(self) -> str:
        """What to do, in words."""
        return self.said.text()


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One verdict on one subject.

    `rule` is a short fixed slug ("service-clearance"); `subject` a module, line or boat item;
    `value` and `limit` are SI in `unit`, None where the rule has no number; `place` is in the boat
    frame; `source` says where the limit comes from (a published source, the user's file, or
    "common practice, no source"); `alternatives` are further remedies, cheapest first; `bars` are
    the steps that are not safe while the finding exists, whatever its severity.
    """

    severity: Severity
    rule: str
    subject: str
    said: Said
    source: str
    value: Ratio | None = None
    limit: Ratio | None = None
    unit: str = "1"
    place: Point | None = None
    remedy: Remedy | None = None
    alternatives: tuple[Remedy, ...] = ()
    bars: tuple[Step, ...] = ()

    @property
    def text(self) -> str:
        """What was found, in words."""
        return self.said.text()


@dataclass(frozen=True, slots=True, kw_only=True)
class Assumption:
    """Something not measured or not given: what it is, the assumed value, its source."""

    said: Said
    taken: Said
    source: str
    can_flip: bool

    @property
    def what(self) -> str:
        """What is assumed, in words."""
        return self.said.text()

    @property
    def value(self) -> str:
        """The value taken for it, in words."""
        return self.taken.text()


__all__ = ["SEVERITIES", "Assumption", "Change", "Finding", "Remedy", "Severity", "Step", "Tell"]
