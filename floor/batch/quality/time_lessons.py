"""What the parts of an operation took, against what the checklist states for them.

Manual work at program stops and rework teach nothing here.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from functools import cache, partial
from statistics import median

from floor.batch.quality.lesson_figures import LEAST_CHANGE, format_number, measure_spread, round_sensibly
from floor.batch.quality.lesson_kinds import Offer, TimeLesson, TimePart, WhyNot
from floor.batch.quality.run_times import PartTime, RunPart, is_plausible, list_part_times
from floor.batch.state import Batch
from floor.checklist.operation import Operation
from floor.checklist.patching import Change, Field
from floor.checklist.units import Measure
from floor.figures.calendar import Calendar
from floor.figures.quality.intervals import Interval
from floor.figures.quality.missing import Missing
from floor.figures.quality.spread import Spread, compute_spread

MOST_ODD = 0.5
"""Share of times too far off to be those of the work, from which on none is believed (shop decision)."""
_OF_RUN = {
    RunPart.FIRST: TimePart.SETUP,
    RunPart.BEFORE: TimePart.BEFORE,
    RunPart.CYCLE: TimePart.CYCLE,
    RunPart.AFTER: TimePart.AFTER,
    RunPart.WORK: TimePart.WORK,
}


def gather_times(batch: Batch, calendar: Calendar) -> Mapping[int, Mapping[TimePart, list[PartTime]]]:
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


def study_times(
    op: int, times: Mapping[TimePart, Sequence[PartTime]], operation: Operation | None
) -> Iterator[TimeLesson]:
    for part in TimePart:
        those = times.get(part, ())
        if not those:
            continue
        took = [one.took for one in those]
        if operation is None:
            yield TimeLesson(op, part, measure_spread(took), None, 0.0, 0, WhyNot.OTHER_WORK)
            continue
        state = cache(partial(_state, part, operation))
        stated = [state(one.pieces) for one in those]
        if all(stated):
            yield _compare_times(op, part, operation, list(zip(took, stated, strict=True)))
        elif part is not TimePart.SETUP:  # what is left of a first run without a stated set-up is none
            yield TimeLesson(op, part, measure_spread(took), None, 0.0, 0, WhyNot.NOT_STATED)


def _compare_times(op: int, part: TimePart, operation: Operation, pairs: Sequence[tuple[float, float]]) -> TimeLesson:
    """What was taken against what is stated, seconds each."""
    sound = [(took, plan) for took, plan in pairs if is_plausible(took, plan)]
    odd = len(pairs) - len(sound)
    ratio = compute_spread([took / plan for took, plan in sound])
    kept = measure_spread([took for took, _ in sound or pairs])
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
        if measure is not None:
            after = _change_measure(measure, ratio.median, surely)
            found += [Change(Field("operations", op, ("time", key)), measure.text, after)] if after else []
    return tuple(found) or WhyNot.AS_STATED


def _change_measure(measure: Measure, times: float, surely: Interval) -> str:
    """A measure so many times as large, in its own unit; empty if it reads the same."""
    number = round_sensibly(measure.number * times, measure.number * surely.low, measure.number * surely.high)
    return "" if number == measure.number else f"{format_number(number)} {measure.unit}"
