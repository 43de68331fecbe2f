"""The largest number that passes."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from fitcheck.hydraulics.network.halving import largest

SHARES = st.floats(0.0, 1.0)


@given(edge=SHARES, low=st.floats(-5.0, 0.0), high=st.floats(1.0, 5.0))
def test_the_result_passes_and_slightly_more_fails(edge: float, low: float, high: float) -> None:
    found = largest(lambda value: value <= edge, low, high, 20)
    assert found is not None
    step = (high - low) / 2**20
    assert found <= edge
    assert found + step * (1 + 1e-6) > edge


def test_the_ends_of_the_range_are_handled() -> None:
    assert largest(lambda _: False, 0.0, 1.0, 20) is None
    assert largest(lambda _: True, 0.0, 1.0, 20) == 1.0
