"""Mistakes that make a text invalid TOML, and what to write instead."""

from __future__ import annotations

import re
from dataclasses import dataclass

_WHERE = re.compile(r"\s*\(at (?:line (\d+), column (\d+)|end of document)\)$")
_CURLY = str.maketrans(dict.fromkeys("“”„‟«»″", '"') | dict.fromkeys("‘’‚‛", "'"))
_UNSEEN = re.compile("[\u00a0\u00ad\u2000-\u200f\u2028-\u202f\u205f\u2060\u3000\ufeff]")
_KEY = r"\s*[A-Za-z0-9_.-]+\s*"
_STRING = r"(?:\"[^\"]*\"|'[^']*')"
_NAME = rf"(?:[\w-]+|{_STRING})"
_HEADER = re.compile(r"\s*\[\[?\s*[A-Za-z][^\"'=]*|[\w.-]+\.[\w.-]+\]+\s*")
_GOOD_HEADER = re.compile(
    rf"\s*(\[\[?)\s*{_NAME}(?:\s*\.\s*{_NAME})*\s*(\]\]?)\s*(?:#.*)?", re.ASCII
)
_NUMBER = r"[-+−]?(?:\d+[.,]?\d*|[.,]\d+)"
_BARE_QUANTITY = re.compile(rf"{_NUMBER}(?:/\d+)?(?: \d+/\d+)?\s*[A-Za-z%°\"'].*")
_BARE_WORDS = re.compile(r"[-+./]*[A-Za-z][\w .,/+-]*")
_BACKSLASH = "\\"


@dataclass(frozen=True, slots=True)
class Mistake:
    """A mistake in one line (from 1) of a text: the problem, and what to write instead."""

    line: int
    text: str
    remedy: str


def find_mistake(text: str, said: str) -> Mistake:
    """The most likely mistake in a text, given the error message of the TOML reader."""
    found = _WHERE.search(said)
    lines = text.split("\n")
    number = int(found[1]) if found and found[1] else len(text.rstrip().split("\n"))
    number = min(number, len(lines))
    said = _WHERE.sub("", said)
    for look in (_unseen, _curly, _backslash, _header, _twice, _pairs, _value, _list, _colon):
        mistake = look(lines, number, said)
        if mistake is not None:
            return mistake
    column = f" at column {found[2]}" if found and found[2] else ""
    return Mistake(
        number,
        f"{said[0].lower()}{said[1:]}{column}",
        'write lines such as mass = "3.4 kg" below headers such as [kit.modules.feed_pump], and '
        "# before a comment",
    )


def _uncommented(line: str) -> str:
    """A line without its comment, allowing for a missing quote."""
    found = re.match(rf"(?:[^#\"']|{_STRING})*", line)
    kept = found.end() if found else 0
    rest = line[kept:]
    return (line[:kept] + (rest if rest[:1] in ('"', "'") else "")).strip()


def _unquoted(line: str) -> str:
    """A line with its quoted texts masked."""
    return re.sub(_STRING, lambda one: "x" * len(one[0]), line)


def _unseen(lines: list[str], number: int, _: str) -> Mistake | None:
    here = lines[number - 1]
    found = _UNSEEN.search(_unquoted(here))
    if found is None:
        return None
    said = f"the blank at column {found.start() + 1} is not a plain space"
    return Mistake(number, said, f"type it again: {_UNSEEN.sub(' ', here).strip()}")


def _curly(lines: list[str], number: int, _: str) -> Mistake | None:
    here = _uncommented(lines[number - 1])
    if _unquoted(here) == _unquoted(here).translate(_CURLY):
        return None
    return Mistake(number, "the quotes are not straight", f"write {here.translate(_CURLY)}")


