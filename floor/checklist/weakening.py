"""Where a newer checklist of a part protects less than the one before: what a lead answers for at the opening."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Literal, NamedTuple, get_args

from floor.checklist.gates import Gate
from floor.checklist.model import SIGNAL_WORDS, Checklist
from floor.checklist.operation import Do, Operation

Kind = Literal[
    "caution gone", "lower signal word", "caution reworded", "caution off an operation", "step gone",
    "step may be skipped", "check gone", "check may be waived",
]  # fmt: skip
SAID: Mapping[str, str] = {
    "caution gone": "caution removed",
    "lower signal word": "signal word lowered",
    "caution off an operation": "caution removed there",
    "step gone": "step removed",
    "step may be skipped": "step may now be skipped",
    "check gone": "check removed",
    "check may be waived": "check easier to waive",
}
"""A kind in words, where it is not in words itself."""
WAIVERS = ("never", "lead and second", "lead")
"""Who may waive a check, the strictest first."""


class Weakening(NamedTuple):
    kind: Kind
    subject: str
    """The caution's hazard, or the title of the step or check."""
    op: int = 0
    """The operation, where it is about one."""


def describe_weakening(kind: str, subject: str, op: int) -> str:
    """``caution removed: Turning cutter``; ``op 30, step may now be skipped: Shut the door``."""
    return (f"op {op}, " if op else "") + f"{SAID.get(kind, kind)}: {subject}"


def list_weakenings(before: Checklist, now: Checklist) -> tuple[Weakening, ...]:
    """What the newer one takes away: cautions by name, operations by number, steps and checks by their titles.

    An operation that is gone takes its hazards with it.
    """
    found = list(_compare_cautions(before, now))
    gone = {name for name in before.cautions if name not in now.cautions}
    for operation in before.operations:
        newer = now.ops.get(operation.op)
        if newer is None:
            continue
        for name in sorted(_list_cautions(operation) - _list_cautions(newer) - gone):
            found.append(Weakening("caution off an operation", before.cautions[name].hazard, operation.op))
        found += _compare_steps(operation, newer)
    order = get_args(Kind)
    return tuple(sorted(dict.fromkeys(found), key=lambda one: (order.index(one.kind), one.op)))


def _compare_cautions(before: Checklist, now: Checklist) -> Iterator[Weakening]:
    for name, caution in before.cautions.items():
        newer = now.cautions.get(name)
        if newer is None:
            yield Weakening("caution gone", caution.hazard)
        elif SIGNAL_WORDS.index(newer.word) > SIGNAL_WORDS.index(caution.word):
            yield Weakening("lower signal word", caution.hazard)
        elif (newer.hazard, newer.consequence, newer.avoid) != (caution.hazard, caution.consequence, caution.avoid):
            yield Weakening("caution reworded", caution.hazard)


def _list_cautions(operation: Operation) -> set[str]:
    found = {name for step in operation.steps for name in step.cautions}
    return found.union(*operation.event_cautions.values())


def _compare_steps(before: Operation, now: Operation) -> Iterator[Weakening]:
    """Steps that could not be skipped, and checks."""
    there = {step.do: step for step in now.steps if isinstance(step, Do)}
    for step in before.steps:
        if isinstance(step, Do) and not step.skip:
            newer = there.get(step.do)
            if newer is None or newer.skip:
                yield Weakening("step gone" if newer is None else "step may be skipped", step.do, before.op)
    checks: dict[str, list[Gate]] = {}
    for one in now.steps:
        if not isinstance(one, Do):
            checks.setdefault(one.title(), []).append(one)
    for check in before.steps:
        if not isinstance(check, Do):
            yield from _compare_check(check, checks.get(check.title(), []), before.op)


def _compare_check(check: Gate, left: list[Gate], op: int) -> Iterator[Weakening]:
    """Whether one of the newer checks of its title stands for it; that one is taken from what is left."""
    if not left:
        yield Weakening("check gone", check.title(), op)
    elif WAIVERS.index(left.pop(0).waive) > WAIVERS.index(check.waive):
        yield Weakening("check may be waived", check.title(), op)
