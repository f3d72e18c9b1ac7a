"""Likely questions, each inserted by one key."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import timedelta

from floor.dataclass import dataclass
from floor.entry import Moment
from floor.figures.overtime import build_second_shift
from floor.figures.schedule import ResourceUse, Saving
from floor.figures.workdays import find_working_shifts
from floor.planning.curing import Cure, list_cures
from floor.planning.plan import ShopPlan
from floor.planning.questions.base import QuestionContext, format_minutes
from floor.planning.questions.days import WEEKDAYS
from floor.planning.scenario import Scenario
from floor.text import format_count

MOST = 8


@dataclass(frozen=True, slots=True)
class Suggestion:
    """A change in words that `read_questions` reads."""

    one: str
    many: str = ""
    """The same for a number of them, with the number left open; empty if that makes no sense."""


def suggest_questions(
    shop_plan: ShopPlan, case: Scenario, now: Moment, saved: Sequence[Saving] | None = None
) -> list[Suggestion]:
    """The likely ones first.

    Args:
        saved: what one more of each saves; if unknown, the most used come first.
    """
    hours = {(one.kind, one.name): one.working for one in saved or ()}
    used = sorted(
        (use for use in shop_plan.plan.use if use.busy),
        key=lambda use: (-hours.get((use.kind, use.name), 0.0), -use.share),
    )
    found = dict.fromkeys(_list_suggestions(shop_plan, QuestionContext(case, now), used))
    return list(found)[:MOST]


def _list_suggestions(
    shop_plan: ShopPlan, asking: QuestionContext, used: Sequence[ResourceUse]
) -> Iterator[Suggestion]:
    carriers = [_suggest_one_more(use) for use in used if use.kind == "carrier"]
    stations = [use.name for use in used if use.kind == "station"]
    yield from _suggest_days(asking)
    yield from carriers[:1]
    yield Suggestion("end 1 h later", "end {} h later")
    yield Suggestion("1 more person", "{} more people")
    for name in stations[:1]:
        yield Suggestion(f"1 more {name}", f"{{}} more {format_count(2, name)[2:]}")
    yield from _suggest_first(asking)
    yield from carriers[1:2]
    if build_second_shift(asking.calendar):
        yield Suggestion("second shift")
    yield from _suggest_outage(asking, stations[:1])
    yield from _suggest_longer_cures(shop_plan, asking)


def _suggest_first(asking: QuestionContext) -> Iterator[Suggestion]:
    """That one of several batches goes first, of those that are due soonest."""
    if len(asking.case.batches) > 1:
        late = sorted(asking.case.batches, key=lambda batch: (batch.due is None, batch.due, batch.id))
        yield from (Suggestion(f"{batch.id} first") for batch in late[:2])


def _suggest_outage(asking: QuestionContext, stations: Sequence[str]) -> Iterator[Suggestion]:
    """That stations are down until the next working day."""
    days = (asking.at.date() + timedelta(days=n) for n in range(1, 8))
    back = next((day for day in days if find_working_shifts(asking.calendar, day)), None)
    if back is not None:
        yield from (Suggestion(f"{name} down until {WEEKDAYS[back.weekday()][:3]}") for name in stations)


def _suggest_longer_cures(shop_plan: ShopPlan, asking: QuestionContext) -> Iterator[Suggestion]:
    """That cures which the plan still waits for take half as long again."""
    ahead = {(work.batch, work.op) for work in shop_plan.asked.works.values()}
    for batch in asking.case.batches:
        alone = Counter(cure.op for cure in list_cures(batch.checklist, 0))
        for cure in list_cures(batch.checklist):
            longer = _compute_half_longer(cure)
            if longer and any((batch.id, op) in ahead for op in cure.waiting):
                of = f" of {batch.id}" if len(asking.case.batches) > 1 else ""
                name = f"cure after {cure.op}" if alone[cure.op] == 1 else cure.name
                yield Suggestion(f"{name}{of} {format_minutes(longer)} longer")


def _compute_half_longer(cure: Cure) -> int:
    """Minutes of a noticeable extension: half its length, as far as its window allows; 0 if none."""
    longer = round(cure.minutes / 2 + max(0.0, cure.cycle - cure.minutes))
    if cure.latest is not None:
        longer = min(longer, int(cure.latest - cure.minutes))
    return longer if cure.minutes + longer > cure.cycle else 0


def _suggest_days(asking: QuestionContext) -> Iterator[Suggestion]:
    weekly = {shift.weekday for shift in asking.calendar.shifts if shift.people != 0}
    for weekday in (5, 6):
        if weekday not in weekly:
            day = asking.at.date() + timedelta(days=(weekday - asking.at.weekday()) % 7)
            every = "every " if find_working_shifts(asking.calendar, day) else ""
            yield Suggestion(f"{every}{WEEKDAYS[weekday]}")
            return


def _suggest_one_more(use: ResourceUse) -> Suggestion:
    return Suggestion(f"1 more {use.name}", f"{{}} more {format_count(2, use.name)[2:]}")


def insert_suggestion(text: str, offer: Suggestion) -> str:
    """The text with a suggestion added; if already there, one more of it, or without it."""
    phrases = [phrase for part in text.split(",") if (phrase := part.strip())]
    several = re.compile(re.escape(offer.many).replace(r"\{\}", r"(\d{1,2})")) if offer.many else None
    for n, phrase in enumerate(phrases):
        found = several.fullmatch(phrase) if several else None
        if phrase == offer.one and not offer.many:
            del phrases[n]
            break
        if phrase == offer.one or found:
            phrases[n] = offer.many.format(int(found[1]) + 1 if found else 2)
            break
    else:
        phrases.append(offer.one)
    return ", ".join(phrases)
