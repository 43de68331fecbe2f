"""What a box or a hose is close to: one contact per kind of thing."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from fitcheck.units import Metre, Point

#: `mesh`: a surface of the scan or drawing; `bit`: a small unconnected body of it; `edge`: the
#: edge of the grid; `unseen`: unseen cells; `glimpsed`: cells seen but not proven; `inside`: the
#: inside of a solid. `solid`: a declared solid or an existing board; `board`: a board to be built.
#: `hot`: the distance that hoses keep from a hot solid or keep-out.
Kind = Literal[
    "mesh",
    "bit",
    "edge",
    "unseen",
    "glimpsed",
    "inside",
    "module",
    "hose",
    "keep-out",
    "solid",
    "board",
    "hot",
]
#: Name of a thing met where its kind says it all.
CALLED: dict[Kind, str] = {
    "mesh": "hull or joinery",
    "bit": "loose piece",
    "edge": "the edge of the scan",
    "unseen": "unscanned space",
    "glimpsed": "weakly scanned space",
    "inside": "inside of a solid",
}
#: Description of a thing close to a hose, around its name.
_BY_A_HOSE: dict[Kind, str] = {
    "mesh": "hull or joinery",
    "unseen": "unscanned space",
    "glimpsed": "weakly scanned space",
    "edge": "the edge of the scan",
    "hose": "the hose {}",
    "keep-out": "the keep-out {}",
    "solid": "the solid {}",
    "board": "the solid {}",
    "hot": "the distance kept from {}",
}


def by_a_hose(kind: Kind, name: str = "") -> str:
    """What a hose is close to or clipped to, for people."""
    return _BY_A_HOSE.get(kind, "{}").format(name)


@dataclass(frozen=True, slots=True, kw_only=True)
class Contact:
    """The nearest thing of one kind: its name, the gap, the uncertainty of the gap, the place.

    gap is negative when the two overlap; uncertainty is at 95 %; `asked` is the gap required to a
    thing of this kind; `subject` is the name of the module, line, volume or board met, "" where
    the kind says it all.
    """

    kind: Kind
    subject: str
    gap: Metre
    uncertainty: Metre
    asked: Metre = 0.0
    place: Point | None = None

    @property
    def meets(self) -> str:
        """What is met, for people: its name, else the name of its kind."""
        return self.subject or CALLED.get(self.kind, "")

    @property
    def sure(self) -> Metre:
        """The gap that is certainly available [m]."""
        return self.gap - self.uncertainty

    @property
    def margin(self) -> Metre:
        """The certain gap less the required one; negative when it cannot be relied on [m]."""
        return self.sure - self.asked


def nearest(contacts: Iterable[Contact]) -> Contact:
    """The contact with the smallest gap, the first of equal ones. There must be one."""
    return min(contacts, key=lambda contact: contact.gap)


def worst(contacts: Iterable[Contact]) -> Contact | None:
    """The contact with the smallest margin, which decides a verdict, rather than the nearest."""
    return min(contacts, key=lambda contact: contact.margin, default=None)
