"""What an earlier run worked out, opened where nothing has changed, else worked out.

Stages and the drawing library are imported only where there is something to work out or to draw:
loading them takes longer than opening.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from fitcheck.kept import PICTURE, inputs_of, kept_explanations, kept_files, kept_result
from fitcheck.model.finding import Tell, silent
from fitcheck.model.found.hydraulics import Explanation
from fitcheck.model.given.scenario import Placement
from fitcheck.model.result import Result
from fitcheck.units import System

if TYPE_CHECKING:
    from fitcheck.pipeline import Tryout

_SAID = "Nothing has changed since an earlier run: its result is opened"


def opened(file: Path, tell: Tell = silent) -> Result:
    """Everything there is to say about a scenario. Raises what `pipeline.run` does."""
    result = opened_alone(file)
    if result is not None:
        tell(_SAID)
        return result
    from fitcheck.pipeline import run

    return run(file, tell)


def opened_alone(file: Path) -> Result | None:
    """The result of a scenario as an earlier run kept it; None where it has to be worked out."""
    inputs = inputs_of(file)
    return None if inputs is None else kept_result(inputs)


def explained(file: Path, line: str, state: str = "", tell: Tell = silent) -> Explanation:
    """The calculation of one line. Raises what `pipeline.run` and `explain_line` do."""
    inputs = inputs_of(file)
    for row in () if inputs is None else kept_explanations(inputs):
        if row.line == line and state in ("", row.state.name):
            tell(_SAID)
            return row
    result = opened(file, tell)
    from fitcheck.hydraulics import explain_line

    return explain_line(result.scenario, result.space, result.routes, line, state)


def opened_drawn(file: Path, units: System) -> tuple[Result, bytes] | None:
    """The result of a scenario and its picture as an earlier run kept both."""
    inputs = inputs_of(file)
    picture = None if inputs is None else kept_files(inputs, units).get(PICTURE)
    result = None if inputs is None or picture is None else kept_result(inputs)
    return None if result is None or picture is None else (result, picture)


class Trial:
    """A layout to be tried; an opened one loads what that needs when a box is first moved."""

    def __init__(self, file: Path, tell: Tell = silent) -> None:
        """Raises what `pipeline.run` does."""
        self._file, self._tell = file, tell
        self._tryout: Tryout | None = None
        self.result = opened_alone(file) or self._trying().result

    def _trying(self, before: Result | None = None) -> Tryout:
        from fitcheck.pipeline import Tryout

        if self._tryout is None:
            self._tryout = Tryout(self._file, self._tell, before)
        return self._tryout

    def reread(self) -> Result:
        """The scenario as its files have it now."""
        self.result = self._trying(self.result).reread()
        return self.result

    def move(self, placement: Placement) -> Result:
        """The result with one module elsewhere."""
        self.result = self._trying(self.result).move(placement)
        return self.result

    def settle(self) -> Result:
        """The layout as it stands with everything there is to say."""
        self.result = self._trying(self.result).settle()
        return self.result

    def save(self) -> Path:
        """Write the layout as it stands beside its files; raises FitcheckError if that fails."""
        return self._trying(self.result).save()
