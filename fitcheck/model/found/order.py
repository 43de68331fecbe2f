"""What to buy and how long to cut it."""

from __future__ import annotations

from dataclasses import dataclass

from fitcheck.findings.said import Said
from fitcheck.model.finding import Assumption, Finding
from fitcheck.units import Metre, Price, Ratio


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """One piece: the cut (or assembly) length of a line and its derivation."""

    line: str
    hose: str
    routed_length: Metre
    cut_length: Metre
    said: Said

    @property
    def because(self) -> str:
        """How the length was calculated, in words."""
        return self.said.text()


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderItem:
    """One row of the order: quantity of pieces or metres, by `unit` ("piece", "m")."""

    said: Said
    quantity: Ratio
    unit: str
    length: Metre | None
    for_lines: tuple[str, ...]
    price: Price | None
    remark: Said | None = None

    @property
    def item(self) -> str:
        """What to order, in words."""
        return self.said.text()

    @property
    def note(self) -> str:
        """A remark on it, in words; may be empty."""
        return self.remark.text() if self.remark else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """The cut list and the rows to order."""

    cuts: tuple[Cut, ...]
    items: tuple[OrderItem, ...]
    findings: tuple[Finding, ...]
    assumptions: tuple[Assumption, ...]

    def cut(self, line: str) -> Cut | None:
        """The cut of that line, None if it was not routed."""
        return next((cut for cut in self.cuts if cut.line == line), None)
