"""When hand work may pause, what an attended cycle needs, and what a station with several places holds."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from floor.checklist.model import Checklist
from floor.entry import Moment
from floor.figures.schedule import PhaseKind, PlannedRun
from floor.planning.plan import ShopPlan
from floor.planning.start_plan import build_fresh_batch
from tests.batch.factory import open_bench
from tests.planning.planned import ALWAYS, MORNING, minutes, planned
from tests.planning.test_impossible import route

FIVE_HOURS = 'cycle = false\ntime = { before = "5 h" }'
WORK = 'steps = [{ do = "Do the work", id = "work", at = "load", skip = false }'
SHORT = 'cycle = false\ntime = { before = "10 min" }'


def made(checklist: Checklist, pieces: int = 4, **more: object) -> ShopPlan:
    return planned(build_fresh_batch(checklist, 1, pieces, Moment(MORNING)), **more)  # type: ignore[arg-type]


def waits_for(clock: str) -> str:
    """An operation that may start when this clock allows."""
    name = clock.split('"')[1]
    return f'{SHORT}\n{WORK}, {{ gate = "cured", clock = "{name}", at = "arrive" }}]'


def by_hand(run: PlannedRun) -> list[tuple[float, float]]:
    """Hours from the morning of each stretch with somebody at it."""
    return [(minutes(MORNING, part.start) / 60, minutes(MORNING, part.end) / 60) for part in run.attended]


def test_hand_work_goes_on_after_the_break() -> None:
    """Five hours from 07:00, with a break from 11:30 to 12:00: nothing in it spoils by waiting."""
    [run] = made(route(f"{FIVE_HOURS}\n{WORK}]")).plan.runs

    assert by_hand(run) == [(0, 4.5), (5, 5.5)]


def weekend(time: str, work: str, at: str = "Fri 15:29") -> tuple[str, str]:
    """Start and end of manual work first possible at this moment of the week, with one shift a day."""
    day, hour, minute = (["Mon", "Tue", "Wed", "Thu", "Fri"].index(at[:3]), *map(int, at[4:].split(":")))
    now = MORNING.replace(hour=hour, minute=minute) + timedelta(days=day)
    batch = build_fresh_batch(route(f'cycle = false\n{work}time = {{ before = "{time}" }}\n{WORK}]'), 1, 4, Moment(now))
    [run] = planned(batch, now=now).plan.runs
    return f"{run.start:%a %H:%M}", f"{run.end:%a %H:%M}"


def test_hand_work_is_not_left_half_done_over_a_weekend_unless_the_checklist_lets_it_stand() -> None:
    """A minute before everybody goes home on Friday is no time to start bonding; before an ordinary night it is."""
    assert weekend("45 min", "") == ("Mon 07:00", "Mon 07:45")
    assert weekend("45 min", "may_outlast_shift = true\n") == ("Fri 15:29", "Mon 07:44")
    assert weekend("45 min", "", "Thu 15:29") == ("Thu 15:29", "Fri 07:44")
    assert weekend("45 min", "", "Fri 14:45") == ("Fri 14:45", "Fri 15:30")


def test_work_already_started_goes_on_whatever_the_day() -> None:
    """It stands half done as soon as they go home, whether the plan likes it or not."""
    now = MORNING.replace(hour=15, minute=29) + timedelta(days=4)
    bench = open_bench(lambda: route(f'cycle = false\ntime = {{ before = "45 min" }}\n{WORK}]'), start=4, at=now)
    bench.begin(bench.form(10))

    [run] = planned(bench.state, now=bench.clock()).plan.runs

    assert (f"{run.start:%a %H:%M}", f"{run.end:%a %H:%M}") == ("Fri 15:29", "Mon 07:44")


def test_may_outlast_the_shift_does_not_apply_to_attended_work() -> None:
    def first(cycle: str) -> str:
        now = MORNING.replace(hour=15, minute=10) + timedelta(days=4)
        cut = route(f'may_outlast_shift = true\ntime = {{ before = "45 min"{cycle} }}\n{WORK}]')
        [run] = planned(build_fresh_batch(cut, 1, 4, Moment(now)), now=now).plan.runs
        return f"{run.start:%a %H:%M}"

    assert first(', cycle = "2 h"') == "Mon 07:00"


def test_work_too_long_for_any_shift_may_start_on_a_friday() -> None:
    assert weekend("9 h", "", "Fri 12:00") == ("Fri 12:00", "Mon 13:00")
    assert weekend("8 h", "", "Fri 12:00") == ("Mon 07:00", "Mon 15:30")


def test_a_set_up_is_not_left_half_done_over_a_weekend() -> None:
    assert weekend("5 min", "", "Fri 15:00") == ("Fri 15:00", "Fri 15:05")
    now = MORNING.replace(hour=15) + timedelta(days=4)
    made_ready = route(f'cycle = false\ntime = {{ setup = "40 min", before = "5 min" }}\n{WORK}]')
    [run] = planned(build_fresh_batch(made_ready, 1, 4, Moment(now)), now=now).plan.runs
    assert f"{run.start:%a %H:%M}" == "Mon 07:00"


def test_hand_work_in_which_a_clock_with_an_end_starts_does_not_pause() -> None:
    """A mix to use up, a coat that needs the next within the hour: ten minutes of other work push it past the break,
    so it waits for the morning. With a cure that only opens, it goes on after the break.
    """

    def second_of(clock: str) -> PlannedRun:
        first = f"{SHORT}\n{WORK}]"
        second = f'cycle = false\ntime = {{ before = "265 min" }}\n{WORK}]\nclocks = [{clock}]'
        plan = made(route(first, second, waits_for(clock)))
        return next(run for run in plan.plan.runs if run.operation == "20 Step 2")

    pot_life = second_of('{ id = "mix", starts = "step work", windows = [{ latest = "40 min" }], source = "Label" }')
    recoat = second_of(
        '{ id = "coat", starts = "step work", windows = [{ latest = "1 h" }, { earliest = "48 h" }], source = "Label" }'
    )
    cure = second_of('{ id = "cure", starts = "step work", windows = [{ earliest = "24 h" }], source = "Label" }')

    tomorrow = (24, 24 + 265 / 60)
    assert by_hand(pot_life) == [tomorrow]
    assert by_hand(recoat) == [tomorrow]
    assert by_hand(cure)[0][0] == 10 / 60
    assert len(by_hand(cure)) == 2


def test_hand_work_in_one_go_is_not_split_over_a_break() -> None:
    """265 min, ten of them gone: with the break it would go on after it; in one go it waits for the morning."""
    first, work = f"{SHORT}\n{WORK}]", f'cycle = false\ntime = {{ before = "265 min" }}\n{WORK}]'
    split, whole = ([by_hand(run) for run in made(route(first, second)).plan.runs if run.operation == "20 Step 2"]
                    for second in (work, f"in_one_go = true\n{work}"))  # fmt: skip

    assert [len(stretches) for stretches in split] == [2]
    assert whole == [[(24, 24 + 265 / 60)]]


def test_such_work_longer_than_every_stretch_is_named_with_what_would_make_it_possible() -> None:
    clock = '{ id = "mix", starts = "step work", windows = [{ latest = "40 min" }], source = "Label" }'
    plan = made(route(f"{FIVE_HOURS}\n{WORK}]\nclocks = [{clock}]", waits_for(clock)))

    assert not plan.plan.runs
    assert "10 Step 1" in plan.obstacles[0].where
    assert "longest stretch is 270 min" in plan.obstacles[0].wrong
    assert "Let it be interrupted" in plan.obstacles[0].remedy


def test_an_attended_cycle_starts_only_if_it_ends_in_the_shift_an_unattended_one_at_any_time() -> None:
    """Four loads of two hours, a day of 4.5 and 3.5 h with a break between: three fit by hand, one waits a night."""
    attended = made(route(f'time = {{ cycle = "2 h", cycle_attended = true }}\n{WORK}]', capacity=1, count=4))
    alone = made(route(f'may_outlast_shift = true\ntime = {{ cycle = "2 h" }}\n{WORK}]', capacity=1, count=4))
    within = made(route(f'time = {{ cycle = "2 h" }}\n{WORK}]', capacity=1, count=4))

    assert [by_hand(run)[-1] for run in attended.plan.runs] == [(0, 2), (2, 4), (5, 7), (24, 26)]
    assert minutes(MORNING, alone.plan.end) == 8 * 60
    assert [minutes(MORNING, run.start) / 60 for run in within.plan.runs] == [0, 2, 4, 6]
    assert all(run.end - run.start == timedelta(hours=2) for run in within.plan.runs)


def test_an_oven_holds_as_many_runs_as_it_says() -> None:
    checklist = route(f'may_outlast_shift = true\ntime = {{ cycle = "3 h" }}\n{WORK}]', capacity=1, count=4)
    oven = replace(checklist, stations=(replace(checklist.stations[0], kind="oven", runs_at_once=2),))

    one, two = made(checklist, crew=ALWAYS), made(oven, crew=ALWAYS)

    assert minutes(MORNING, one.plan.end) == 12 * 60
    assert minutes(MORNING, two.plan.end) == 6 * 60
    assert {run.places for run in two.plan.runs} == {(1,), (2,)}
    assert all(part.kind is not PhaseKind.WAIT for run in two.plan.runs for part in run.stretches)
