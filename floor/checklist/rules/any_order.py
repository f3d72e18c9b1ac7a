"""Operations in any order among themselves: neighbors on one carrier, none of which waits for another."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

from floor.checklist.findings import Finding
from floor.checklist.gates import Cured
from floor.checklist.model import Checklist
from floor.checklist.operation import Operation


def check_any_order(checklist: Checklist) -> Iterator[Finding]:
    for i, operation in enumerate(checklist.operations):
        if not operation.any_order:
            continue
        at, beside = ("operations", i, "any_order"), _find_beside(checklist, operation.op)
        if not beside:
            right = "set it at the one beside it on the same carrier too, or take it out"
            yield Finding(at, "no operation beside it may be done in any order", right)
        for clock, op in _list_waits(checklist, operation):
            if op in beside:
                wrong = f"waits for {clock}, which starts in op {op}: their order matters"
                yield Finding(at, wrong, "take it out at one of the two")


def _find_beside(checklist: Checklist, op: int) -> set[int]:
    """The other operations of the leg that may be done in any order with this one."""
    for leg in checklist.legs:
        for _, ops in groupby(leg.ops, lambda one: checklist.ops[one].any_order):
            group = set(ops)
            if op in group:
                return group - {op}
    return set()


def _list_waits(checklist: Checklist, operation: Operation) -> Iterator[tuple[str, int]]:
    """(clock, operation that starts it) of each timer that an operation waits for."""
    for _, step in operation.numbered_steps:
        started = checklist.clock(step.clock) if isinstance(step, Cured) else None
        if started is not None:
            yield started[1].id, started[0].op


RULES = (check_any_order,)
