"""Results of an earlier run, opened if nothing has changed, else calculated.

Stages and the drawing library are imported only when something has to be calculated or drawn:
loading them takes longer than opening a result.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from fitcheck.errors import FitcheckError
from fitcheck.kept import PICTURE, inputs_of, kept_explanations, kept_files, kept_result
from fitcheck.kept.packs import is_pack, packed_whole, unpack
from fitcheck.kept.written import Written, read_written
from fitcheck.model.finding import Tell, silent
from fitcheck.model.found.explanation import Explanation
from fitcheck.model.given.scenario import InputFile, Placement
from fitcheck.model.result import Result
from fitcheck.units import System

if TYPE_CHECKING:
    from fitcheck.pipeline import Tryout

_SAID = "Nothing has changed since an earlier run: its result is opened"


def scenario_of(place: Path, own: bool = False) -> Path:
    """The scenario file for an argument: itself, or that of a written result or a pack.

    own : unpack a pack next to itself, where new files may stay. Raises FitcheckError for a result
    or a pack that cannot be read.
    """
    if _is_result(place):
        return _first(read_written(place))
    if is_pack(place):
        return unpack(place, place.with_suffix("") if own else None).scenario
    return place


def opened(place: Path, tell: Tell = silent) -> Result:
    """The full result of a scenario, of a written result, or of a pack.

    Raises what `scenario_of` and `pipeline.run` do.
    """
    file, result = _found(place, tell)
    if result is not None:
        return result
    from fitcheck.pipeline import run

    return run(file, tell)


def _found(place: Path, tell: Tell = silent) -> tuple[Path, Result | None]:
    """The scenario of an argument, and its cached or written result.

    A cached result is used only while no input file has changed. A written one is opened without
    those files too, since it may come from another machine.
    """
    if _is_result(place):
        return _written(read_written(place), tell)
    if is_pack(place):
        there = unpack(place)
        written = read_written(there.result)
        # The author of the pack may have put another result next to the inputs.
        same = _digests(written.inputs) == _digests(inputs_of(there.scenario) or ())
        result = written.whole() if same else None
        if result is not None:
            tell(f"The result in {place} is opened, dated {result.date or 'an unknown day'}")
        return there.scenario, result
    inputs = inputs_of(place)
    result = None if inputs is None else kept_result(inputs)
    if result is not None:
        tell(_SAID)
    return place, result


def _digests(inputs: tuple[InputFile, ...]) -> set[str]:
    return {one.sha256 for one in inputs}


def _is_result(place: Path) -> bool:
    return place.is_dir() or place.suffix == ".json"


def _first(written: Written) -> Path:
    if not written.inputs:
        raise FitcheckError(f"{written.file}: names no scenario; check it again")
    return Path(written.inputs[0].path)


def _written(written: Written, tell: Tell) -> tuple[Path, Result | None]:
    if written.changed:
        tell(f"Calculated again, because these have changed: {', '.join(written.changed)}")
        return _first(written), None
    result = written.whole()
    if result is None:
        tell(f"{written.file} has no complete result of this version next to it: calculated again")
    else:
        absent = (
            f"; its inputs are not here: {', '.join(written.absent)}" if written.absent else ""
        )
        tell(f"The result of {written.date or 'an unknown day'} is opened{absent}")
    return _first(written), result


def _unchanged(place: Path) -> tuple[InputFile, ...] | None:
    """Inputs of a scenario or of a written result, if all files are present and unchanged."""
    if not _is_result(place):
        return inputs_of(place)
    written = read_written(place)
    return None if written.changed or written.absent else inputs_of(_first(written))


def explained(
    file: Path, name: str, number: str = "", state: str = "", tell: Tell = silent
) -> tuple[Explanation, ...]:
    """The calculations of the numbers of a line, a pump, a module or the scale.

    number : one of them, by default all
    state : for a line's loss; by default the state with the highest loss. Raises what
    `pipeline.run` does, and FitcheckError if there is no such calculation.
    """
    inputs = _unchanged(file)
    rows = () if inputs is None else kept_explanations(inputs)
    if rows:
        tell(_SAID)
    else:
        result = opened(file, tell)
        from fitcheck.pipeline import explain

        rows = explain(result)
    own = [row for row in rows if name in row.names]
    if not own:
        raise _unknown(
            f"nothing called '{name}' has a calculation", (n for r in rows for n in r.names)
        )
    chosen = [row for row in own if number in ("", row.number)]
    if not chosen:
        raise _unknown(
            f"nothing called '{number}' is calculated for {name}", (row.number for row in own)
        )
    if state:
        found = [row for row in chosen if row.state is not None and state in row.state.spellings]
        if not found:
            states = (row.state.name for row in chosen if row.state is not None)
            raise _unknown(f"{name}: no calculation in the state '{state}'", states)
        return tuple(found)
    # Of a line's losses, stored for every state, the first is the highest.
    first = {(row.names[0], row.number): row for row in reversed(chosen)}
    return tuple(row for row in chosen if first[row.names[0], row.number] is row)


def _unknown(what: str, known: Iterable[str]) -> FitcheckError:
    return FitcheckError(f"{what}; there is: {', '.join(dict.fromkeys(known))}")


def opened_drawn(file: Path, units: System) -> tuple[Result, bytes] | None:
    """The result of a scenario and its picture, if an earlier run cached both."""
    inputs = inputs_of(file)
    picture = None if inputs is None else kept_files(inputs, units).get(PICTURE)
    result = None if inputs is None or picture is None else kept_result(inputs)
    return None if result is None or picture is None else (result, picture)


def packed(place: Path, tell: Tell = silent) -> bytes:
    """A pack of a scenario, or of a written result: its inputs and its files.

    Raises what `opened` does, and FitcheckError where inputs or files have changed.
    """
    if _is_result(place):
        written = read_written(place)
        from fitcheck.report.files import set_state

        folder = written.file.parent
        if set_state(folder) != "whole":
            raise FitcheckError(f"{folder}: its files are not one complete set; check it again")
        names = (*written.listed, written.file.name)
        return packed_whole(written.inputs, {one: (folder / one).read_bytes() for one in names})
    inputs = inputs_of(place)
    files = {} if inputs is None else kept_files(inputs, "metric")
    if inputs is not None and files:
        del files[PICTURE]
        return packed_whole(inputs, files)
    # Only here is something drawn.
    from fitcheck.report.write import write_all
    from fitcheck.view import picture_or_why

    result = opened(place, tell)
    picture, missing = picture_or_why(result, "metric", tell)
    with TemporaryDirectory(prefix="fitcheck-") as folder_name:
        paths = write_all(result, Path(folder_name), picture, "metric", missing, tell)
        files = {path.name: path.read_bytes() for path in paths}
    return packed_whole(result.scenario.inputs, files)


class Trial:
    """A layout to work on: what is not cached is calculated on first use.

    The stages, and what a move needs of them, are loaded when a box is first moved.
    """

    def __init__(self, place: Path, tell: Tell = silent) -> None:
        """Raises what `scenario_of` does."""
        self._place, self._tell = place, tell
        self._tryout: Tryout | None = None
        self._file, self._opened = _found(place, tell)

    @property
    def result(self) -> Result:
        """The current layout. Raises what `pipeline.run` does."""
        if self._tryout is None and self._opened is not None:
            return self._opened
        return self._trying().result

    def _trying(self) -> Tryout:
        from fitcheck.pipeline import Tryout

        if self._tryout is None:
            self._tryout = Tryout(self._file, self._tell, self._opened)
        return self._tryout

    def reread(self) -> Result:
        """The scenario as its files are now."""
        return self._trying().reread()

    def move(self, placement: Placement) -> Result:
        """The result with one module elsewhere."""
        return self._trying().move(placement)

    def settle(self) -> Result:
        """All results for the current layout."""
        return self._trying().settle()

    def save(self) -> Path:
        """Write the current layout next to its files; raises FitcheckError if that fails."""
        tryout = self._trying()
        tryout.file = scenario_of(self._place, own=True)
        try:
            return tryout.save()
        except OSError as error:  # a result is shown even if its scenario is missing
            raise FitcheckError(f"{tryout.file}: {error.strerror or error}") from error