def _backslash(lines: list[str], number: int, said: str) -> Mistake | None:
    here = _uncommented(lines[number - 1])
    if _BACKSLASH not in here or not re.search(r"\\|escape|hex", said):
        return None
    remedy = f"write paths with /: {here.replace(_BACKSLASH, '/')}"
    return Mistake(number, "a backslash in double quotes starts a special character", remedy)


# --- headers ----------------------------------------------------------------------------------


def _header(lines: list[str], number: int, _: str) -> Mistake | None:
    here = _uncommented(lines[number - 1])
    good = _GOOD_HEADER.fullmatch(here)
    if not _HEADER.fullmatch(here) or (good and len(good[1]) == len(good[2])):
        return None
    inner = re.sub(r"\s*(?:\.|(?<=[A-Za-z_])[/\\](?=[A-Za-z_]))\s*", ".", here.strip(" \t[]"))
    name = re.sub(r"[^\w.-]+", "_", inner.strip(" ,;"))
    remedy = "write names of letters a to z, digits, _ and -, with dots between them"
    if re.fullmatch(r"[\w.-]+", name, re.ASCII):
        remedy = f"write [{name}]"
        if here.startswith("[[") or here.endswith("]]"):
            remedy += f", or [[{name}]] for one of several"
    return Mistake(number, "this header of a table cannot be read", remedy)


def _twice(lines: list[str], number: int, said: str) -> Mistake | None:
    """A table or key that exists already; names the line of the first."""
    if not said.startswith("Cannot"):
        return None
    header, key = _table(lines[number - 1]), _key(lines[number - 1])
    for above in range(number - 1, 0, -1):
        other = lines[above - 1]
        if header and _table(other) == header:
            if _spelled(other) != _spelled(lines[number - 1]):
                said = f"[{header}] and [[{header}]] are mixed (line {above})"
                return Mistake(number, said, f"write [[{header}]] for each of several")
            said = f"the table [{header}] is already in line {above}"
            return Mistake(number, said, "keep one of the two, or give this one another name")
        if key and _key(other) == key:
            return Mistake(number, f"'{key}' is already in line {above}", "keep one of the two")
        if key and _table(other):
            break
    return Mistake(number, "a key or table is written twice", "keep one of them")


def _spelled(line: str) -> str:
    return re.sub(r"\s", "", _uncommented(line))


def _table(line: str) -> str:
    """The name in a header, "" for any other line."""
    return _spelled(line).strip("[]") if _GOOD_HEADER.fullmatch(line) else ""


def _key(line: str) -> str:
    """The key that a line gives, "" if it gives none."""
    found = re.match(rf"({_KEY})=", line)
    return found[1].strip() if found else ""


# --- values -----------------------------------------------------------------------------------


def _split(line: str) -> tuple[str, str] | None:
    """Key and value of a line as written, None if there is no equals sign behind a key."""
    found = re.match(rf"({_KEY})=\s*(.*)$", _uncommented(line))
    return (found[1].strip(), found[2].strip()) if found else None


def _pairs(lines: list[str], number: int, _: str) -> Mistake | None:
    """Any mistake between { and }."""
    both = _split(lines[number - 1])
    if both is None or not both[1].startswith("{"):
        return None
    remedy = 'write pairs with commas between them in one line, such as { top = "80 mm" }'
    return Mistake(number, f"what is in {{ }} behind {both[0]} cannot be read", remedy)


def _value(lines: list[str], number: int, said: str) -> Mistake | None:
    """A value without quotes, with one quote missing, or with something after it."""
    if said == 'Expected "\'"':  # said at the end of the text
        number = next(
            (n for n, one in enumerate(lines, 1) if re.search(r"=\s*'[^']*$", one)), number
        )
    both = _split(lines[number - 1])
    if both is None:
        return None
    key, value = both
    if not value:
        return Mistake(number, f"nothing is written behind {key} =", "write a value")
    wanted = _mended(value)
    return None if wanted is None else Mistake(number, wanted[0], f"write {key} = {wanted[1]}")


