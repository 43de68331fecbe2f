"""One run seen through the files it writes: the route checker checks its hoses."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

from fitcheck.kept.written import read_written
from fitcheck.model.result import Result
from fitcheck.report import write_all
from tests.route_checker import Json, check
from tests.specimens.equal import same


@dataclass(frozen=True, eq=False)
class Done:
    """A result and the files written for it."""

    result: Result
    data: Json
    ply: Path

    def hose(self, line: str) -> Json:
        """A hose of result.json."""
        return next(hose for hose in self.data["hoses"] if hose["line"] == line)

    @property
    def fails(self) -> list[Json]:
        """The findings of result.json that fail."""
        return [finding for finding in self.data["findings"] if finding["severity"] == "fail"]

    def every_hose_is_routed_and_right(self) -> None:
        """Assert that every line has a route and that the route checker accepts all of them."""
        assert [hose["line"] for hose in self.data["hoses"] if not hose["routed"]] == []
        assert check(self.data, self.ply) == []

    def every_not_yet_has_a_remedy(self) -> None:
        """Assert that each reason against cutting and ordering names what would remove it."""
        holds = (self.result.cut_joinery, self.result.order_hoses)
        assert [one.text for hold in holds for one in hold.reasons if one.remedy is None] == []


def written(result: Result, out: Path) -> Done:
    """A result written into a folder; the whole result next to result.json is read back equal."""
    write_all(result, out, None, "metric")
    done = read_done(out)
    assert same(done.result, result), "what was written whole is not what comes back"
    return done


def read_done(out: Path) -> Done:
    """The contents of a run's folder."""
    result = read_written(out).whole()
    assert result is not None
    data = json.loads((out / "result.json").read_text("utf-8"))
    return Done(result=result, data=data, ply=out / "compartment.ply")
