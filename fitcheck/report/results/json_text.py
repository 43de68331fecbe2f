"""Data as the text of a JSON file."""

from __future__ import annotations

import json
import math
from typing import Any

import numpy as np


def json_text(data: Any) -> str:
    """The text of a JSON file; non-finite numbers become null."""
    return json.dumps(_finite(data), indent=1, allow_nan=False) + "\n"


def _finite(item: Any) -> Any:
    """The same with every number plain and finite, else null."""
    if isinstance(item, dict):
        return {key: _finite(value) for key, value in item.items()}
    if isinstance(item, list | tuple):
        return [_finite(value) for value in item]
    if isinstance(item, np.generic):
        item = item.item()
    if isinstance(item, float) and not math.isfinite(item):
        return None
    return item
