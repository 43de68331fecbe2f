"""Every rule a finding may carry: what it says, by which limit, and what it may stop.

rules_table()          all rules, a line or two each
rule_told("clash")     one in full
CATALOGUE["clash"]     its row
"""

from fitcheck.findings.catalogue import CATALOGUE, CHAPTERS
from fitcheck.findings.rule import Origin, RemedyKind, Rule
from fitcheck.findings.told import rule_told, rules_table

__all__ = [
    "CATALOGUE",
    "CHAPTERS",
    "Origin",
    "RemedyKind",
    "Rule",
    "rule_told",
    "rules_table",
]
