"""Which findings are consequences of others, by rule; a cause is resolved first.

A finding that may remain when the cause is resolved is not a consequence: a pump can lack NPSH at
an allowed vacuum, and a flow that cannot be delivered was calculated on hoses that have routes.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from fitcheck.findings.rules.fit import FIT
from fitcheck.findings.rules.order import ORDERS
from fitcheck.findings.rules.piping import PIPING
from fitcheck.findings.rules.routes import ROUTES
from fitcheck.findings.rules.water import WATER

#: What the lines and devices of the kit alone decide.
_OF_THE_KIT = frozenset(
    {
        "device-missing",
        "line-missing",
        "boat-port-role",
        "line-reversed",
        "line-without-flow",
        "water-stranded",
        "consumer-unknown",
        "backward-flow",
    }
)
#: All that is measured in the boat, which a wrong scale or a wrong boat frame invalidates.
MEASURED = (
    frozenset(row.rule for rows in (FIT, ROUTES, WATER, PIPING, ORDERS) for row in rows)
    - _OF_THE_KIT
) | {"port-blocked", "hole-blocked"}
#: Consequences of a misplaced module for itself and for the hoses at its ports.
_OF_A_PLACE = frozenset(
    {
        "tight",
        "service-clearance",
        "sunk",
        "not-carried",
        "no-route",
        "clearance-accuracy",
        "mounting",
        "unsupported-span",
        "port-blocked",
    }
)
#: Water without a path while a line is missing or leads elsewhere.
_WITHOUT_A_WAY = frozenset({"line-without-flow", "water-stranded"})

#: Consequences anywhere in the layout, by the rule of the cause.
EVERYWHERE: Mapping[str, frozenset[str]] = MappingProxyType(
    {
        "no-route": frozenset({"not-known", "not-ordered"}),
        "line-missing": _WITHOUT_A_WAY,
        "line-reversed": _WITHOUT_A_WAY | {"backward-flow"},
        "boat-port-role": _WITHOUT_A_WAY,
        "tape-disagreement": frozenset({"scale", "scale-unproven"}),
    }
)
#: Causes that invalidate all measurements if they fail.
OF_ALL = frozenset({"scale", "frame-doubted"})
#: Consequences at the module or boat port itself and at the lines that end there. A module through
#: a wall overlaps it and reaches beyond it: one move resolves both.
AT_THE_MODULE: Mapping[str, frozenset[str]] = MappingProxyType(
    {
        "outside": _OF_A_PLACE | {"clash", "unseen"},
        "clash": _OF_A_PLACE | {"unseen"},
        "unseen": _OF_A_PLACE,
        "standing": _OF_A_PLACE,
        "port-off-surface": frozenset({"port-blocked", "no-route"}),
        "port-blocked": frozenset({"no-route"}),
    }
)
