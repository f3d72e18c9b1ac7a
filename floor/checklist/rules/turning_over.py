"""Turning pieces over during a cycle: the program stops and goes on, and a gate proves the pieces are seated."""

from __future__ import annotations

from collections.abc import Iterator

from floor.checklist.findings import Finding
from floor.checklist.line_numbers import Path
from floor.checklist.model import Checklist
from floor.checklist.operation import Do


def check_stand_and_resume(checklist: Checklist) -> Iterator[Finding]:
    for i, operation in enumerate(checklist.operations):
        stands: Path | None = None
        for j, step in enumerate(operation.steps):
            at: Path = ("operations", i, "steps", j, "cycle")
            if not isinstance(step, Do) or not step.cycle:
                continue
            if not operation.cycle or step.at != "cycle":
                yield Finding(at, "`cycle` where no cycle runs", '`at = "cycle"`, in an operation with a cycle')
            elif (step.cycle == "stands") == (stands is not None):
                right = 'follow each step with `cycle = "stands"` by one with `cycle = "goes on"`'
                yield Finding(at, 'two "stands" in a row' if stands else '"goes on" with no "stands" before it', right)
            stands = at if step.cycle == "stands" else None
        if stands is not None:
            yield Finding(stands, "the cycle never goes on after it", 'add a step with `cycle = "goes on"` after it')
    for i, rework in enumerate(checklist.reworks):
        for j, step in enumerate(rework.steps):
            if step.cycle:
                wrong = "a step of rework comes before the cycle"
                yield Finding(("reworks", i, "steps", j, "cycle"), wrong, "take it out, or put it in the operation")


RULES = (check_stand_and_resume,)


def check_turn_time(checklist: Checklist) -> Iterator[Finding]:
    for i, operation in enumerate(checklist.operations):
        timed = operation.time.turn or operation.time.turn_piece
        if operation.turns and not timed:
            right = "add `turn` or `turn_piece`; `cycle` is the time of the cuts alone"
            yield Finding(("operations", i, "time"), "no time for the attended work within the cycle", right)
        elif timed and not operation.turns:
            right = 'add a step with `cycle = "stands"`, or take the time out'
            yield Finding(("operations", i, "time"), "a time for turning over, but nothing stops the cycle", right)


COMPLETE = (check_turn_time,)


def check_seating_after_turn(checklist: Checklist) -> Iterator[Finding]:
    for i, operation in enumerate(checklist.operations):
        stands: int | None = None
        for j, step in enumerate(operation.steps):
            if not isinstance(step, Do):
                stands = None if step.at == "cycle" else stands
            elif step.cycle == "stands":
                stands = j
            elif step.cycle == "goes on" and stands is not None:
                wrong = "the pieces are moved, and nothing proves they are seated before the cut goes on"
                right = "add a gate before the cycle goes on: confirmed, measured or probed (common practice)"
                yield Finding(("operations", i, "steps", stands), wrong, right)


ADVISED = (check_seating_after_turn,)
