"""A frozen dataclass of the model, with all its contents, as bytes and back.

The bytes are a zip archive: data.json, in which a dataclass is an object that names its class, a
tuple a list, and an array the name of an entry of the archive; and the arrays as numpy writes
them. Only dataclasses of the model, findings and geometry are restored; nothing in the bytes is
executed.
"""

from __future__ import annotations

import dataclasses
import importlib
import json
import math
import zipfile
from contextlib import suppress
from functools import cache
from io import BytesIO
from typing import Any

import numpy as np
from numpy.typing import NDArray

#: Keys of a JSON object that stand for types JSON does not have.
_CLASS, _ARRAY, _NUMBER, _DICT = "class", "array", "number", "dict"
#: Packages whose dataclasses are restored.
_HOMES = ("model.", "findings.", "geometry.")
_Arrays = dict[str, NDArray[Any]]
#: Maximum unpacked size [byte], since the archive may come from somebody else.
MOST = 4_000_000_000


def packed(value: object) -> bytes:
    """The bytes of a dataclass, identical for equal ones. Raises TypeError for anything but plain
    data.

    The entries have no timestamp, so that the hash of the bytes depends only on their content.
    """
    arrays: _Arrays = {}
    text = json.dumps(_coded(value, arrays), allow_nan=False)
    whole = BytesIO()
    with zipfile.ZipFile(whole, "w") as archive:
        _add(archive, "data.json", text.encode())
        for name, array in arrays.items():
            entry = BytesIO()
            np.lib.format.write_array(entry, array, allow_pickle=False)
            _add(archive, name, entry.getvalue())
    return whole.getvalue()


def _add(archive: zipfile.ZipFile, name: str, content: bytes) -> None:
    archive.writestr(zipfile.ZipInfo(name), content, zipfile.ZIP_DEFLATED, compresslevel=1)


def unpacked(content: bytes) -> Any:
    """The dataclass that was passed to `packed`. Raises ValueError where the bytes
    contain none.
    """
    try:
        with zipfile.ZipFile(BytesIO(content)) as archive:
            if sum(entry.file_size for entry in archive.infolist()) > MOST:
                raise ValueError("no kept result: it is too large")
            arrays = {}
            for name in archive.namelist():
                if name != "data.json":
                    with archive.open(name) as entry:
                        arrays[name] = np.lib.format.read_array(entry, allow_pickle=False)
            return _decoded(json.loads(archive.read("data.json")), arrays)
    except (
        zipfile.BadZipFile,
        KeyError,
        TypeError,
        EOFError,
        RecursionError,
        MemoryError,
    ) as error:
        raise ValueError(f"no kept result: {error}") from error


def _coded(value: object, arrays: _Arrays) -> Any:
    if isinstance(value, np.generic):
        value = value.item()
    if value is None or isinstance(value, str | bool | int):
        return value
    if isinstance(value, float):
        return float(value) if math.isfinite(value) else {_NUMBER: repr(float(value))}
    if isinstance(value, tuple):
        return [_coded(item, arrays) for item in value]
    if isinstance(value, np.ndarray):
        name = f"{len(arrays)}.npy"
        arrays[name] = value
        return {_ARRAY: name}
    if isinstance(value, dict):
        return {_DICT: [[_coded(k, arrays), _coded(v, arrays)] for k, v in value.items()]}
    if dataclasses.is_dataclass(value) and _named(type(value)).startswith(_HOMES):
        fields = {
            field.name: _coded(getattr(value, field.name), arrays)
            for field in dataclasses.fields(value)
        }
        return {_CLASS: _named(type(value)), **fields}
    raise TypeError(f"{type(value).__name__} is no plain data")


def _decoded(data: Any, arrays: _Arrays) -> Any:
    if isinstance(data, list):
        return tuple(_decoded(item, arrays) for item in data)
    if not isinstance(data, dict):
        return data
    if _CLASS in data:
        fields = {name: _decoded(item, arrays) for name, item in data.items() if name != _CLASS}
        return _class(data[_CLASS])(**fields)
    if _ARRAY in data:
        return arrays[data[_ARRAY]]
    if _NUMBER in data:
        return float(data[_NUMBER])
    return {_decoded(k, arrays): _decoded(v, arrays) for k, v in data[_DICT]}


def _named(kind: type) -> str:
    return f"{kind.__module__.removeprefix('fitcheck.')}.{kind.__qualname__}"


@cache
def _class(name: str) -> type:
    """The dataclass of a name; only its own module is loaded."""
    if not name.startswith(_HOMES):
        raise ValueError(f"no kept result: it names a class {name!r}")
    home, _, own = name.rpartition(".")
    with suppress(ImportError):
        found = vars(importlib.import_module(f"fitcheck.{home}")).get(own)
        if isinstance(found, type) and dataclasses.is_dataclass(found) and _named(found) == name:
            return found
    raise ValueError(f"no kept result: it names a class {name!r}")
