"""A moved box in another boat: judged like a full check, mounting tolerance calculated in time."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import pytest

from fitcheck.model.found.routes import HoseRoute
from fitcheck.model.result import Result
from fitcheck.pipeline import Tryout, run
from fitcheck.routing.lengths.shaken import Grounds, Laid
from fitcheck.routing.lengths.wander import Play, lasting_wander
from tests.specimens.done import written
from tests.specimens.second_boat import write_locker


@dataclass
class Watched:
    """Lines whose mounting tolerance was calculated, in order."""

    lines: list[str]

    def __call__(self, grounds: Grounds, one: Laid, others: Sequence[Laid], asked: float) -> Play:
        self.lines.append(one.routed.job.line.name)
        return lasting_wander(grounds, one, others, asked)

    def taken(self) -> list[str]:
        """The lines since the last call."""
        lines, self.lines = self.lines, []
        return lines


@dataclass(frozen=True)
class Step:
    """A result, and the lines whose tolerance was calculated for it."""

    result: Result
    looked: list[str]

    @property
    def hoses(self) -> list[HoseRoute]:
        """The hoses that have a route."""
        return [one for one in self.result.routes.hoses if isinstance(one, HoseRoute)]

    @property
    def unknown(self) -> bool:
        """Whether an uncalculated mounting tolerance bars the order."""
        return any(row.said.key == "mounting.unknown" for row in self.result.order_hoses.reasons)


@pytest.fixture(scope="module")
def steps(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Step]:
    """The layout as it is, one box moved by a centimetre, settled, and saved and checked."""
    watched, made = Watched([]), {}
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("fitcheck.routing.lengths.wander.lasting_wander", watched)
        tryout = Tryout(write_locker(tmp_path_factory.mktemp("locker"), planted=False))
        made["first"] = Step(tryout.result, watched.taken())
        place = tryout.result.scenario.layout.placements[0]
        x, y, z = place.at
        made["moved"] = Step(
            tryout.move(replace(place, at=(x + 0.01, y - 0.01, z))), watched.taken()
        )
        made["settled"] = Step(tryout.settle(), watched.taken())
        made["whole"] = Step(run(tryout.save()), watched.taken())
    return made


def test_another_boat_passes(steps: dict[str, Step], tmp_path: Path) -> None:
    done = written(steps["first"].result, tmp_path)
    assert done.fails == []
    done.every_hose_is_routed_and_right()


def test_a_move_is_judged_like_a_full_check(steps: dict[str, Step]) -> None:
    moved, whole = steps["moved"].result, steps["whole"].result
    assert figures(steps["moved"]) == pytest.approx(figures(steps["whole"]), abs=1e-9)
    assert [row.verdict for row in moved.fit.modules] == [row.verdict for row in whole.fit.modules]
    fails = [
        {(row.rule, row.subject) for row in result.findings if row.severity == "fail"}
        for result in (moved, whole)
    ]
    assert fails[0] == fails[1]
    assert figures(steps["moved"]) != figures(steps["first"])


def figures(step: Step) -> list[float]:
    """Length, bound and clearance of every hose."""
    return [figure for one in step.hoses for figure in (one.length, one.bound, one.clearance)]


def test_mounting_tolerance_is_calculated_once_and_before_ordering(
    steps: dict[str, Step],
) -> None:
    first, moved, settled = (steps[name] for name in ("first", "moved", "settled"))
    made = {hose.line for hose in first.hoses if hose.assembly}
    # remedies are tried without it, and a lengthened assembly is only checked itself
    assert {hose.line for hose in first.hoses} == set(first.looked)
    assert {line for line, times in Counter(first.looked).items() if times > 1} <= made
    assert all(hose.wander is not None for hose in first.hoses)
    assert not first.unknown
    assert not moved.looked
    assert moved.hoses
    assert moved.unknown
    assert not moved.result.order_hoses.safe
    assert all(hose.wander is not None for hose in settled.hoses)
    assert not settled.unknown
    assert {line for line, times in Counter(settled.looked).items() if times > 1} <= made
