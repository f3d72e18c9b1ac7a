"""What a batch taught in numbers that the next quote can use, and what of it can be offered to the checklist.

A lesson is offered only if it stands on enough values and differs from the checklist by more than luck: the interval of
what was seen does not hold what is stated. Everything else says why not.

The interval of a median is by order statistics, so it takes 6 values at least. A yield is blended by weights as the
forecast learns it, so the next plan starts where this batch ended. Manual work at program stops, rework and shares of
rework teach nothing here.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from enum import StrEnum
from functools import cache, partial
from statistics import median
from typing import NamedTuple, Protocol

from floor.batch.quality.run_times import PartTime, RunPart, is_plausible, list_part_times
from floor.batch.quality.tool_age import ToolLife, list_tool_lives
from floor.batch.state import Batch
from floor.batch.trial import Trial
from floor.checklist.equipment import Tool
from floor.checklist.model import Checklist
from floor.checklist.operation import Operation
from floor.checklist.patching import STEPS, Change, Field
from floor.checklist.units import PIECES, Measure
from floor.dataclass import dataclass
from floor.figures.calendar import Calendar
from floor.figures.quality.intervals import Interval
from floor.figures.quality.missing import Missing
from floor.figures.quality.share_by_load import LoadCount, ShareByLoad, compute_share_by_load
from floor.figures.quality.spread import Spread, compute_spread, count_values_for_interval

FEWEST = count_values_for_interval()
"""Times, or tools, that a lesson takes."""
FEWEST_LOADS = 3
"""Loads that the lesson of a yield takes: two tell too little of how much loads differ (shop decision)."""
MOST_ODD = 0.5
"""Share of times too far off to be those of the work, from which on none is believed (shop decision)."""
LEAST_CHANGE = 0.05
"""Share by which a time or tool life must differ: less changes no quote (shop decision)."""
YIELD_DIGITS = 3


class WhyNot(StrEnum):
    """Why a lesson is not offered."""

    FEW = "too few"
    AS_STATED = "no further off than luck, or by too little to matter"
    NOT_STATED = "the checklist states nothing to set it against"
    ODD = "most are too far off to be those of the work"
    USED_UP = "each was used up, so nobody knows how much longer it lasts"
    OTHER_WORK = "the checklist's file has another operation or tool there now"
    TAKEN = "taken before: its pieces are in the file's figure"
    SHARES = "with the shares that the file sends to rework it would add up to more than 1"


class TimePart(StrEnum):
    """What the checklist states times for, as far as the record tells it."""

    SETUP = "set-up"
    BEFORE = "before the cycle"
    CYCLE = "cycle"
    AFTER = "after the cycle"
    WORK = "hand work"

    @property
    def keys(self) -> tuple[str, ...]:
        """Fields of `Times` that make it up."""
        return _KEYS[self]


_OF_RUN = {
    RunPart.FIRST: TimePart.SETUP,
    RunPart.BEFORE: TimePart.BEFORE,
    RunPart.CYCLE: TimePart.CYCLE,
    RunPart.AFTER: TimePart.AFTER,
    RunPart.WORK: TimePart.WORK,
}
_KEYS = {
    TimePart.SETUP: ("setup",),
    TimePart.BEFORE: ("before", "before_piece"),
    TimePart.CYCLE: ("cycle", "cycle_piece"),
    TimePart.AFTER: ("after", "after_piece"),
    TimePart.WORK: ("before", "before_piece", "cycle", "cycle_piece", "after", "after_piece"),
}


Offer = tuple[Change, ...] | WhyNot
"""What the lesson would change in the checklist's file, or why nothing."""


class Offered:
    """Something that may be offered."""

    __slots__ = ()
    offer: Offer

    @property
    def changes(self) -> tuple[Change, ...]:
        return () if isinstance(self.offer, WhyNot) else self.offer

    @property
    def why_not(self) -> WhyNot | None:
        return self.offer if isinstance(self.offer, WhyNot) else None


