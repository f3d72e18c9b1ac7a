"""Lessons in words: each with what it stands on, and a reason in the place of what is not offered."""

from __future__ import annotations

from dataclasses import replace

import pytest

from floor.batch.quality.batch_facts import EarlierBatches
from floor.batch.quality.lesson_kinds import (
    Lesson,
    LifeLesson,
    Offer,
    SpareLesson,
    TimeLesson,
    TimePart,
    WhyNot,
    YieldLesson,
)
from floor.batch.quality.lessons import study_lessons
from floor.checklist.patching import Change, ChecklistText, Field
from floor.checklist.units import read_measure
from floor.figures.calendar import Calendar
from floor.figures.quality.intervals import Interval
from floor.figures.quality.missing import Missing
from floor.figures.quality.share_by_load import LoadCount, ShareByLoad
from floor.figures.quality.spread import Spread
from floor.papers.earlier_batches import EarlierReport, list_sure_lines
from floor.papers.lessons import FILE_ALONE, describe_lesson, list_change_lines, list_spare_lines
from floor.planning.earlier_batches import study_earlier
from tests.batch.factory import edited, open_bench, part
from tests.planning.test_earlier_batches import NOW, batch_facts, op_facts

TOOK = Spread(7, 1560.0, 1440.0, 1600.0, Interval(1380.0, 1860.0))
RATIO = Spread(7, 1.3, 1.2, 1.333, Interval(1.15, 1.55))
SHARE = ShareByLoad(88, 104, 61.2, Interval(0.741, 0.92))
FEW = Missing.TOO_FEW


def time(offer: Offer, ratio: Spread | None = RATIO, odd: int = 0, over: float = 2520.0) -> TimeLesson:
    return TimeLesson(10, TimePart.CYCLE, TOOK, ratio, over, odd, offer)


def life(offer: Offer, used: Spread = TOOK, unit: str = "60 min") -> LifeLesson:
    return LifeLesson(1, used, 2, read_measure(unit, "life"), offer)


TAKES: tuple[Change, ...] = (Change(Field("operations", 10, ("time", "cycle")), "20 min", "26 min"),)
SPREAD = "median of 7, middle half 1.20 to 1.33, 95 % sure 1.15 to 1.55"


@pytest.mark.parametrize(
    ("lesson", "said"),
    [
        (time(TAKES), f"cycle: 1.30 x stated ({SPREAD}), 42 min over in all"),
        (time(TAKES, over=-2520.0, odd=2),
         f"1.30 x stated ({SPREAD}), 42 min under in all; 2 left out, outside 0.25 to 4 x"),
        (time(WhyNot.AS_STATED), f"cycle: as stated; 1.30 x stated ({SPREAD}), 42 min over"),
        (time(WhyNot.FEW, Spread(1, 1.3, 1.3, 1.3, FEW)),
         "n/a, because 1 timed cycle is too few: it takes 6; 1.30 x stated, "),
        (time(WhyNot.FEW, Spread(4, 1.3, 1.2, 1.4, FEW)),
         "because 4 timed cycles are too few: it takes 6; 1.30 x stated (median of 4, middle half 1.20 to 1.40), "),
        (time(WhyNot.ODD, None, 1),
         "cycle: n/a, because 1 of 1 lies outside 0.25 to 4 x stated: entered later, it seems"),
        (time(WhyNot.ODD, RATIO, 9),
         "cycle: n/a, because 9 of 16 lie outside 0.25 to 4 x stated: entered later, it seems"),
        (time(WhyNot.NOT_STATED, None),
         "n/a, because the checklist states no time for it; took 26 min (median of 7, middle half 24 min to 26 "
         "min, 95 % sure 23 min to 31 min)"),
        (time(WhyNot.OTHER_WORK, None), "cycle: n/a, because the file has other work there now; took 26 min ("),
        (YieldLesson(30, 12, SHARE, 0.98, 30.0, TAKES),
         "yield: 88 of 104 good without rework, 84.6 % (95 % sure 74.1 to 92.0 %), counts as 61, because loads "
         "vary; checklist 98.0 %, counts as 30 pieces"),
        (YieldLesson(30, 12, replace(SHARE, worth=104.0), 0.98, 30.0, WhyNot.AS_STATED),
         "yield: as stated; 88 of 104 good without rework, 84.6 % (95 % sure 74.1 to 92.0 %); checklist 98.0 %"),
        (YieldLesson(30, 1, ShareByLoad(3, 4, 4.0, FEW), 0.98, 30.0, WhyNot.FEW),
         "n/a, because 1 counted load is too few: it takes 3; 3 of 4 good without rework, 75.0 %; checklist 98.0 %"),
        (YieldLesson(30, 9, SHARE, 0.98, 30.0, WhyNot.TAKEN),
         "yield: taken before, and its pieces count once; 88 of 104"),
        (YieldLesson(30, 9, SHARE, 0.98, 30.0, WhyNot.SHARES),
         "because with the shares of rework it would add up to more than 1; 88 of 104"),
        (YieldLesson(30, 9, SHARE, 0.0, 0.0, WhyNot.OTHER_WORK),
         "yield: n/a, because the file has other work there now; 88 of 104"),
        (life(TAKES),
         "life: changed after 26 min (median of 7, middle half 24 min to 26 min, 95 % sure 23 min to 31 min), 2 "
         "used up; stated 60 min"),
        (life(TAKES, Spread(7, 52.0, 48.0, 60.0, Interval(48.0, 72.0)), "100 pieces"),
         "changed after 52 pieces (median of 7, middle half 48 pieces to 60 pieces, "),
        (life(WhyNot.AS_STATED), "life: as stated; changed after 26 min ("),
        (life(WhyNot.FEW, Spread(2, 1500.0, 1400.0, 1600.0, FEW)),
         "n/a, because 2 tool changes are too few: it takes 6; changed after 25 min (median of 2, "),
        (life(WhyNot.USED_UP),
         "life: as stated: all 7 were used up, so nobody knows how much longer it lasts; stated 60 min"),
        (LifeLesson(1, TOOK, 0, None, WhyNot.OTHER_WORK),
         "life: n/a, because the file has another tool there now; changed after 26 min ("),
    ],
)  # fmt: skip
def test_each_lesson_says_what_it_stands_on_or_why_it_is_not_offered(lesson: Lesson, said: str) -> None:
    assert said in describe_lesson(lesson)
    assert ("n/a, because" in describe_lesson(lesson)) == (
        lesson.why_not is not None and lesson.why_not not in (WhyNot.AS_STATED, WhyNot.TAKEN, WhyNot.USED_UP)
    )


