"""The plan in words: short enough for its place, with the year if it differs, and nothing said twice."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from floor.figures.schedule import Band, PhaseKind, PlannedStretch, Saving
from floor.planning.finish import Finish, compute_finish
from floor.planning.plan import ShopPlan
from floor.planning.plan_text import (
    Attendance,
    describe_finish,
    describe_pushed_batches,
    format_attendance,
    format_attendance_by_day,
    format_batch_lines,
    format_day_time,
    format_outlook_line,
    format_saving_lines,
    format_use_lines,
    list_attendance,
)
from floor.wall import convert_to_zone
from tests.batch.factory import open_bench
from tests.planning.planned import MORNING, ONE_SHIFT, ZONE, planned, potted


@pytest.fixture(scope="module")
def late() -> ShopPlan:
    """26 lids for an order of 24, due before the cure can be over."""
    state = open_bench(potted, start=26).state
    state.due = date(2026, 3, 2)
    return planned(state)


def test_another_year_is_shown() -> None:
    assert format_day_time(MORNING, MORNING) == "Mon 02 Mar 07:00"
    assert format_day_time(MORNING.replace(year=2027), MORNING) == "Tue 02 Mar 2027 07:00"


@pytest.mark.parametrize("width", [60, 78, 107, 200])
@pytest.mark.parametrize("brief", [True, False])
def test_a_batch_takes_one_line_or_two_and_late_is_always_said(late: ShopPlan, width: int, brief: bool) -> None:
    lines = format_batch_lines(late, "B0001", None, None, 10, width, brief)

    assert len(lines) == 1 or not brief
    assert all(len(line) <= width for line in lines)
    assert "✕ LATE by" in " ".join(lines)
    assert lines[0].startswith("B0001  done ")


@pytest.mark.parametrize("width", [30, 78, 200])
def test_a_batch_without_a_due_date_is_said_to_be_due_on_none(width: int) -> None:
    made = planned(open_bench(potted, start=26).state)
    said = " ".join(format_batch_lines(made, "B0001", None, None, 10, width))
    assert said.startswith("B0001  done ")
    assert "due" not in said


@pytest.mark.parametrize(("length", "said"), [(0, "{0:%H:%M} to {1:%H:%M}"), (1, "{0:%a %d %H:%M} to {1:%a %d %H:%M}")])
def test_the_finish_is_the_middle_of_its_band_which_names_its_day_where_it_has_several(
    late: ShopPlan, length: int, said: str
) -> None:
    early = late.plan.finish["B0001"] + timedelta(days=5)
    end = early + timedelta(days=length, minutes=2)
    assert early.date() == (early + timedelta(minutes=2)).date(), "else the test itself is over midnight"
    middle = early + timedelta(minutes=1)
    band = Band(early, middle, end)
    said = said.format(early, end)

    assert f"finish {middle:%a %d %b %H:%M} (10–90 %: {said})" in describe_finish(late, "B0001", band)
    assert f"done {middle:%a %d %b %H:%M} (10–90 %: {said})" in " ".join(
        format_batch_lines(late, "B0001", band, None, 10, 200))  # fmt: skip
    short = format_outlook_line(late, "B0001", None, band, 10)
    assert f"done {middle:%a %d %H:%M} ({said.replace(' to ', '–')})" in short


@pytest.mark.parametrize(("begins", "drawn"), [(1, True), (0, False), (-1, False)])
def test_a_plan_that_ends_before_the_band_is_called_the_best_there_is(late: ShopPlan, begins: int, drawn: bool) -> None:
    at = late.plan.finish["B0001"]
    band = Band(at + timedelta(hours=begins), at + timedelta(hours=2), at + timedelta(hours=3))

    for said in (describe_finish(late, "B0001", band), " ".join(format_batch_lines(late, "B0001", band, None, 10, 78))):
        assert (f"as drawn, at best, {at:%a %d %H:%M}" in said) == drawn
    for said in (describe_finish(late, "B0001"), " ".join(format_batch_lines(late, "B0001", None, None, 10, 78))):
        assert f"{at:%a %d %b %H:%M} at best" in said


def test_use_is_listed_in_order_with_a_bar_as_long_as_its_share(late: ShopPlan) -> None:
    lines = format_use_lines(late, bar=20)

    shares = [int(line[18:].split("%")[0]) for line in lines]
    assert shares == sorted(shares, reverse=True)
    assert all(abs(line.count("█") - share / 5) <= 1 for line, share in zip(lines, shares, strict=True))
    assert any(line.startswith("Operators (shifts)") for line in lines)


def test_one_person_is_not_told_to_be_in_two_places_by_rounding() -> None:
    """Work that ends at 12:24:30 ends in the minute in which the next begins, as in the list of runs."""
    made = planned(open_bench(potted, start=13).state)
    run = made.plan.runs[0]
    at = datetime(2026, 3, 2, 12, 19, 10, tzinfo=MORNING.tzinfo)

    def said(seconds: float) -> str:
        return format_attendance(Attendance(at, at + timedelta(seconds=seconds), (1,), run), made, False).partition(
            "  "
        )[0]

    assert said(320) == "Mon 12:19–12:24"
    assert said(20) == "Mon 12:19–12:20", "nothing takes no time"
    assert said(0) == "Mon 12:19"


def test_resources_that_save_nothing_share_one_line() -> None:
    saved = [
        Saving("carrier", "Pallet", 71.4, 23.4),
        Saving("hands", "hands", 5.0, 0.0),
        Saving("station", "Oven", 0.5, 0.1),
        Saving("station", "Router", 0.01, 0.01),
    ]

    assert [line.split() for line in format_saving_lines(saved)] == [
        ["Pallet", "23.4", "h"],
        ["place", "at", "Oven", "0.1", "h"],
        ["no", "gain:", "operator,", "place", "at", "Router"],
    ]


@pytest.mark.parametrize("width", [48, 78])
def test_every_time_somebody_is_needed_stands_once_under_its_day(late: ShopPlan, width: int) -> None:
    found = list_attendance(late)
    lines = format_attendance_by_day(found, late, several_people=False, width=width)

    days = [line for line in lines if not line.startswith(" ")]
    assert days == list(dict.fromkeys(f"{one.start:%a %d %b}" for one in found))
    assert [line[2:7] for line in lines if line.startswith(" ")] == [f"{one.start:%H:%M}" for one in found]
    assert max(map(len, lines)) <= width
    assert not [line for line in lines if line[2:7] == line[8:13]], "what takes seconds takes a minute here"


def test_a_line_that_is_too_long_keeps_the_number_of_the_carrier(late: ShopPlan) -> None:
    found = list_attendance(late)
    full, short = (format_attendance_by_day(found, late, several_people=False, width=width) for width in (59, 30))
    cut = [(one, other) for one, other in zip(full, short, strict=True) if one != other]
    assert cut
    assert all(one.split()[-1] == other.split()[-1] for one, other in cut), cut


@pytest.mark.parametrize(
    ("parts", "found"),
    [
        ([(0, 20, (1,)), (20, 50, (1,))], [(0, 50, (1,))]),
        ([(0, 20, (1,)), (20, 50, (2,))], [(0, 20, (1,)), (20, 50, (2,))]),
        ([(0, 20, (1,)), (30, 50, (1,))], [(0, 20, (1,)), (30, 50, (1,))]),
        ([(0, 20, (1,)), (20, 50, ())], [(0, 20, (1,))]),
    ],
)
def test_what_one_person_does_without_a_gap_is_one_time(
    late: ShopPlan, parts: list[tuple[int, int, tuple[int, ...]]], found: list[tuple[int, int, tuple[int, ...]]]
) -> None:
    def at(minutes: int) -> datetime:
        return MORNING + timedelta(minutes=minutes)

    stretches = tuple(PlannedStretch(PhaseKind.ATTENDED, at(start), at(end), 0, who) for start, end, who in parts)
    run = replace(late.plan.runs[0], stretches=stretches)
    made = replace(late, plan=replace(late.plan, runs=(run,)))

    assert list_attendance(made) == [Attendance(at(start), at(end), who, run) for start, end, who in found]


@pytest.mark.parametrize("width", [50, 120])
def test_with_several_batches_it_names_the_one_that_needs_somebody(width: int) -> None:
    made = planned(open_bench(potted, start=13).state, replace(open_bench(potted, start=13).state, id="B0002"))
    lines = [
        line for line in format_attendance_by_day(list_attendance(made), made, False, width) if line.startswith(" ")
    ]
    named = [re.search(r" of (B\d+) · ", line) for line in lines]
    assert [one.group(1) for one in named if one] == [one.run.batch for one in list_attendance(made)]
    assert {one.run.batch for one in list_attendance(made)} == {"B0001", "B0002"}


@pytest.mark.parametrize(("middle", "said"), [(3, "✕ LATE"), (0, "in time")])
def test_it_is_late_where_the_middle_of_its_band_is(late: ShopPlan, middle: int, said: str) -> None:
    """The plan assumes every piece good; the band includes loads that make up for the others."""
    at = late.plan.finish["B0001"]
    due = at + timedelta(hours=1)
    batches = tuple(replace(one, due=due) for one in late.problem.batches)
    in_time = replace(late, problem=replace(late.problem, batches=batches))
    assert compute_finish(in_time, "B0001").due == due
    band = Band(at, at + timedelta(hours=middle), at + timedelta(hours=40), 0.02)

    whole = describe_finish(in_time, "B0001", band)
    lines = " ".join(format_batch_lines(in_time, "B0001", band, None, 10, 200))
    brief = " ".join(format_batch_lines(in_time, "B0001", band, None, 10, 78, brief=True))
    short = format_outlook_line(in_time, "B0001", None, band, 10)

    for text in (whole, lines, brief):
        assert said in text
    assert (said in short) == ("LATE" in said)
    for text in (whole, lines, brief, short):
        assert ("in time" in text) <= (said == "in time")
        assert ("LATE" in text) <= ("LATE" in said)


@pytest.mark.parametrize("width", [64, 78, 100, 200])
def test_no_time_of_the_band_and_no_chance_is_torn_apart_at_the_end_of_a_line(late: ShopPlan, width: int) -> None:
    at = late.plan.finish["B0001"]
    band = Band(at + timedelta(hours=1), at + timedelta(hours=20), at + timedelta(days=6))
    lines = format_batch_lines(late, "B0001", band, None, 10, width)

    assert all(len(line) <= width for line in lines)
    assert len(lines) <= 2
    roomy = ["as drawn, at best, Tue 03", "due Mon 02 Mar"] if width > 64 else []
    for part in ("done Wed 04 Mar", "Mon 09", "✕ LATE by", *roomy):
        assert any(part in line for line in lines), part
    said = f"10–90 %: {band.early:%a %d %H:%M} to {band.late:%a %d %H:%M}"
    assert any(said in line for line in lines)


# --- a further batch ----------------------------------------------------------------------------------------------


def test_a_batch_that_a_further_one_makes_late_or_later_by_a_day_is_named_with_both_dates() -> None:
    def done(day: int, hour: int, due: int | None = None) -> Finish:
        end = (
            None
            if due is None
            else convert_to_zone(datetime(2026, 3, due, 15, 30, tzinfo=ZoneInfo(ZONE)), ZoneInfo(ZONE))
        )
        at = convert_to_zone(datetime(2026, 3, day, hour, tzinfo=ZoneInfo(ZONE)), ZoneInfo(ZONE))
        return Finish(at, at, None, end, date(2026, 3, due) if due else None, ONE_SHIFT.calendar)

    def said(before: Finish, after: Finish) -> list[str]:
        return describe_pushed_batches({"B0001": before}, {"B0001": after, "this order": done(9, 9)})

    assert said(done(4, 9, due=5), done(6, 8, due=5)) == [
        "✕ B0001 would be LATE by 1 working day, done Fri 06 Mar 08:00; without this order Wed 04 Mar 09:00"
    ]
    assert said(done(6, 8, due=5), done(9, 8, due=5)) == [
        "✕ B0001 would be LATE by 2 working days, done Mon 09 Mar 08:00; without this order Fri 06 Mar 08:00"
    ]
    assert said(done(6, 8, due=5), done(6, 11, due=5)) == [], "it is late by that day without it too"
    assert said(done(4, 9), done(5, 9)) == [
        "! B0001 would be done Thu 05 Mar 09:00; without this order Wed 04 Mar 09:00"
    ]
    assert said(done(3, 9, due=5), done(4, 9, due=5)) == [
        "! B0001 would be done Wed 04 Mar 09:00; without this order Tue 03 Mar 09:00"
    ]
    assert said(done(4, 9), done(4, 14)) == [], "on the same day"
    assert said(done(4, 9), done(3, 9)) == []
    unknown = replace(done(4, 9), at=None)
    assert said(unknown, done(4, 9)) == said(done(4, 9), unknown) == []
