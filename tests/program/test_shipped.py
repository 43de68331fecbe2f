"""Shipped scenarios that no other test runs: verdict, and the whole result read back equal."""

from __future__ import annotations

from pathlib import Path

import pytest

from fitcheck.pipeline import run
from tests import ROOT
from tests.specimens.done import written

#: What bars cutting joinery, by rule and subject.
BARRED = {
    "fails": {
        ("service-clearance", "prefilters"),
        ("not-carried", "strainer"),
        ("not-carried", "feed_pump"),
        ("not-carried", "prefilters"),
    },
    "demo_low_pump": {("not-carried", "feed_pump")},
}


@pytest.mark.parametrize("name", BARRED)
def test_a_shipped_scenario_is_refused_for_its_reasons_and_round_trips(
    name: str, tmp_path: Path
) -> None:
    done = written(run(ROOT / "scenarios" / f"{name}.toml"), tmp_path)
    reasons = done.result.cut_joinery.reasons
    assert {(row.rule, row.subject) for row in reasons} == BARRED[name]
    assert not done.result.order_hoses.safe
    done.every_hose_is_routed_and_right()