def test_every_reason_has_its_words() -> None:
    """Nothing that is not offered reads as if it were."""
    offered = {describe_lesson(time(TAKES)), describe_lesson(YieldLesson(30, 9, SHARE, 0.98, 30.0, TAKES))}
    for why in WhyNot:
        assert describe_lesson(time(why)) not in offered or why in (WhyNot.USED_UP, WhyNot.TAKEN, WhyNot.SHARES)
        assert describe_lesson(YieldLesson(30, 9, SHARE, 0.98, 30.0, why)) not in offered or why in (
            WhyNot.USED_UP, WhyNot.ODD, WhyNot.NOT_STATED)  # fmt: skip


def test_a_line_that_cannot_be_changed_says_so() -> None:
    text = ChecklistText('[[operations]]\nop = 10\ntime = { cycle = "30 min" }\n')
    [line] = list_change_lines(time(TAKES), text, 120)
    assert line.startswith('cannot be taken: op 10 time.cycle is "30 min" there now, not "20 min"')


@pytest.mark.parametrize(
    ("spares", "said"),
    [
        (SpareLesson(96, 108, 97, 11, 0), "Started 108 for 96: 12 spare, 11 lost, 97 good: enough, 1 over"),
        (SpareLesson(96, 108, 96, 12, 0), "96 good: enough, 0 over"),
        (SpareLesson(96, 108, 96, 9, 0, 3), "12 spare, 9 lost, 3 used up in trials, 96 good: enough, 0 over"),
        (SpareLesson(96, 108, 90, 18, 0), "12 spare, 18 lost, 90 good: 6 too few"),
        (SpareLesson(96, 108, 0, 4, 104), "4 lost, 104 still in process: too early to tell if that is enough"),
        (
            SpareLesson(60, 66, 60, 5, 1, filled=True),
            "5 lost, 60 good, 1 still in process: enough, the order is filled",
        ),
    ],
)
def test_spares_were_enough_or_not(spares: SpareLesson, said: str) -> None:
    bench = open_bench()
    found = replace(study_lessons(bench.state, Calendar.always()), spares=spares)
    assert said in list_spare_lines(bench.state, found, part(), 120)[0]


def test_pieces_for_tests_are_started_too_and_the_number_is_said_to_be_of_the_file_alone() -> None:
    """Nothing of the part is lost: 4 good ones and 3 that tests use up. The page of earlier batches starts as many
    by the checklist alone; by an operation that the file has no more, none can be used up.
    """
    bench = open_bench(order=4, start=8, tests={10: 3})
    found = study_lessons(bench.state, Calendar.always())
    said = " ".join(list_spare_lines(bench.state, found, part(), 80)[1:])
    assert "For 4 good ones, 95 % sure, start 7 by the yields of the checklist" in said
    assert " ".join(said.split()).endswith(FILE_ALONE)
    own = batch_facts("B1", 0, op_facts(30, (LoadCount(8, 8),)))
    study = study_earlier(bench.state.checklist, [own], NOW)
    report = EarlierReport(bench.state, own, NOW, EarlierBatches(), study, 0.95)
    (row,) = [line for line in list_sure_lines(report, 80) if line.startswith("by the checklist alone")]
    assert row.split()[-3] == "7"
    less = edited(("op = 10\n", "op = 12\n"), ("back_to = 10", "back_to = 12"), ("caused_at = 10", "caused_at = 12"))
    assert "start 4 by" in " ".join(list_spare_lines(bench.state, found, less, 80))


def test_an_order_that_no_start_fills_has_a_reason_in_the_place_of_a_number() -> None:
    bench = open_bench(order=4000, start=5000)
    found = study_lessons(bench.state, Calendar.always())
    poor = replace(part(), operations=tuple(replace(one, expected_yield=0.01) for one in part().operations))
    assert "Pieces to start next time: n/a, because" in " ".join(list_spare_lines(bench.state, found, poor, 120))
