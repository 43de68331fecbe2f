"""Whether two values are equal in every field."""

from __future__ import annotations

import dataclasses
import math

import numpy as np


def same(a: object, b: object) -> bool:
    """Equal in every field; arrays by values and types, nan equal to nan."""
    if isinstance(a, np.ndarray):
        return (
            isinstance(b, np.ndarray)
            and a.dtype == b.dtype
            and np.array_equal(a, b, equal_nan=a.dtype.kind == "f")
        )
    if dataclasses.is_dataclass(a):
        return type(a) is type(b) and all(
            same(getattr(a, field.name), getattr(b, field.name)) for field in dataclasses.fields(a)
        )
    if isinstance(a, tuple):
        return isinstance(b, tuple) and len(a) == len(b) and all(map(same, a, b))
    a, b = (one.item() if isinstance(one, np.generic) else one for one in (a, b))
    if isinstance(a, float) and math.isnan(a):
        return isinstance(b, float) and math.isnan(b)
    return type(a) is type(b) and a == b
