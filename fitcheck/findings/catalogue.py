"""All rules, chapter by chapter."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from fitcheck.findings.rule import SEVERITIES, Rule
from fitcheck.findings.rules.comparison import COMPARISON
from fitcheck.findings.rules.datum import DATUM
from fitcheck.findings.rules.fit import FIT
from fitcheck.findings.rules.mesh import MESH
from fitcheck.findings.rules.order import ORDERS
from fitcheck.findings.rules.piping import PIPING
from fitcheck.findings.rules.routes import ROUTES
from fitcheck.findings.rules.water import WATER

CHAPTERS: tuple[tuple[str, tuple[Rule, ...]], ...] = (
    ("Mesh and compartment", MESH),
    ("Scale, level and sea", DATUM),
    ("Modules and boards", FIT),
    ("Hoses", ROUTES),
    ("Pumps, pressures and flows", WATER),
    ("Lines and openings", PIPING),
    ("Order", ORDERS),
    ("Another mesh", COMPARISON),
)

CATALOGUE: Mapping[str, Rule] = MappingProxyType(
    {row.rule: row for _, rows in CHAPTERS for row in rows}
)


def row_of(rule: str) -> Rule:
    """The row of a rule; a row with the name only for a rule of an older result."""
    unknown = Rule(rule=rule, title=rule.replace("-", " "), meaning="", severities=SEVERITIES)
    return CATALOGUE.get(rule, unknown)
