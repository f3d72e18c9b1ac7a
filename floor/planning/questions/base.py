"""A what-if change, and the context for reading it."""

from __future__ import annotations

from datetime import datetime

from floor.batch.state import Batch
from floor.dataclass import dataclass
from floor.entry import Moment
from floor.figures.calendar import Calendar
from floor.planning.problem import collect_plan_names
from floor.planning.questions.days import NotUnderstood
from floor.planning.questions.parse_words import build_unknown_name_error
from floor.planning.scenario import Scenario, Supposing
from floor.wall import convert_to_zone


@dataclass(frozen=True, slots=True)
class WhatIfQuestion:
    """One change."""

    text: str
    """The change in the shop's words."""
    supposed: Supposing
    sense: int = 0
    """1 if it can only help, -1 if it can only harm."""
    rank: int = 0
    """Lower ranks are applied first, in whatever order they were written."""
    once: bool = False
    """Whether asking twice equals asking once."""


class QuestionContext:
    """The shop that the question is about."""

    def __init__(self, case: Scenario, now: Moment) -> None:
        self.case = case
        self.calendar: Calendar = case.crew.calendar
        self.at: datetime = convert_to_zone(now.at, self.calendar.tz)
        self.names = collect_plan_names(case.batches)


def find_batch(asking: QuestionContext, text: str) -> Batch:
    for batch in asking.case.batches:
        if text.lower() in (batch.id.lower(), batch.reference.lower()):
            return batch
    if len(asking.case.batches) == 1:
        raise NotUnderstood(f'there is no "{text.upper()}" here, and only one order. Leave "of {text.upper()}" out')
    raise build_unknown_name_error(text.upper(), [batch.id for batch in asking.case.batches])


def find_only_batch(asking: QuestionContext, like: str) -> Batch:
    if len(asking.case.batches) > 1:
        raise NotUnderstood(f'of which batch? Write "{like.format(asking.case.batches[0].id)}"')
    return asking.case.batches[0]


def format_of_batch(asking: QuestionContext, batch: Batch) -> str:
    return f" of {batch.id}" if len(asking.case.batches) > 1 else ""


def format_minutes(minutes: float) -> str:
    return f"{minutes / 60:g} h" if minutes >= 60 else f"{minutes:g} min"
