"""Which findings are consequences of others, by rule; a cause is mended first."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from fitcheck.findings.rules.fit import FIT
from fitcheck.findings.rules.order import ORDERS
from fitcheck.findings.rules.routes import ROUTES
from fitcheck.findings.rules.water import WATER

#: All that is measured in the boat, so that a wrong scale spoils it.
_MEASURED = frozenset(row.rule for rows in (FIT, ROUTES, WATER, ORDERS) for row in rows)
#: What a module in the wrong place does to itself and to the hoses at its ports.
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
#: What cannot be calculated or ordered while a line is missing or has no route.
_OF_A_LINE = frozenset({"not-known", "not-ordered", "largest-flow"})
_OF_THE_PIPING = _OF_A_LINE | {"line-without-flow", "water-stranded", "backward-flow"}

#: Consequences anywhere in the layout, by the rule of the cause.
EVERYWHERE: Mapping[str, frozenset[str]] = MappingProxyType(
    {
        "no-route": _OF_A_LINE,
        "line-missing": _OF_THE_PIPING,
        "line-reversed": _OF_THE_PIPING,
        "boat-port-role": _OF_THE_PIPING,
        "tape-disagreement": frozenset({"scale", "scale-unproven"}),
        "suction-vacuum": frozenset({"npsh-margin", "inlet-pressure", "suction-length"}),
    }
)
#: Consequences of a failed scale, which is wrong for everything measured.
OF_THE_SCALE = _MEASURED
#: Consequences at the module itself and at the lines that end there.
AT_THE_MODULE: Mapping[str, frozenset[str]] = MappingProxyType(
    dict.fromkeys(("clash", "outside", "unseen", "standing"), _OF_A_PLACE)
)
