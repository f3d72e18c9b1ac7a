"""The check after an interruption: the steps done last are looked at again before work goes on (CBP-35)."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.walk.lines import RECHECK, Line, LinePhase
from floor.batch.walk.long_breaks import find_interruption
from floor.checklist.operation import BEFORE_CYCLE, Do
from floor.entry import Moment

RECHECKED = 3
"""So many steps done last are checked again (shop decision)."""
_PARTS: tuple[tuple[LinePhase, ...], ...] = (BEFORE_CYCLE, ("cycle",), ("after", "close"))


def make_recheck(batch: Batch, run: Run, done: Sequence[Line], current: Line, now: Moment) -> Line | None:
    """The line that asks for it before the current one; None without an interruption, or without a step to look at."""
    again = _list_lines_to_recheck(batch, run, done, current, now)
    title = f"Recheck: {'; '.join(line.title for line in again)}"
    keys = tuple(line.key for line in again)
    return Line(RECHECK, "recheck", current.phase, title, "now", again=keys) if again else None


def _list_lines_to_recheck(batch: Batch, run: Run, done: Sequence[Line], current: Line, now: Moment) -> list[Line]:
    """The lines done last before an interruption in the same part of the run: before, in or after its cycle.

    None while it waits for a timer anyway, or once it is counted.
    """
    left = find_interruption(run, batch.operation(run.op).recheck_after, now.at)
    if left is None or current.state == "waits" or run.count is not None:
        return []
    part = next(phases for phases in _PARTS if current.phase in phases)
    of_part = [line for line in done if line.phase in part and line.kind in ("do", "gate") and line.state == "done"]
    at = {line.key: _find_done_at(batch, run, line) for line in of_part}
    return [line for line in of_part if (when := at[line.key]) is not None and run.begun <= when][-RECHECKED:]


def _find_done_at(batch: Batch, run: Run, line: Line) -> datetime | None:
    if isinstance(line.step, Do):
        mark = batch.find_mark(run, line.key, line.step)
        return mark.at if mark is not None else None
    return line.verdict.proof.at if line.verdict is not None and line.verdict.proof is not None else None
