"""How steps by hand are done: from the list or from memory, at the same time, checked again after an interruption.

Which list is read-do and which do-confirm: A. Gawande, The Checklist Manifesto, 2009 (from memory).
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from floor.checklist.findings import Finding
from floor.checklist.model import Checklist
from floor.checklist.operation import Do, Operation
from floor.checklist.units import to_base

SHORTEST = 60.0
"""Seconds of the shortest interruption: a step takes that long (shop decision)."""


def check_do_confirm(checklist: Checklist) -> Iterator[Finding]:
    """What is confirmed afterwards is several plain steps, none with a caution, a timer or the cycle to wait for it."""
    for i, operation in enumerate(checklist.operations):
        for phase in operation.do_confirm:
            at = ("operations", i, "do_confirm")
            steps = [step for step in operation.steps if isinstance(step, Do) and step.at == phase]
            if len(steps) < 2:
                yield Finding(at, f'"{phase}" has no two steps to confirm', "take it out, or add the steps")
            for step in steps:
                if why := _find_why_read_first(operation, step):
                    wrong = f'"{step.do}" {why}: its list is read, then done'
                    yield Finding(at, wrong, f'take "{phase}" out, or move the step to another phase')


def _find_why_read_first(operation: Operation, step: Do) -> str:
    if step.cautions:
        return "has a caution, which is read before it"
    if step.cycle or step.while_running:
        return "stops, restarts or depends on what runs"
    starts = {clock.starts for clock in operation.clocks}
    return "starts a timer, which counts from its confirmation" if step.id and f"step {step.id}" in starts else ""


def check_same_time(checklist: Checklist) -> Iterator[Finding]:
    for i, operation in enumerate(checklist.operations):
        for j, step in enumerate(operation.steps):
            if not isinstance(step, Do) or not step.same_time_as:
                continue
            others = [one for one in operation.steps if isinstance(one, Do) and one is not step and one.at == step.at]
            if step.same_time_as not in [one.id for one in others]:
                wrong = f'no other step of its phase is named "{step.same_time_as}"'
                yield Finding(("operations", i, "steps", j, "same_time_as"), wrong, "write the `id` of that step")
    for i, rework in enumerate(checklist.reworks):
        for j, step in enumerate(rework.steps):
            if step.same_time_as:
                wrong = "a step of a rework stands beside no other"
                yield Finding(("reworks", i, "steps", j, "same_time_as"), wrong, "take it out, or use an operation")


def check_recheck(checklist: Checklist) -> Iterator[Finding]:
    for i, operation in enumerate(checklist.operations):
        if operation.recheck_after is not None and to_base(operation.recheck_after)[1] < SHORTEST:
            wrong = f"{operation.recheck_after} is shorter than a step takes"
            yield Finding(("operations", i, "recheck_after"), wrong, 'write "5 min" or more')


def check_repeated(checklist: Checklist) -> Iterator[Finding]:
    """A step that is repeated says how often and what ends it (DOE-STD-1029-92, from memory)."""
    lists = [(("operations", i), operation.steps) for i, operation in enumerate(checklist.operations)]
    lists += [(("reworks", i), rework.steps) for i, rework in enumerate(checklist.reworks)]
    for path, steps in lists:
        for j, step in enumerate(steps):
            if isinstance(step, Do) and step.repeat is None and (found := REPEATED.search(step.do)):
                wrong = f'"{found[0]}" states neither how often at most nor what ends it'
                yield Finding((*path, "steps", j, "do"), wrong, 'write `repeat = { times = 3, until = "…" }` instead')


REPEATED = re.compile(r"\b(?:repeat\w*|twice|several times|\d+ times(?! (?:the|its)\b))", re.IGNORECASE)
"""Words of a step that is done over."""

RULES = (check_do_confirm, check_same_time, check_recheck)
ADVISED = (check_repeated,)
