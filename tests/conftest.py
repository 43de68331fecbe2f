"""Tests never use the cache of an earlier run; slow files run first."""

import os

import pytest

os.environ["FITCHECK_CACHE"] = "off"

#: Rooms with the slowest files: started first, so that they do not run alone at the end.
FIRST = ("tests/program", "tests/routing", "tests/fit", "tests/space", "tests/hydraulics")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Sort by room, stable within a room."""
    items.sort(key=lambda item: next((n for n, at in enumerate(FIRST) if at in item.nodeid), 9))
