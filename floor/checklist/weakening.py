"""Where a newer checklist of a part asks less than the one before: what a lead answers for at the opening.

Operations, steps and checks of the two are matched here; `weaker_fields` lists what of them is compared.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping, Sequence
from functools import partial
from typing import Any, NamedTuple, TypeVar

from floor.checklist.gates import Cured, FirstPiece, Gate, Measured, Probed, ToolLoaded
from floor.checklist.model import Checklist
from floor.checklist.operation import Do, Operation, ProgramLimits, Rework
from floor.checklist.weaker_fields import (
    BAND,
    CAUTIONS,
    CHARACTERISTICS,
    CHECKS,
    CLOCKS,
    OPERATIONS,
    PROGRAM_LIMITS,
    REWORKS,
    STATIONS,
    STEPS,
    Row,
    find_weaker_fields,
)

SAID: Mapping[str, str] = {
    "caution gone": "caution removed",
    "lower signal word": "signal word lowered",
    "caution reworded": "caution reworded",
    "caution off an operation": "caution removed there",
    "caution moved": "caution no longer at that place",
    "operation gone": "operation with checks removed",
    "step gone": "step removed",
    "step may be skipped": "step may now be skipped",
    "check gone": "check removed",
    "check may be waived": "check easier to waive",
    "characteristic gone": "no longer checked on the first piece",
    "axis gone": "no longer probed",
}
"""A kind in words, where it is not in words itself; the gravest first."""
_Part = TypeVar("_Part")


class Weakening(NamedTuple):
    kind: str
    subject: str
    """The caution's hazard, or the title of the step or check, or what else it is about."""
    op: int = 0
    """The operation, where it is about one, by its number before."""
    was: str = ""
    now: str = ""
    """The values, where there are any."""


def describe_weakening(kind: str, subject: str, op: int, was: str = "", now: str = "") -> str:
    """``op 30, step may now be skipped: Shut the door``, or ``op 10, sample smaller: Measure depth (2, now 1)``."""
    values = f" ({was}, now {now})" if was or now else ""
    return (f"op {op}, " if op else "") + f"{SAID.get(kind, kind)}: {subject}{values}"


def list_weakenings(before: Checklist, now: Checklist) -> tuple[Weakening, ...]:
    """What the newer one asks less of.

    Operations are matched by number and title, renumbered ones by title; steps and checks by what they are of. An
    operation that is gone takes its hazards with it, but not its checks.
    """
    found = list(_compare_cautions(before, now))
    gone = before.cautions.keys() - now.cautions.keys()
    matched = match_operations(before.operations, now.operations)
    for operation, newer in matched:
        if newer is None:
            if any(not isinstance(step, Do) for step in operation.steps):
                found.append(Weakening("operation gone", operation.title, operation.op))
            continue
        found += _compare_operation(operation, newer)
        found += _compare_places(before, operation, newer, gone)
        for id in newer.stations:
            station = before.station(id if id in operation.stations else operation.station)
            found += _compare(STATIONS, station, now.station(id), station.name)
    for rework in before.reworks:
        same = now.rework(rework.id)
        if same is not None:
            found += _compare_rework(rework, same)
            way, left = before.list_way(rework.id), now.list_way(rework.id)
            skipped = [one.op for one, newer in matched if one.op in way and newer is not None and newer.op not in left]
            found += [Weakening("left out of a rework", rework.name, op) for op in skipped]
    order = list(SAID)
    return tuple(
        sorted(dict.fromkeys(found), key=lambda one: (order.index(one.kind) if one.kind in SAID else len(SAID), one.op))
    )


def _compare(rows: Iterable[Row], was: Any, now: Any, subject: str, op: int = 0) -> Iterator[Weakening]:
    for kind, before, after in find_weaker_fields(rows, was, now):
        yield Weakening(kind, subject, op, before, after)


# --- operations


def match_operations(before: Sequence[Operation], now: Sequence[Operation]) -> list[tuple[Operation, Operation | None]]:
    """Each operation with the newer one that stands for it, if any.

    The same number and title first, then the same title, then the same number, then the most steps in common, so that
    neither a new number nor a new title hides anything.
    """
    found: dict[int, Operation] = {}
    left = list(now)
    for alike in (_has_number_and_title, _has_title, _has_number, _count_common):
        for one in before:
            best = max(left, key=partial(alike, one), default=None)
            if one.op not in found and best is not None and alike(one, best):
                found[one.op] = best
                left.remove(best)
    return [(one, found.get(one.op)) for one in before]


def _has_number_and_title(one: Operation, other: Operation) -> int:
    return one.op == other.op and _has_title(one, other)


def _has_title(one: Operation, other: Operation) -> int:
    return _fold(one.title) == _fold(other.title)


def _has_number(one: Operation, other: Operation) -> int:
    """As far as they have a step in common: else it is another operation in its place."""
    return _count_common(one, other) if one.op == other.op else 0


def _count_common(one: Operation, other: Operation) -> int:
    """Steps that both have."""
    return len({_name_step(step) for step in one.steps} & {_name_step(step) for step in other.steps})


def _fold(text: str) -> str:
    return " ".join(text.casefold().split())


