"""Nothing kept by an earlier run is taken for what a test is about; long files go first."""

import os

import pytest

os.environ["FITCHECK_CACHE"] = "off"

#: Rooms whose files take longest: none of them is left for the end, when other cores have nothing.
FIRST = ("tests/program", "tests/routing", "tests/fit", "tests/space", "tests/hydraulics")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Sort by room, stable within a room."""
    items.sort(key=lambda item: next((n for n, at in enumerate(FIRST) if at in item.nodeid), 9))