@dataclass(frozen=True, slots=True)
class TimeLesson(Offered):
    """What one part of an operation took."""

    op: int
    part: TimePart
    took: Spread
    """Seconds."""
    ratio: Spread | None
    """Of what was stated for each; None where nothing is."""
    over: float
    """Seconds that all of them took more than stated; below 0 if less."""
    odd: int
    """Times left out as too far off."""
    offer: Offer


@dataclass(frozen=True, slots=True)
class YieldLesson(Offered):
    """How many pieces were good at their first count."""

    op: int
    loads: int
    share: ShareByLoad
    stated: float
    weight: float
    """Pieces that the stated yield weighs."""
    offer: Offer


@dataclass(frozen=True, slots=True)
class LifeLesson(Offered):
    """How worn tools were when they were changed."""

    tool: int
    used: Spread
    """In the base unit of the card: seconds, or pieces; used up counts as its stated life."""
    used_up: int
    """Tools that could cut no further load."""
    stated: Measure | None
    offer: Offer


@dataclass(frozen=True, slots=True)
class ChoiceLesson(Offered):
    """What was chosen in a trial, as a step of its operation."""

    op: int
    trial: int
    text: str
    by: str
    reason: str
    offer: Offer


Lesson = TimeLesson | YieldLesson | LifeLesson | ChoiceLesson


@dataclass(frozen=True, slots=True)
class SpareLesson:
    """Whether the pieces started beyond the order were enough."""

    ordered: int
    started: int
    finished: int
    lost: int
    """Scrapped, or stopped in work."""
    unfinished: int
    """Still in process, on hold or in rework."""
    tried: int = 0
    """Used up in trials."""


@dataclass(frozen=True, slots=True)
class Lessons:
    """All of a batch."""

    lessons: tuple[Lesson, ...]
    spares: SpareLesson

    @property
    def offered(self) -> tuple[Lesson, ...]:
        return tuple(one for one in self.lessons if one.changes)

    @property
    def kept(self) -> tuple[Lesson, ...]:
        """Those that are not offered."""
        return tuple(one for one in self.lessons if not one.changes)


def study_lessons(
    batch: Batch, calendar: Calendar, stated: Checklist | None = None, taken: frozenset[str] = frozenset()
) -> Lessons:
    """The lessons of a batch as it stands, in the order of the operations, tools last.

    Args:
        stated: the checklist as its file says now; the batch's own if left out.
        taken: fields of the file, as `Field` writes them, that hold a lesson of this batch. A yield is taken once, or
            its pieces would count twice.
    """
    now = stated or batch.checklist
    found: list[Lesson] = []
    times = _gather_times(batch, calendar)
    shares = gather_first_counts(batch)
    for op, operation in batch.checklist.ops.items():
        there = find_same_work(operation, now)
        found += _study_times(op, times.get(op, {}), there)
        if shares.get(op) and not operation.rework_only:
            loads = [one.load for one in shares[op]]
            found.append(_study_yield(op, loads, there, taken))
        found += [_study_choice(trial, there) for trial in batch.trials.values() if trial.op == op and _is_offer(trial)]
    lives: dict[int, list[ToolLife]] = defaultdict(list)
    for life in list_tool_lives(batch):
        lives[life.tool].append(life)
    for number in sorted(lives):
        card = batch.checklist.tool(number)
        if card is not None:  # one without a life wears by no cycle: the rules see to it
            found.append(_study_life(card, lives[number], now))
    return Lessons(tuple(found), _count_spares(batch))


def _count_spares(batch: Batch) -> SpareLesson:
    lost, tried = batch.total("scrap") + batch.total("stopped"), batch.total("trial")
    finished = batch.total("finished") + batch.total("spare")
    return SpareLesson(batch.order, batch.started, finished, lost, batch.started - finished - lost - tried, tried)


