"""What a batch taught in numbers that the next quote can use, and what of it can be offered to the checklist.

A lesson is offered only if it stands on enough values and differs from the checklist by more than luck: the interval of
what was seen does not hold what is stated. Everything else says why not.
"""

from __future__ import annotations

from collections import defaultdict

from floor.batch.counting.surplus import is_order_filled
from floor.batch.quality.first_counts import gather_first_counts
from floor.batch.quality.lesson_kinds import ChoiceLesson, Lesson, Lessons, Offer, SpareLesson, WhyNot
from floor.batch.quality.life_lessons import study_life
from floor.batch.quality.time_lessons import gather_times, study_times
from floor.batch.quality.tool_age import ToolLife, list_tool_lives
from floor.batch.quality.yield_lessons import study_yield
from floor.batch.state import Batch
from floor.batch.trial import Trial
from floor.checklist.model import Checklist
from floor.checklist.operation import Operation
from floor.checklist.patching import STEPS, Change, Field
from floor.checklist.same_work import find_same_work
from floor.figures.calendar import Calendar


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
    times = gather_times(batch, calendar)
    shares = gather_first_counts(batch)
    for op, operation in batch.checklist.ops.items():
        there = find_same_work(operation, now)
        found += study_times(op, times.get(op, {}), there)
        if shares.get(op) and not operation.rework_only:
            loads = [one.load for one in shares[op]]
            found.append(study_yield(op, loads, there, taken))
        found += [_study_choice(trial, there) for trial in batch.trials.values() if trial.op == op and _is_offer(trial)]
    lives: dict[int, list[ToolLife]] = defaultdict(list)
    for life in list_tool_lives(batch):
        lives[life.tool].append(life)
    for number in sorted(lives):
        card = batch.checklist.tool(number)
        if card is not None:  # one without a life wears by no cycle: the rules see to it
            found.append(study_life(card, lives[number], now))
    return Lessons(tuple(found), _count_spares(batch))


def _count_spares(batch: Batch) -> SpareLesson:
    lost, tried = batch.count_lost() + batch.total("stopped"), batch.total("trial")
    finished = batch.total("finished") + batch.total("spare")
    unfinished = batch.started - finished - lost - tried
    return SpareLesson(batch.order, batch.started, finished, lost, unfinished, tried, is_order_filled(batch))


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
