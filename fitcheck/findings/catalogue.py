"""All rules, chapter by chapter."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from fitcheck.findings.comparison import COMPARISON
from fitcheck.findings.datum import DATUM
from fitcheck.findings.fit import FIT
from fitcheck.findings.mesh import MESH
from fitcheck.findings.order import ORDERS
from fitcheck.findings.piping import PIPING
from fitcheck.findings.routes import ROUTES
from fitcheck.findings.rule import Rule
from fitcheck.findings.water import WATER

CHAPTERS: tuple[tuple[str, tuple[Rule, ...]], ...] = (
    ("Mesh and compartment", MESH),
    ("Scale, level and sea", DATUM),
    ("Modules and boards", FIT),
    ("Hoses", ROUTES),
    ("Pumps, pressures and flows", WATER),
    ("How the water is led", PIPING),
    ("Order", ORDERS),
    ("Another mesh", COMPARISON),
)

CATALOGUE: Mapping[str, Rule] = MappingProxyType(
    {row.rule: row for _, rows in CHAPTERS for row in rows}
)