def apply_changes(checklist: Checklist, lessons: Sequence[Lesson]) -> Checklist:
    """The checklist with the yields that are offered, to see how many pieces it would start."""
    values = {
        (one.op, change.field.keys[-1]): change.after
        for one in lessons
        if isinstance(one, YieldLesson)
        for change in one.changes
    }

    def change(operation: Operation) -> Operation:
        own = {key: float(value) for (op, key), value in values.items() if op == operation.op}
        return replace(operation, **own) if own else operation  # type: ignore[arg-type]

    return replace(checklist, operations=tuple(map(change, checklist.operations)))


def round_sensibly(value: float, low: float, high: float) -> float:
    """Rounded to what the interval can tell: to the largest power of ten within half of it, to two or three digits."""
    if value <= 0:
        return 0.0
    size = math.floor(math.log10(value))
    known = math.floor(math.log10((high - low) / 2)) if high > low else size - 2
    return round(value, -min(max(known, size - 2), size - 1))


class Work(Protocol):
    """What tells one operation from another of its number."""

    @property
    def op(self) -> int: ...
    @property
    def title(self) -> str: ...
    @property
    def station(self) -> str: ...
    @property
    def cycle(self) -> bool: ...


def find_same_work(operation: Work, now: Checklist) -> Operation | None:
    """The operation as the file has it now, if it is the same work."""
    there = now.ops.get(operation.op)
    same = there is not None and (there.title, there.station, there.cycle) == (
        operation.title,
        operation.station,
        operation.cycle,
    )
    return there if same else None


# --- times -----------------------------------------------------------------------------------------------------------


def _gather_times(batch: Batch, calendar: Calendar) -> Mapping[int, Mapping[TimePart, list[PartTime]]]:
    """Operation → part → its times; of runs entered half done nothing is known."""
    found: dict[int, dict[TimePart, list[PartTime]]] = defaultdict(lambda: defaultdict(list))
    for one in list_part_times(batch, calendar, firsts=True):
        if not one.run.late:
            found[one.run.op][_OF_RUN[one.part]].append(one)
    for op, times in found.items():
        if TimePart.SETUP in times:
            times[TimePart.SETUP] = list(_take_off_work(batch, op, times[TimePart.SETUP], times))
    return found


def _take_off_work(
    batch: Batch, op: int, firsts: Sequence[PartTime], others: Mapping[TimePart, Sequence[PartTime]]
) -> Iterator[PartTime]:
    """The set-up of first runs: until their start, less what that work took of other loads, or is stated."""
    operation = batch.operation(op)
    part = RunPart.BEFORE if operation.cycle else RunPart.WORK
    same = others.get(TimePart(part.value), ())
    state = cache(lambda pieces: part.find_seconds(operation.time, pieces))
    stated = [(one.took, state(one.pieces)) for one in same]
    ratios = [took / plan for took, plan in stated if plan and is_plausible(took, plan)]
    pace = median(ratios) if ratios else 1.0
    for run, _, pieces, took in firsts:
        yield PartTime(run, RunPart.FIRST, pieces, max(took - pace * state(pieces), 0.0))


def _state(part: TimePart, operation: Operation, pieces: int) -> float:
    if part is TimePart.SETUP:
        return operation.time.seconds("setup", 0)
    return RunPart(part.value).find_seconds(operation.time, pieces)


def _study_times(
    op: int, times: Mapping[TimePart, Sequence[PartTime]], operation: Operation | None
) -> Iterator[TimeLesson]:
    for part in TimePart:
        those = times.get(part, ())
        if not those:
            continue
        took = [one.took for one in those]
        if operation is None:
            yield TimeLesson(op, part, _spread(took), None, 0.0, 0, WhyNot.OTHER_WORK)
            continue
        state = cache(partial(_state, part, operation))
        stated = [state(one.pieces) for one in those]
        if all(stated):
            yield _compare_times(op, part, operation, list(zip(took, stated, strict=True)))
        elif part is not TimePart.SETUP:  # what is left of a first run without a stated set-up is none
            yield TimeLesson(op, part, _spread(took), None, 0.0, 0, WhyNot.NOT_STATED)


def _spread(values: Sequence[float]) -> Spread:
    found = compute_spread(values)
    assert not isinstance(found, Missing), "there is one value at least"
    return found


