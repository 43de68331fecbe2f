"""A sound layout is safe to cut and to order; the same with a danger added is not."""

from __future__ import annotations

from pathlib import Path

import pytest

from fitcheck.pipeline import run
from tests.findings.kept_to_rows import faults, watched
from tests.layouts import dangers, sound

QUICK = ("pump_hangs_16_mm_over_the_sole", "no_line_overboard", "hoses_left_to_hang")


def test_a_sound_layout_allows_both_steps(tmp_path: Path) -> None:
    result = run(next(sound()).write(tmp_path))
    assert result.cut_joinery.reasons == ()
    assert result.order_hoses.reasons == ()


@pytest.mark.parametrize("name", QUICK)
def test_a_dangerous_layout_is_never_approved(tmp_path: Path, name: str) -> None:
    danger = next(row for row in dangers() if row.bay.name == name)
    with watched() as built:
        result = run(danger.bay.write(tmp_path))
    assert danger.cut or not result.cut_joinery.safe
    assert not result.order_hoses.safe
    for row in (*result.cut_joinery.reasons, *result.order_hoses.reasons):
        assert row.remedy is not None, row.text
    assert [row for finding in result.findings for row in faults(finding)] == []
    assert len({row.rule for row in built}) > 3
