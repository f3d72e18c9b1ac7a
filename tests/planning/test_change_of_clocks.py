"""A plan over a daylight-saving change: shown times are wall-clock times, durations are elapsed time.

Against the IANA time zone database, as `zoneinfo` of Python's library reads it.
"""

from __future__ import annotations

import csv
import io
from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from floor.batch.worklist.due_task import DueTask
from floor.entry import Moment
from floor.figures.calendar import Calendar
from floor.papers.plan import write_plan_csv, write_plan_text
from floor.planning.dispatch_list import RankedDue
from floor.planning.finish import compute_finish
from floor.planning.plan import ShopPlan
from floor.planning.plan_text import describe_finish
from floor.planning.problem import Crew
from floor.planning.time_scale import NOW, ZOOMS, build_scale, draw_axis, find_cell_start
from floor.wall import convert_to_zone
from tests.batch.factory import open_bench
from tests.papers.test_wall_times import CHANGES
from tests.planning.planned import planned, potted

CASES = [(zone, which) for zone in sorted(CHANGES) for which in (0, 1)]


def change(zone: str, which: int) -> datetime:
    return datetime.fromisoformat(CHANGES[zone][which]).replace(tzinfo=UTC)


def over_the_change(zone: str, which: int) -> ShopPlan:
    """Two pallets whose cure of a day runs over the change, in a shop that is open day and night, due that day."""
    rules = ZoneInfo(zone)
    at = change(zone, which)
    bench = open_bench(potted, start=26, at=convert_to_zone(at - timedelta(hours=9), rules))
    bench.state.due = at.astimezone(rules).date()
    return planned(bench.state, now=bench.clock(), crew=Crew(Calendar.always(zone)), effort=200)


@pytest.mark.parametrize(("zone", "which"), CASES)
def test_a_plan_shows_wall_clock_times_and_counts_elapsed_time(zone: str, which: int) -> None:
    rules, plan = ZoneInfo(zone), over_the_change(zone, which)
    end = plan.plan.end
    day_ends = datetime.combine(change(zone, which).astimezone(rules).date() + timedelta(days=1), time(0), rules)

    found = compute_finish(plan, "B0001")

    assert found.late_hours is not None
    assert found.late_hours == pytest.approx((end.timestamp() - day_ends.timestamp()) / 3600)
    assert f"{end.astimezone(rules):%a %d %b %H:%M}" in describe_finish(plan, "B0001").replace(f" {end.year} ", " ")
    for row, run in zip(csv.DictReader(io.StringIO(write_plan_csv(plan, ["B0001"]))), plan.plan.runs, strict=True):
        assert row["start"] == f"{run.start.astimezone(rules).isoformat(timespec='seconds')}"
        assert row["end"] == f"{run.end.astimezone(rules).isoformat(timespec='seconds')}"
        by_hand = sum(part.end.timestamp() - part.start.timestamp() for part in run.attended) / 60
        assert float(row["attended_minutes"]) == pytest.approx(by_hand, abs=0.06)
    text = write_plan_text(plan, Moment(plan.plan.start), ["B0001"])
    for run in plan.plan.runs:
        assert f"{run.start.astimezone(rules):%a %d %H:%M}" in text


@pytest.mark.parametrize(("zone", "which"), CASES)
@pytest.mark.parametrize("minutes", ZOOMS)
def test_the_axis_names_the_days_and_hours_that_the_wall_shows(zone: str, which: int, minutes: int) -> None:
    rules, width = ZoneInfo(zone), 64
    now = convert_to_zone(change(zone, which) - timedelta(hours=7, minutes=13), rules)
    start = find_cell_start(now, minutes)
    assert start <= now < start + timedelta(minutes=minutes)
    walls = [(start + timedelta(minutes=n * minutes)).astimezone(UTC).astimezone(rules) for n in range(width + 1)]

    end = start.timestamp() + 60 * minutes * width
    days, hours = draw_axis(build_scale(now, minutes, [(start.timestamp(), end)], end), width, now)

    left = days
    for n in [n for n in range(width) if n == 0 or walls[n].date() != walls[n - 1].date()]:
        own = sum(at.date() == walls[n].date() for at in walls[:width])
        forms = (f"{walls[n]:%a %d %b}", f"{walls[n]:%a %d}", f"{walls[n]:%d}")
        name = next((form for form in forms if days.startswith(form, n)), "")
        assert name or own < 1440 // minutes or minutes == 1440, f"{walls[n]:%a %d} has no name: {days}"
        assert len(name) <= own or minutes == 1440, f"{name} stands over the next day: {days}"
        left = left[:n] + " " * len(name) + left[n + len(name) :]
    assert not left.strip(), "all that is written is the name of a day, at its first cell"
    row = "".join(" " if letter == NOW else letter for letter in hours)
    ticks = [n for n in range(width) if row[n].isdigit() and (n == 0 or row[n - 1] == " ")]
    if minutes < 480:
        assert ticks, "no hour is named"
    for n in ticks:
        if not row[n : n + 2].isdigit():
            continue  # what is now stands over it
        since = walls[n] - timedelta(minutes=minutes) if n == 0 else walls[n - 1]
        passed = [since.astimezone(UTC) + timedelta(minutes=m) for m in range(1, minutes + 1)]
        shown = {f"{at.astimezone(rules):%H}" for at in passed if at.astimezone(rules).minute == 0}
        assert row[n : n + 2] in shown | ({f"{walls[0]:%H}"} if n == 0 else set()), f"{hours} at {n}"


@pytest.mark.parametrize(("zone", "which"), CASES)
def test_the_latest_start_is_in_wall_clock_time(zone: str, which: int) -> None:
    """Half a day on, over the change, in the words of the opening screen."""
    now = convert_to_zone(change(zone, which) - timedelta(hours=9), ZoneInfo(zone))
    due = DueTask("now", None, "B0001", "Cut free", "Mill")

    for hours in (7, 11):
        latest = now + timedelta(hours=hours)
        right = latest.astimezone(UTC).astimezone(ZoneInfo(zone))
        same_day = right.date() == now.date()
        assert RankedDue(due, latest).said(now) == f"by {right:%H:%M}" if same_day else f"by {right:%a %H:%M}"