def _compare_times(op: int, part: TimePart, operation: Operation, pairs: Sequence[tuple[float, float]]) -> TimeLesson:
    """What was taken against what is stated, seconds each."""
    sound = [(took, plan) for took, plan in pairs if is_plausible(took, plan)]
    odd = len(pairs) - len(sound)
    ratio = compute_spread([took / plan for took, plan in sound])
    kept = _spread([took for took, _ in sound or pairs])
    over = sum(took - plan for took, plan in sound)
    if isinstance(ratio, Missing):
        return TimeLesson(op, part, kept, None, over, odd, WhyNot.ODD)
    offer: Offer = WhyNot.ODD
    if odd <= MOST_ODD * len(pairs):
        offer = _offer_times(op, part, operation, ratio)
    return TimeLesson(op, part, kept, ratio, over, odd, offer)


def _offer_times(op: int, part: TimePart, operation: Operation, ratio: Spread) -> Offer:
    """What is stated per load and per piece, both by the same ratio: one load does not tell them apart."""
    surely = ratio.interval
    if isinstance(surely, Missing):
        return WhyNot.FEW
    if surely.low <= 1 <= surely.high or abs(ratio.median - 1) < LEAST_CHANGE:
        return WhyNot.AS_STATED
    found = []
    for key in part.keys:
        measure: Measure | None = getattr(operation.time, key)
        if measure is not None and measure.number:
            after = _change_measure(measure, ratio.median, surely)
            found += [Change(Field("operations", op, ("time", key)), measure.text, after)] if after else []
    return tuple(found) or WhyNot.AS_STATED


def _change_measure(measure: Measure, times: float, surely: Interval) -> str:
    """A measure so many times as large, in its own unit; empty if it reads the same."""
    number = round_sensibly(measure.number * times, measure.number * surely.low, measure.number * surely.high)
    return "" if number in (measure.number, 0.0) else f"{format_number(number)} {measure.unit}"


def format_number(number: float) -> str:
    """``12.4``, ``120``; never with an exponent."""
    return f"{number:.9f}".rstrip("0").rstrip(".")


# --- yields ----------------------------------------------------------------------------------------------------------


class FirstCount(NamedTuple):
    """What one load counted of the pieces that came to an operation for the first time."""

    load: LoadCount
    reworked: int


def gather_first_counts(batch: Batch) -> Mapping[int, Sequence[FirstCount]]:
    """Operation → what its loads counted at the first count of each piece; held ones are left out."""
    seen: dict[int, set[int]] = defaultdict(set)
    found: dict[int, list[FirstCount]] = defaultdict(list)
    for op, said in (batch.late.counted if batch.late is not None else {}).items():
        seen[op].update(said)
        _add_load(found[op], len(said), [to for to in said.values() if to != "good"])
    for run in batch.runs.values():
        if run.count is not None:
            first = set(run.pieces) - seen[run.op]
            seen[run.op] |= first
            marks = [mark.to for mark in run.count.marks for piece in mark.pieces if piece in first]
            _add_load(found[run.op], len(first), marks)
    return found


def _add_load(loads: list[FirstCount], pieces: int, marks: Sequence[str]) -> None:
    """A load of so many pieces, and what became of those that are not simply good."""
    decided = pieces - marks.count("hold")
    if decided:
        loads.append(FirstCount(LoadCount(pieces - len(marks), decided), marks.count("rework")))


def _study_yield(
    op: int, loads: Sequence[LoadCount], operation: Operation | None, taken: frozenset[str]
) -> YieldLesson:
    share = compute_share_by_load(loads)
    assert not isinstance(share, Missing), "a load without pieces is left out"
    if operation is None:
        return YieldLesson(op, len(loads), share, 0.0, 0.0, WhyNot.OTHER_WORK)
    offer: Offer = WhyNot.TAKEN
    if str(Field("operations", op, ("expected_yield",))) not in taken:
        offer = _offer_yield(op, len(loads), operation, share)
    return YieldLesson(op, len(loads), share, operation.expected_yield, operation.yield_weight, offer)


