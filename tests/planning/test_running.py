"""A running cycle goes on whoever is in; work that nobody will be there for in time is reported or, if possible,
avoided."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, time, timedelta

import pytest

from floor.batch.walk.stop_cycle import StopCycle
from floor.checklist.model import Checklist
from floor.entry import Moment
from floor.figures.calendar import Calendar
from floor.figures.schedule import PhaseKind
from floor.planning.missed_deadlines import find_missed_deadlines
from floor.planning.plan import ShopPlan
from floor.planning.plan_text import describe_troubles, format_attendance, list_attendance
from floor.planning.problem import Crew
from floor.planning.run_deadlines import RunDeadline, find_run_deadlines, is_clock_started_in
from floor.planning.start_plan import build_fresh_batch
from floor.screens.frame.troubles import format_abnormal
from floor.screens.plan.background_plan import Planner, list_deadline_troubles
from tests.batch.factory import Bench, edited, open_bench
from tests.planning.planned import MORNING, ONE_SHIFT, ZONE, planned
from tests.planning.test_impossible import STEP, route


def oven(latest: str = "5 h", alone: bool = False, earliest: str = "2 h", before: str = "") -> Checklist:
    """A bake of 3.5 h: a soak of 2 h to `latest` from its start, 8 min to load and 4 min to take out.

    Args:
        before: another window, which closes before that one opens.
    """
    outlasts = "may_outlast_shift = true\n" if alone else ""
    return route(
        f'{outlasts}time = {{ before = "8 min", cycle = "210 min", after = "4 min" }}\n'
        f'{STEP}, {{ do = "Leave it in", gate = "cured", clock = "soak", at = "cycle" }}]\n'
        'clocks = [{ id = "soak", starts = "start", source = "Test", '
        f'windows = [{before}{{ earliest = "{earliest}", latest = "{latest}" }}] }}]'
    )


def baking(begun: time, checklist: Checklist) -> Bench:
    """The cycle was started at this time of a Monday."""
    bench = open_bench(lambda: checklist, start=4)
    bench.clock.until(MORNING.replace(hour=begun.hour, minute=begun.minute))
    load = bench.form(10)
    bench.until(load, "cured 1", wait=False)
    return bench


def plan_of(bench: Bench, crew: Crew = ONE_SHIFT) -> ShopPlan:
    return planned(bench.state, now=bench.clock(), crew=crew)


def test_a_soak_that_ends_after_the_shift_is_reported_with_its_time_and_what_can_be_done() -> None:
    """In at 12:14, out by 17:14, nobody in after 15:30: it is soaked enough from 14:14 on."""
    bench = baking(time(12, 14), oven())
    said = describe_troubles(plan_of(bench))

    assert said == [
        "TAKE OUT by 15:30, or be in by 17:14: Pallet 1, Mill, op 10 soak; nobody in from 15:30 until Tue 07:00"
    ], "verb and time first"


def test_somebody_is_in_from_the_start_of_the_shift_whatever_the_plan_does_first() -> None:
    """With three minutes of other work before it the banner said that nobody is in before 07:03."""
    made = plan_of(baking(time(12, 14), oven()))
    later = timedelta(minutes=3)
    [run] = made.plan.runs
    moved = [
        replace(part, start=part.start + later, end=part.end + later) if part.kind is PhaseKind.ATTENDED else part
        for part in run.stretches
    ]
    plan = replace(made.plan, runs=(replace(run, stretches=tuple(moved)),))

    [said] = find_missed_deadlines(made.asked.problem, plan, made.asked.closing)

    assert said.wrong == "nobody in from 15:30 until Tue 07:00"


@pytest.mark.parametrize(("earliest", "remedy"), [
    ("3 h", "TAKE OUT by 15:30, or be in by 17:14"),
    ("4 h", "TAKE OUT by 17:14"),
])  # fmt: skip
def test_of_two_windows_the_last_is_met_and_nothing_is_taken_out_between_them(earliest: str, remedy: str) -> None:
    """Started at 12:14: out by 14:14, or from 15:14 or 16:14 to 17:14. All leave at 15:30."""
    checklist = oven(earliest=earliest, before='{ earliest = "1 h", latest = "2 h" }, ')
    [said] = describe_troubles(plan_of(baking(time(12, 14), checklist)))

    assert said.startswith(f"{remedy}: Pallet 1, Mill, op 10 soak; nobody in from 15:30")


def test_what_to_do_about_a_window_is_read_whole_at_the_head_of_every_screen() -> None:
    """Two lines of 80 columns, beside how many more there are: the verb and the time are not cut off."""
    for bench in (baking(time(12, 14), oven()), baking(time(13, 0), oven(latest="24 h"))):
        said = describe_troubles(plan_of(bench))[0].replace("Pallet 1", "Tray 12")

        assert "…" not in "".join(format_abnormal([f"B0001: {said}", "another"], 78)), said


def test_what_is_not_soaked_enough_before_all_leave_is_not_to_be_taken_out() -> None:
    said = describe_troubles(plan_of(baking(time(14, 0), oven())))

    assert said[0].startswith("TAKE OUT by 19:00: ")


def milling(begun: time) -> Bench:
    """A cycle that may not run alone, and that no window closes on."""
    bench = open_bench(
        lambda: route(f'time = {{ before = "8 min", cycle = "210 min", after = "4 min" }}\n{STEP}]'), start=4
    )
    bench.clock.until(MORNING.replace(hour=begun.hour, minute=begun.minute))
    bench.until(bench.form(10), "end", wait=False)
    return bench


@pytest.mark.parametrize(("windows", "then", "stands"), [
    (False, "nothing", True), (False, "stopped", False), (False, "ended", False), (False, "over", False),
    (True, "nothing", True), (True, "stopped", True), (True, "ended", True), (True, "over", False),
])  # fmt: skip
def test_until_the_next_plan_nobody_is_told_to_stay_for_what_is_over(windows: bool, then: str, stands: bool) -> None:
    """A plan takes half a minute on a busy machine. A window still closes on what has stopped but was not taken out."""
    bench = baking(time(13, 0), oven()) if windows else milling(time(13, 0))
    planner = Planner(shop_plan=plan_of(bench))
    if then == "stopped":
        bench.say(StopCycle(1, "alarm"))
    elif then == "ended":
        bench.until(1, "count")
    elif then == "over":
        bench.through(1)

    assert bool(list_deadline_troubles(planner, bench.state)) is stands


def test_a_cycle_under_way_does_not_wait_for_the_morning() -> None:
    """Not even one that may not outlast the shift: nobody can pause it, so it is over when it is over."""
    bench = baking(time(13, 0), oven(latest="24 h"))
    plan = plan_of(bench)
    heat = next(part for part in plan.plan.runs[0].stretches if part.kind is PhaseKind.UNATTENDED)

    assert timedelta(hours=3.4) < heat.end - heat.start < timedelta(hours=3.6)
    assert "may not run alone" in describe_troubles(plan)[0]
    assert "nobody in from 15:30" in describe_troubles(plan)[0]
    assert describe_troubles(plan)[0].startswith("STAY until ")


def test_a_cycle_that_may_run_alone_and_closes_nothing_is_quiet() -> None:
    assert describe_troubles(plan_of(baking(time(13, 0), oven(latest="24 h", alone=True)))) == []


def test_a_soak_that_is_taken_out_in_time_is_quiet() -> None:
    assert describe_troubles(plan_of(baking(time(8, 0), oven()))) == []


@pytest.mark.parametrize("hour", [7, 9, 11, 13, 15])
def test_a_planned_bake_starts_so_that_somebody_can_take_it_out(hour: int) -> None:
    """3.5 h may run alone here; out within 5 h of the start."""
    now = MORNING.replace(hour=hour)
    plan = planned(build_fresh_batch(oven(alone=True), 4, 4, Moment(now)), now=now)

    run = plan.plan.runs[0]
    heat = next(part for part in run.stretches if part.kind is PhaseKind.UNATTENDED)
    out = min(part.start for part in run.attended if part.start >= heat.end)
    assert out - heat.start <= timedelta(hours=5)
    assert run.start.day == (2 if hour <= 11 else 3)
    assert describe_troubles(plan) == []


def test_nothing_stands_loaded_over_the_weekend_and_somebody_switches_the_heat_on() -> None:
    friday = datetime(2026, 3, 6, 13, 43, tzinfo=MORNING.tzinfo)
    plan = planned(build_fresh_batch(oven(), 4, 4, Moment(friday)), now=friday)

    loading = list_attendance(plan)[0]
    heat = next(part for part in plan.plan.runs[0].stretches if part.kind is PhaseKind.UNATTENDED)
    assert (loading.start.weekday(), loading.start.hour) == (0, 7)
    assert loading.end == heat.start
    assert not [part for part in plan.plan.runs[0].stretches if part.kind is PhaseKind.WAIT]


def test_a_cycle_without_manual_work_needs_somebody_to_start_it() -> None:
    """At night nobody is in to press start, though the cycle may then run alone."""
    checklist = route(f'may_outlast_shift = true\ntime = {{ cycle = "2 h" }}\n{STEP}]')
    evening = MORNING.replace(hour=20)
    plan = planned(build_fresh_batch(checklist, 4, 4, Moment(evening)), now=evening)

    assert plan.plan.runs[0].start == MORNING.replace(day=3)
    assert format_attendance(list_attendance(plan)[0], plan, False).startswith("Tue 07:00  10 Step 1")


def test_nobody_in_at_all_is_reported_for_running_cycles() -> None:
    bench = baking(time(12, 0), oven())
    plan = plan_of(bench, Crew(Calendar(ZONE, ())))

    assert describe_troubles(plan)[0].startswith("TAKE OUT by 17:00: ")
    assert describe_troubles(plan)[0].endswith("; nobody in")


def test_a_mix_that_cannot_be_poured_in_its_pot_life_before_all_leave_is_reported() -> None:
    """Mixed at 15:25 for half an hour of pouring within 40 min; a mix of the load before binds no other."""
    checklist = route(
        'cycle = false\ntime = { before = "30 min" }\n'
        'steps = [{ do = "Mix", id = "mix", at = "load", skip = false }, '
        '{ do = "Pour", gate = "cured", clock = "pot life", at = "load" }, '
        '{ do = "Look at it", id = "look", at = "load", skip = false }]\n'
        'clocks = [{ id = "pot life", starts = "step mix", per = "batch", windows = [{ latest = "40 min" }], '
        'source = "Test" }]'
    )
    bench = open_bench(lambda: checklist, start=4)
    bench.clock.until(MORNING.replace(hour=15, minute=25))
    bench.until(bench.form(10), "look")

    said = describe_troubles(plan_of(bench))

    assert said[0].startswith("FINISH by 15:30, or be in by 16:05: ")
    assert said[0].endswith("op 10 pot life; nobody in from 15:30 until Tue 07:00")


def test_at_the_minute_in_which_all_leave_somebody_is_in_still() -> None:
    """The crew is there until 15:30; what ends at that minute is seen to, and a second later it is not."""
    plan = plan_of(baking(time(8, 0), oven()))
    run, half_past_three = plan.plan.runs[0].run, MORNING.replace(hour=15, minute=30)

    def found(by: datetime) -> int:
        return len(find_missed_deadlines(plan.problem, plan.plan, (RunDeadline(run, "Pallet 1", 10, "", (), by),)))

    assert found(half_past_three) == 0
    assert found(half_past_three + timedelta(seconds=1)) == 1


def test_what_the_plan_takes_out_too_late_while_somebody_is_in_is_reported_with_when() -> None:
    plan = plan_of(baking(time(8, 0), oven()))
    (run,) = plan.plan.runs
    out, early = run.attended[-1].start, MORNING.replace(hour=9)
    assert early < out

    def said(of: str, by: datetime) -> list[str]:
        found = find_missed_deadlines(plan.problem, plan.plan, (RunDeadline(of, "Pallet 1", 10, "soak", (), by),))
        return [f"{one.remedy}: {one.wrong}" for one in found]

    assert said(run.run, early) == [f"TAKE OUT by 09:00: nobody is free before {out:%H:%M}"]
    assert said("of no plan", early) == ["FINISH by 09:00: it is not in the plan"]
    assert said(run.run, out) == []


def test_only_a_window_that_the_run_itself_waits_for_is_its_deadline() -> None:
    """The coat is to be baked within the hour, and the run that coats is not the one that bakes."""
    bench = open_bench(lambda: edited(('[{ latest = "1 h" }, { earliest = "48 h" }]', '[{ latest = "1 h" }]')), start=4)
    load = bench.form(10)
    bench.through(load, 10)
    bench.until(load, "count")
    run = bench.run_of(load)
    clock = next(one for one in bench.state.find_operation(run).clocks if one.id == "recoat")
    assert is_clock_started_in(bench.state, run, clock)

    assert list(find_run_deadlines(bench.state, run, "its run", bench.clock())) == []