def _mended(value: str) -> tuple[str, str] | None:
    """The problem of a value and how to write it, None if unknown."""
    missing = "quotes are missing"
    unit = re.fullmatch(rf"\"({_NUMBER})\"\s*([A-Za-z%°]\S*)", value)
    if unit:
        return "the unit is outside the quotes", _in_quotes(f"{unit[1]} {unit[2]}")
    behind = re.fullmatch(rf"({_STRING}|\[[^\]]*\])\s*([^\s,].*|,)", value)
    if behind and not re.match(_STRING, behind[2]):
        return f"there is '{behind[2]}' behind the value", behind[1]
    if value[0] in "[(" and "'" not in value:
        items = [one.strip() for one in re.split(r"[,;]", value.strip("[]() "))]
        quoted = "[" + ", ".join(map(_in_quotes, items)) + "]"
        if value[0] == "(" or ";" in value:
            return "lists have [ ] around them and commas between their items", quoted
        if value[-1] == "]" and value.count('"') % 2:
            return "a quote is missing in this list", quoted
        bare = all(_BARE_QUANTITY.fullmatch(one) for one in items) and '"' not in value
        return (missing, quoted) if bare else None
    if re.fullmatch(r"[-+]?\d+,\d+", value):
        return "the number has a comma", value.replace(",", ".")
    if re.fullmatch(r"[-+]?(?:\.\d+|\d+\.)", value):
        return "a digit is missing at the decimal point", f"{float(value)}"
    if value[0] in "\"'" and value.count(value[0]) == 1:
        return "the closing quote is missing", _in_quotes(value.split("#")[0])
    if _BARE_QUANTITY.fullmatch(value) or _BARE_WORDS.fullmatch(value):
        return missing, _in_quotes(value)
    return None


def _in_quotes(value: str) -> str:
    return '"' + value.strip(" \"'") + '"'


def _list(lines: list[str], number: int, said: str) -> Mistake | None:
    """A comma or bracket missing in a list."""
    both = _split(lines[number - 1])
    items = both and re.fullmatch(rf"(\[?)\s*({_STRING}(?:[\s,]+{_STRING})+)[\s,]*\]?", both[1])
    if both and items and (not items[1] or re.search(r"[\"']\s+[\"']", items[2])):
        one = re.findall(_STRING, items[2])
        said = "a comma is missing in this list" if items[1] else "a list needs [ ] around it"
        return Mistake(number, said, f"write {both[0]} = [{', '.join(one)}]")
    if said != "Unclosed array":
        return None
    here = _uncommented(lines[number - 1])
    above = next((n for n in range(number - 1, 0, -1) if _uncommented(lines[n - 1])), 1)
    last = _uncommented(lines[above - 1])
    if re.match(r"[\"'\[{]", here) and not _table(here) and re.search(r"[\"'\]}]$", last):
        return Mistake(above, "a comma is missing at the end of this line", f"write {last},")
    start = next((n for n in range(number, 0, -1) if re.match(rf"{_KEY}=\s*\[", lines[n - 1])), 0)
    if not start:
        return None
    alone = start in (above, number) and re.search(r"[\"'}]$", _uncommented(lines[start - 1]))
    remedy = f"write {_uncommented(lines[start - 1])}]" if alone else "close it with ]"
    return Mistake(start, "the list that begins here is not closed", remedy)


def _colon(lines: list[str], number: int, said: str) -> Mistake | None:
    """A key that is not followed by an equals sign."""
    here = _uncommented(lines[number - 1])
    found = re.match(rf"({_KEY})(?::=?|\s|(?=[\"'\[{{]))\s*([^=\s].*)$", here)
    if found is None or not said.startswith("Expected '='"):
        return None
    key, value = found[1].strip(), found[2]
    mended = _mended(value)
    wanted = f"write {key} = {mended[1] if mended else value}"
    return Mistake(number, f"there is no = behind '{key}'", wanted)
