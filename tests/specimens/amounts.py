"""Amounts as shown to people: their unit system, and the decimals of a column."""

from __future__ import annotations

import dataclasses
import io
import re
from collections import defaultdict
from collections.abc import Iterable, Iterator
from html.parser import HTMLParser

from rich.console import Console

from fitcheck.compare.condensed import condensed
from fitcheck.model.found.comparison import Candidate, Comparison
from fitcheck.model.found.explanation import Explanation
from fitcheck.model.result import Result
from fitcheck.report import (
    brief,
    first_screen,
    print_comparison,
    print_explanations,
    print_summary,
)
from fitcheck.report.document.compare_page import compare_html
from fitcheck.report.document.page import page_html
from fitcheck.report.modules import module_sheet
from fitcheck.report.numbers import clip_table, hose_sheet, order_sheet
from fitcheck.report.tables import as_csv
from fitcheck.units import System
from fitcheck.view.drawn.captions import build_tags

_UNITS: dict[System, str] = {
    "metric": "µm|mm|cm|m|metres?|L|mL|litres?|L/min|L/h|Pa|hPa|kPa|MPa|mbar|bar|kg|g|°C|degC|"
    "m/s|[cm]?m[²2]|m[³3]|m[³3]/h|m[³3]/s|kg/m[³3]|m?Pa s",
    "imperial": "in|inch|inches|ft|foot|feet|psi|inHg|(?:US )?gal|(?:US )?gal/min|(?:US )?gal/h|"
    "lb|°F|degF|ft/s|in[²2]|ft[²2]|lb/ft[³3]|lb/\\(ft s\\)",
}
SYSTEMS: tuple[System, ...] = ("metric", "imperial")
_OTHER: dict[System, System] = {"metric": "imperial", "imperial": "metric"}
#: Heading of what was taken for assumptions, each in words of its own.
VALUE = "Value"
_FIGURE = r"-?[\d,]*\.?\d+"
#: A whole cell that is an amount or a range of them: first number, last number, unit.
_CELL = re.compile(rf"[±+]?(?:({_FIGURE}) to )?(?:-?[\d,]+ ft )?({_FIGURE}) ?([^\d\s].*)?")
_TRADE = re.compile(r"(?:\d+ )?\d+/\d+ in")


def amounts(text: str, system: System) -> list[str]:
    """Numbers with a unit of a system, each with the preceding text."""
    unit = re.compile(rf"(?<![\w.]){_FIGURE}(?:\u00a0| )?(?:{_UNITS[system]})(?![\w/²³°])")
    plain = re.sub(r"\s+", " ", text)
    return [plain[max(found.start() - 40, 0) : found.end()] for found in unit.finditer(plain)]


def foreign(text: str, system: System, own: tuple[str, ...]) -> list[str]:
    """Amounts of the other system, except those from the user's files."""
    plain = re.sub(r"\s+", " ", text)
    for said in own:
        plain = plain.replace(said, "")
    return amounts(plain, _OTHER[system])


def users_own(item: object) -> tuple[str, ...]:
    """Every text in a scenario that contains an amount, as printed, longest first."""
    found = {re.sub(r"\s+", " ", text) for text in _texts(item)}
    kept = [text for text in found if any(amounts(text, system) for system in SYSTEMS)]
    return tuple(sorted(kept, key=len, reverse=True))


def _texts(item: object) -> Iterator[str]:
    if isinstance(item, str):
        yield item
    elif isinstance(item, tuple):
        for part in item:
            yield from _texts(part)
    elif dataclasses.is_dataclass(item):
        for field in dataclasses.fields(item):
            yield from _texts(getattr(item, field.name))


def all_texts(result: Result, system: System) -> dict[str, str]:
    """Every text of a result that a person reads, by its location."""
    summary = io.StringIO()
    print_summary(result, [], system, Console(file=summary, width=4000))
    sheets = (hose_sheet(result), clip_table(result), module_sheet(result), order_sheet(result))
    return {
        "summary": summary.getvalue(),
        "first screen": first_screen(result, [], system),
        "brief": brief(result, system),
        "page": PageText(page_html(result, None, None, system)).text,
        "labels": "\n".join(tag.text for tag in build_tags(result, system)),
        "sheets": "\n".join(as_csv(sheet, system) for sheet in sheets),
    }


def strange_amounts(result: Result, explained: tuple[Explanation, ...] = ()) -> list[str]:
    """Amounts in any text of a result that are not in the units asked for, and not the user's."""
    own, told = users_own(result.scenario), []
    for system in SYSTEMS:
        texts = all_texts(result, system) | {"explained": explained_text(explained, system)}
        for place, text in texts.items():
            told += [f"{system}, {place}: {one}" for one in foreign(text, system, own)]
    return told


def explained_text(rows: Iterable[Explanation], system: System) -> str:
    """The calculations as printed."""
    text = io.StringIO()
    print_explanations(rows, system, Console(file=text, width=4000))
    return text.getvalue()


def compared_texts(*results: Result, system: System) -> tuple[str, str]:
    """Results laid side by side, in the terminal and as a page."""
    ran = [condensed(result) for result in results]
    rows = [
        Candidate(file=f"{n}.toml", name=f"{n}", ran=one, stopped="", why="", picture=None)
        for n, one in enumerate(ran)
    ]
    found, text = Comparison(candidates=tuple(rows)), io.StringIO()
    print_comparison(found, [], system, Console(file=text, width=4000))
    return text.getvalue(), PageText(compare_html(found, system)).text


class PageText(HTMLParser):
    """The text of a page, words and attributes, without its scripts and styles; its tables."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tables: list[list[list[str]]] = []
        self._parts: list[str] = []
        self._silent = self._cell = False
        self.feed(page)

    @property
    def text(self) -> str:
        """All its text."""
        return "".join(self._parts)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._silent = tag in ("script", "style")
        said = (value for name, value in attrs if name in ("data-said", "title", "alt") and value)
        self._parts += ["" if tag == "wbr" else "\n", *(f"{one}\n" for one in said)]
        if tag == "table":
            self.tables.append([])
        elif tag == "tr":
            self.tables[-1].append([])
        elif tag in ("td", "th"):
            self.tables[-1][-1].append("")
            self._cell = True

    def handle_endtag(self, tag: str) -> None:
        self._silent = False
        if tag in ("td", "th"):
            self._cell = False

    def handle_data(self, data: str) -> None:
        if self._silent:
            return
        self._parts.append(data)
        if self._cell:
            self.tables[-1][-1][-1] += data


def uneven_columns(table: list[list[str]]) -> list[str]:
    """Columns in which amounts of one unit differ in decimals; the first row is the headings."""
    heads, *rows = table
    told = []
    for column, head in enumerate(heads):
        if head == VALUE:
            continue
        seen: dict[str, set[int]] = defaultdict(set)
        for row in rows:
            cell = row[column] if len(row) == len(heads) else ""
            found = None if _TRADE.fullmatch(cell) else _CELL.fullmatch(cell)
            for figure in found.groups()[:2] if found else ():
                if figure is not None:
                    seen[found[3] or ""].add(len(figure.partition(".")[2]))  # type: ignore[index]
        told += [f"{head}: {unit} {sorted(n)}" for unit, n in seen.items() if len(n) > 1]
    return told
