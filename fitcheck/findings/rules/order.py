"""What to buy."""

from __future__ import annotations

from fitcheck.findings.rule import FILES, PRACTICE, Rule

ORDERS = (
    Rule(
        rule="not-ordered",
        title="not in the order",
        meaning="A line is not in the order, because no route was found.",
        severities=("caution",),
    ),
    Rule(
        rule="straight-under-pressure",
        title="straight high-pressure hose",
        meaning="A high-pressure hose runs straight and pulls on its ends when it shortens.",
        severities=("caution",),
        limit="no pull on its ends",
        origins=(PRACTICE,),
    ),
    Rule(
        rule="longer-than-sold",
        title="longer than the hose is sold",
        meaning="A line needs one piece longer than its hose is sold.",
        severities=("fail",),
        limit="the longest piece sold",
        origins=(FILES,),
        remedies=("words",),
    ),
    Rule(
        rule="assembly-too-long",
        title="assembly too long",
        meaning="The shortest assembly sold is much longer than the line needs.",
        severities=("caution",),
        limit="the maximum excess before a caution",
        origins=(FILES,),
    ),
)