def _compare_operation(before: Operation, now: Operation) -> Iterator[Weakening]:
    yield from _compare(OPERATIONS, before, now, before.title, before.op)
    limits = before.program_limits
    if limits is not None:
        yield from _compare(PROGRAM_LIMITS, limits, now.program_limits or ProgramLimits(), "program", before.op)
    for step, newer in _match_steps(before.steps, now.steps):
        yield from _compare_step(step, newer, before.op)
    clocks = {clock.id: clock for clock in now.clocks}
    for clock in before.clocks:
        if clock.id in clocks:
            yield from _compare(CLOCKS, clock, clocks[clock.id], clock.id, before.op)


def _compare_rework(before: Rework, now: Rework) -> Iterator[Weakening]:
    yield from _compare(REWORKS, before, now, before.name)
    for step, newer in _match_steps(before.steps, now.steps):
        yield from _compare_step(step, newer, 0)


# --- steps and checks


def _name_step(step: Do | Gate) -> Hashable:
    """What a step is of, without its limits."""
    if isinstance(step, Measured):
        return step.gate, _fold(step.what), _fold(step.accept)
    if isinstance(step, Cured):
        return step.gate, _fold(step.clock)
    if isinstance(step, Probed):
        return step.gate, _fold(step.offset)
    if isinstance(step, ToolLoaded):
        return step.gate, step.tool
    kind = "" if isinstance(step, Do) else step.gate
    return kind, _fold(getattr(step, "do", "") or getattr(step, "what", ""))


def _match_steps(before: Sequence[Do | Gate], now: Sequence[Do | Gate]) -> list[tuple[Do | Gate, Do | Gate | None]]:
    return _match(before, now, _name_step, lambda was, then: len(list(_compare_step(was, then, 0))))


def _match(
    before: Sequence[_Part],
    now: Sequence[_Part],
    name: Callable[[_Part], Hashable],
    count_weaker: Callable[[_Part, _Part], int] = lambda was, then: 0,
) -> list[tuple[_Part, _Part | None]]:
    """Each part with a newer one of its name, which then stands for no other: an equal one, else the least weaker."""
    left: dict[Hashable, list[_Part]] = {}
    for one in now:
        left.setdefault(name(one), []).append(one)
    found: dict[int, _Part] = {}
    for n, one in enumerate(before):
        same = left.get(name(one), [])
        if one in same:
            found[n] = same.pop(same.index(one))
    for n, one in enumerate(before):
        same = left.get(name(one), [])
        if n not in found and same:
            found[n] = same.pop(same.index(min(same, key=lambda other: count_weaker(one, other))))
    return [(one, found.get(n)) for n, one in enumerate(before)]


def _compare_step(before: Do | Gate, now: Do | Gate | None, op: int) -> Iterator[Weakening]:
    """A step that might be skipped before is nothing to answer for."""
    if isinstance(before, Do):
        if not before.skip:
            yield from _compare(STEPS, before, now, before.do, op) if now else [Weakening("step gone", before.do, op)]
        return
    title = before.title()
    if now is None:
        yield Weakening("check gone", title, op)
        return
    yield from _compare(CHECKS, before, now, title, op)
    if isinstance(before, FirstPiece | Measured) and isinstance(now, FirstPiece | Measured):
        pairs = _match(before.characteristics, now.characteristics, lambda one: (_fold(one.what), _fold(one.accept)))
        for one, newer in pairs:
            gone = [Weakening("characteristic gone", one.what, op)]
            yield from _compare(CHARACTERISTICS, one, newer, one.what, op) if newer is not None else gone
    if isinstance(before, Probed) and isinstance(now, Probed):
        for axis, other in _match(before.axes, now.axes, lambda one: (_fold(one.name), _fold(one.offset))):
            name = " ".join(filter(None, (axis.offset or before.offset, axis.name)))
            gone = [Weakening("axis gone", name, op)]
            yield from _compare(BAND, axis, other, name, op) if other is not None else gone


# --- cautions


def _compare_cautions(before: Checklist, now: Checklist) -> Iterator[Weakening]:
    for name, caution in before.cautions.items():
        newer = now.cautions.get(name)
        if newer is None:
            yield Weakening("caution gone", caution.hazard)
            continue
        lower = [Weakening(kind, caution.hazard) for kind, *_ in find_weaker_fields(CAUTIONS, caution, newer)]
        if lower:
            yield from lower
        elif (newer.hazard, newer.consequence, newer.avoid) != (caution.hazard, caution.consequence, caution.avoid):
            yield Weakening("caution reworded", caution.hazard)


def _compare_places(before: Checklist, was: Operation, now: Operation, gone: Iterable[str]) -> Iterator[Weakening]:
    """Cautions that are not read where they were: at a step, at the start, the end or the count."""
    there = {name for step in now.steps for name in step.cautions}.union(*now.event_cautions.values())
    places: list[tuple[str, Iterable[str], Iterable[str]]] = [
        (step.title(), step.cautions, newer.cautions if newer is not None else ())
        for step, newer in _match_steps(was.steps, now.steps)
    ]
    places += [
        (field.partition("_")[0], names, now.event_cautions.get(field, ()))
        for field, names in was.event_cautions.items()
    ]
    for place, names, left in places:
        for name in sorted(set(names) - set(left) - set(gone)):
            hazard = before.cautions[name].hazard
            if name in there:
                yield Weakening("caution moved", f"{hazard}: {place}", was.op)
            else:
                yield Weakening("caution off an operation", hazard, was.op)
