"""Operations in any order among themselves: neighbors on one carrier, none of which waits for another."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

from floor.checklist.findings import Finding
from floor.checklist.gates import Cured
from floor.checklist.model import Checklist


def check_any_order(checklist: Checklist) -> Iterator[Finding]:
    index = {operation.op: i for i, operation in enumerate(checklist.operations)}
    free = [one for one in checklist.operations if one.any_order]
    together = [
        tuple(ops)
        for leg in checklist.legs
        for any_order, ops in groupby(leg.ops, lambda op: checklist.ops[op].any_order)
        if any_order
    ]
    for operation in free:
        group = next((ops for ops in together if operation.op in ops), ())
        at = ("operations", index[operation.op], "any_order")
        if len(group) < 2:
            right = "set it at the one beside it on the same carrier too, or take it out"
            yield Finding(at, "no operation beside it may be done in any order", right)
        for _, step in operation.numbered_steps:
            started = checklist.clock(step.clock) if isinstance(step, Cured) else None
            if started is not None and started[0].op in group and started[0].op != operation.op:
                wrong = f"waits for {started[1].id}, which starts in op {started[0].op}: their order matters"
                yield Finding(at, wrong, "take it out at one of the two")


RULES = (check_any_order,)