def _offer_yield(op: int, loads: int, operation: Operation, share: ShareByLoad) -> Offer:
    """Stated and seen together, each by the pieces that it is worth, as the forecast learns; and their sum."""
    stated, weight, surely = operation.expected_yield, operation.yield_weight, share.interval
    if loads < FEWEST_LOADS or isinstance(surely, Missing):
        return WhyNot.FEW
    blended = (stated * weight + share.share * share.worth) / (weight + share.worth)
    after = max(round(blended, YIELD_DIGITS), 10.0**-YIELD_DIGITS)
    low, high = round(surely.low, YIELD_DIGITS), round(surely.high, YIELD_DIGITS)
    if low <= stated <= high or after == stated:  # one piece lost proves 100 % wrong, and teaches nothing
        return WhyNot.AS_STATED
    if after + _sum_shares(operation) > 1 + 1e-9:
        return WhyNot.SHARES
    return (
        Change(Field("operations", op, ("expected_yield",)), stated, after),
        Change(Field("operations", op, ("yield_weight",)), weight, float(round(weight + share.worth))),
    )


def _sum_shares(operation: Operation) -> float:
    return sum(reason.share or 0.0 for reason in operation.reasons)


# --- trials ----------------------------------------------------------------------------------------------------------


def _is_offer(trial: Trial) -> bool:
    return trial.choice is not None and bool(trial.choice.setting and trial.choice.offer)


def _study_choice(trial: Trial, operation: Operation | None) -> ChoiceLesson:
    """Its line as the first step of the operation, whatever the results tell: somebody chose it."""
    choice = trial.choice
    assert choice is not None, "only a choice is offered"
    text = choice.offer
    offer: Offer = WhyNot.OTHER_WORK
    if operation is not None:
        there = any(getattr(step, "do", "") == text for step in operation.steps)
        new = Change(Field("operations", trial.op, (STEPS, text)), None, text)
        offer = WhyNot.AS_STATED if there else (new,)
    return ChoiceLesson(trial.op, trial.number, text, choice.by, choice.reason, offer)


# --- tool life -------------------------------------------------------------------------------------------------------


def _study_life(card: Tool, lives: Sequence[ToolLife], now: Checklist) -> LifeLesson:
    stated = _find_stated_life(card, now)
    ended = [stated is not None and one.used + one.need > stated.base for one in lives]
    used = _spread([stated.base if stated and end else one.used for one, end in zip(lives, ended, strict=True)])
    offer = WhyNot.OTHER_WORK if stated is None else _offer_life(card.number, stated, used, all(ended))
    return LifeLesson(card.number, used, sum(ended), stated, offer)


def _find_stated_life(card: Tool, now: Checklist) -> Measure | None:
    """As the file has it now, if it is the same tool and counts as the batch did."""
    there = now.tool(card.number)
    if there is None or (there.name, there.station) != (card.name, card.station):
        return None
    counts_alike = (
        there.life is not None and card.life is not None and is_in_pieces(there.life) == is_in_pieces(card.life)
    )
    return there.life if counts_alike else None


def _offer_life(tool: int, stated: Measure, used: Spread, all_ended: bool) -> Offer:
    """Only ever a shorter one: no tool is used for longer than its card says."""
    surely = used.interval
    if isinstance(surely, Missing):
        return WhyNot.FEW
    if all_ended:
        return WhyNot.USED_UP
    if surely.high >= stated.base or used.median > (1 - LEAST_CHANGE) * stated.base:
        return WhyNot.AS_STATED
    scale = stated.number / stated.base
    number = round_sensibly(used.median * scale, surely.low * scale, surely.high * scale)
    number = max(round(number), 1) if is_in_pieces(stated) else number
    if number in (stated.number, 0.0):
        return WhyNot.AS_STATED
    return (Change(Field("tools", tool, ("life",)), stated.text, f"{format_number(number)} {stated.unit}"),)


def is_in_pieces(life: Measure) -> bool:
    return life.unit in PIECES
