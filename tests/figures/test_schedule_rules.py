"""No plan breaks a rule of the shop: a check that shares nothing with the planner verifies every plan."""

from dataclasses import replace
from datetime import UTC, datetime, time, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from floor.figures.calendar import Calendar
from floor.figures.schedule import (
    FIRST,
    BatchModel,
    CannotPlan,
    LoadModel,
    Phase,
    PhaseKind,
    Plan,
    Precedence,
    RunModel,
    SchedulingProblem,
    SearchProgress,
    StartSpan,
    StartWindow,
    StationModel,
    drop_loads,
    planner,
    solve_feasible_part,
    solve_schedule,
)
from tests.figures.schedule_check import check_plan
from tests.figures.schedule_shops import CHICAGO, MONDAY, WEEKDAYS, also_elsewhere, live_shop, small_shop, tight_shop

LIGHT = 400
SEEDS = st.integers(0, 100_000)
ALWAYS = Calendar.always()


def one_batch(
    loads: tuple[LoadModel, ...],
    stations: tuple[StationModel, ...] = (),
    *,
    now: datetime = MONDAY,
    hands: int = 1,
    calendar: Calendar = ALWAYS,
    **carriers: int,
) -> SchedulingProblem:
    return SchedulingProblem(now, calendar, stations, carriers, hands, (BatchModel("B"),), loads)


def run(name: str, *phases: Phase, station: str | None = None, **more: object) -> RunModel:
    return RunModel(name, name.split()[-1], station, phases, **more)  # type: ignore[arg-type]


def minute(made: Plan, name: str) -> tuple[float, float]:
    found = made.run(name)
    return (found.start - made.start).total_seconds() / 60, (found.end - made.start).total_seconds() / 60


def hand(length: float, **more: object) -> Phase:
    return Phase(PhaseKind.ATTENDED, length, **more)  # type: ignore[arg-type]


def cycle(length: float, **more: object) -> Phase:
    return Phase(PhaseKind.UNATTENDED, length, **more)  # type: ignore[arg-type]


@settings(max_examples=40, deadline=None)
@given(SEEDS)
def test_plans_of_runs_that_are_tied_closely_keep_every_rule(seed: int) -> None:
    problem = tight_shop(seed)
    try:
        made = solve_schedule(problem, effort=LIGHT)
    except CannotPlan:
        return
    assert check_plan(problem, made) == []


@settings(max_examples=40, deadline=None)
@given(SEEDS)
def test_plans_in_which_several_stations_can_do_a_run_keep_every_rule(seed: int) -> None:
    problem = also_elsewhere(live_shop(seed), seed)
    made, left_out = solve_feasible_part(problem, effort=LIGHT)

    kept = drop_loads(problem, {obstacle.load for obstacle in left_out if obstacle.load is not None})
    assert check_plan(kept, made) == []


def test_a_second_station_that_can_do_it_takes_half_of_the_work() -> None:
    """Six cycles of an hour: six hours on one mill, three on two; the second is set up once."""
    loads = tuple(
        LoadModel(
            f"L{n}",
            "B",
            (run(f"L{n} op", cycle(60), station="Mill", setup=hand(10), family="F", also_at=(("Other", 1),)),),
        )
        for n in range(6)
    )
    made = solve_schedule(one_batch(loads, (StationModel("Mill", set_up_for="F"), StationModel("Other"))), effort=LIGHT)

    assert (made.end - made.start) == timedelta(minutes=190)
    assert sorted(one.station or "" for one in made.runs) == ["Mill"] * 3 + ["Other"] * 3
    assert made.bound < made.end, "no bound that counts on one of them alone"


def test_a_run_under_way_stays_where_it_stands() -> None:
    there = run("L0 op", cycle(60), station="Mill", under_way=True, also_at=(("Other", 1),))
    down = StationModel("Mill", down_until=MONDAY + timedelta(hours=2))
    made = solve_schedule(one_batch((LoadModel("L0", "B", (there,)),), (down, StationModel("Other"))), effort=LIGHT)
    assert made.run("L0 op").station == "Mill"


def test_a_run_may_wait_as_long_as_the_station_it_is_at_lets_it() -> None:
    short = LoadModel("L0", "B", (run("L0 op", cycle(60), station="Mill", also_at=(("Other", 1),)),))
    long = LoadModel("L1", "B", (run("L1 op", cycle(120), station="Mill"),))
    made = solve_schedule(one_batch((short, long), (StationModel("Mill"), StationModel("Other"))), effort=LIGHT)
    assert made.run("L0 op").station == "Other"
    assert made.run("L0 op").slack == 60


def test_work_that_must_end_later_starts_only_as_late_as_needed() -> None:
    """Two hours of coating started late today end a minute after seven tomorrow; started by as much later as they
    would end too early, they would all be done tomorrow.
    """
    coat = run("L0 coat", hand(120, interruptible=True))
    bake = run("L0 bake", cycle(60), station="Oven", after=(Precedence("L0 coat", (StartWindow(0, 30),)),))
    day = Calendar.weekly("UTC", range(5), time(7), time(15, 30))
    oven = StationModel("Oven", down_until=MONDAY + timedelta(days=1))
    problem = one_batch((LoadModel("L0", "B", (coat, bake)),), (oven,), calendar=day)
    made = solve_schedule(problem, effort=LIGHT)
    assert check_plan(problem, made) == []
    assert 31 * 60 <= minute(made, "L0 bake")[0] <= 31 * 60 + 2


def test_a_station_that_is_down_leaves_the_work_to_the_other() -> None:
    load = LoadModel("L0", "B", (run("L0 op", cycle(60), station="Mill", also_at=(("Other", 1),)),))
    down = StationModel("Mill", down_until=MONDAY + timedelta(days=1))
    made = solve_schedule(one_batch((load,), (down, StationModel("Other"))), effort=LIGHT)
    assert made.run("L0 op").station == "Other"
    assert minute(made, "L0 op") == (0, 60)


@settings(max_examples=60, deadline=None)
@given(SEEDS)
def test_plans_of_a_shop_in_the_middle_of_its_work_keep_every_rule(seed: int) -> None:
    """Capacities, order, windows, shifts over a change of the clocks, set-ups, conservation of runs; or a refusal."""
    problem = live_shop(seed)
    made, left_out = solve_feasible_part(problem, effort=LIGHT)

    kept = drop_loads(problem, {obstacle.load for obstacle in left_out if obstacle.load is not None})
    assert check_plan(kept, made) == []
    assert all(obstacle.where and obstacle.wrong and obstacle.remedy for obstacle in left_out)


@settings(max_examples=15, deadline=None)
@given(SEEDS)
def test_the_same_seed_gives_the_same_plan(seed: int) -> None:
    problem = small_shop(seed)

    assert solve_schedule(problem, effort=LIGHT, seed=seed) == solve_schedule(problem, effort=LIGHT, seed=seed)


def test_the_check_itself_sees_a_plan_that_breaks_the_rules() -> None:
    """Each run of a good plan moved on its own, a person doubled, a set-up or a run left out: all are noticed."""
    problem = live_shop(3)
    made = solve_schedule(problem, effort=LIGHT)
    early = [replace(one, start=one.start - timedelta(minutes=1)) for one in made.runs]
    crowded = [
        replace(
            one,
            stretches=tuple(replace(s, people=(1,) * len(s.people)) for s in one.stretches),
            places=(1,) * len(one.places),
        )
        for one in made.runs
    ]

    assert check_plan(problem, made) == []
    assert all(
        check_plan(problem, replace(made, runs=(*made.runs[:n], moved, *made.runs[n + 1 :])))
        for n, moved in enumerate(early)
    )
    assert check_plan(problem, replace(made, runs=tuple(crowded)))
    assert check_plan(problem, replace(made, runs=made.runs[1:]))


def test_a_window_that_closes_holds_the_first_coat_back_until_the_second_can_follow() -> None:
    """The booth is taken from 30 to 120; recoat within 20 minutes means the first coat cannot go on at 0."""
    busy = LoadModel(
        "other",
        "B",
        (
            run(
                "other spray",
                cycle(90),
                station="booth",
                allowed=(StartSpan(MONDAY + timedelta(minutes=30), MONDAY + timedelta(minutes=30)),),
            ),
        ),
    )
    coats = LoadModel(
        "1",
        "B",
        (
            run("1 coat", cycle(10), station="bench"),
            run("1 recoat", cycle(40), station="booth", after=(Precedence("1 coat", (StartWindow(0, 20),)),)),
        ),
    )

    made = solve_schedule(one_batch((busy, coats), (StationModel("booth"), StationModel("bench"))))

    assert minute(made, "1 recoat") == (120, 160)
    assert 90 <= minute(made, "1 coat")[0] <= 110


def test_the_second_of_two_windows_is_taken_when_the_first_cannot_be_hit() -> None:
    """Within 1 h or after 48 h of a coat that ended under way: the booth is down for the first 5 h."""
    coat = LoadModel(
        "1",
        "B",
        (
            run("1 coat", cycle(5), under_way=True, station="bench"),
            run(
                "1 recoat",
                cycle(10),
                station="booth",
                after=(Precedence("1 coat", (StartWindow(0, 60), StartWindow(48 * 60))),),
            ),
        ),
    )
    stations = (StationModel("bench"), StationModel("booth", down_until=MONDAY + timedelta(hours=5)))

    made = solve_schedule(one_batch((coat,), stations))

    assert minute(made, "1 recoat")[0] == 5 + 48 * 60


def test_an_unattended_cycle_goes_on_through_the_night_only_if_it_may() -> None:
    """Started Friday 15:00 after 10 min by hand: 60 min end at 16:10 and wait for Monday's hands, or start Monday."""
    friday = datetime(2026, 9, 4, 15, tzinfo=CHICAGO)

    def made(outlasts: bool) -> Plan:
        load = LoadModel(
            "1", "B", (run("1 cut", hand(10), cycle(60, outlasts_shift=outlasts), hand(5), station="mill"),)
        )
        return solve_schedule(one_batch((load,), (StationModel("mill"),), now=friday, calendar=WEEKDAYS))

    through, within = made(True), made(False)

    monday = datetime(2026, 9, 7, 7, tzinfo=CHICAGO)
    assert [s.kind for s in through.runs[0].stretches] == [
        PhaseKind.ATTENDED,
        PhaseKind.UNATTENDED,
        PhaseKind.WAIT,
        PhaseKind.ATTENDED,
    ]
    assert through.end == monday + timedelta(minutes=5)
    assert within.end == monday + timedelta(minutes=65)


def test_like_after_like_saves_the_set_up_and_the_plan_looks_for_it() -> None:
    """Four loads of two families, 30 min set-up each time the family changes: two set-ups, not four."""
    loads = tuple(
        LoadModel(str(n), "B", (run(f"{n} cut", cycle(20), station="mill", setup=hand(30), family="ab"[n % 2]),))
        for n in range(4)
    )

    made = solve_schedule(one_batch(loads, (StationModel("mill"),)))
    ready = solve_schedule(one_batch(loads, (StationModel("mill", set_up_for="b"),)))

    assert (made.end - made.start) == timedelta(minutes=2 * 30 + 4 * 20)
    assert (ready.end - ready.start) == timedelta(minutes=30 + 4 * 20)


def test_a_saved_set_up_leaves_the_station_free_while_the_load_cures() -> None:
    """Set-up 30, cut 20, cure 100 on the rack: the third load of a family is cut from 70 to 90 and cured at 190."""
    loads = tuple(
        LoadModel(
            str(n),
            "B",
            (run(f"{n} cut", cycle(20), Phase(PhaseKind.CURE, 100), station="mill", setup=hand(30), family="a"),),
        )
        for n in range(3)
    )

    made = solve_schedule(one_batch(loads, (StationModel("mill"),)))

    assert sorted(minute(made, f"{n} cut") for n in range(3)) == [(0, 150), (50, 170), (70, 190)]


def test_an_oven_takes_as_many_loads_as_it_has_places() -> None:
    loads = tuple(LoadModel(str(n), "B", (run(f"{n} bake", cycle(60), station="oven", places=2),)) for n in range(5))

    made = solve_schedule(one_batch(loads, (StationModel("oven", places=4),)))

    assert made.end - made.start == timedelta(hours=3)
    assert {one.places for one in made.runs} == {(1, 2), (3, 4)}


def test_a_load_that_takes_pieces_from_two_loads_waits_for_both() -> None:
    pallets = tuple(LoadModel(str(n), "B", (run(f"{n} cut", cycle(60), station="mill"),), "pallet") for n in (1, 2, 3))
    tray = LoadModel(
        "T",
        "B",
        (run("T rinse", cycle(10), after=(Precedence("1 cut"), Precedence("3 cut", (StartWindow(15),)))),),
        "tray",
    )

    made = solve_schedule(one_batch((*pallets, tray), (StationModel("mill"),), pallet=1, tray=1))

    assert made.run("T rinse").start >= made.run("1 cut").end
    assert made.run("T rinse").start >= made.run("3 cut").end + timedelta(minutes=15)
    assert made.end - made.start == timedelta(minutes=180)


def test_what_is_under_way_keeps_its_station_carrier_and_place() -> None:
    """20 minutes are left of a cut on the only pallet; the next load starts when its cure is over."""
    cure = run("1 cure", Phase(PhaseKind.CURE, 60))
    cut = run("1 cut", cycle(20), station="mill", under_way=True)
    going = LoadModel("1", "B", (cut, cure), "pallet", holds_carrier=True)
    waiting = LoadModel("2", "B", (run("2 cut", cycle(30), station="mill"),), "pallet")

    made = solve_schedule(one_batch((going, waiting), (StationModel("mill"),), pallet=1))

    assert (minute(made, "1 cut"), minute(made, "1 cure"), minute(made, "2 cut")) == ((0, 20), (20, 80), (80, 110))


def test_the_batch_that_is_due_goes_first() -> None:
    """Three loads of an hour each, one machine; only the last one named is due in an hour."""
    loads = tuple(LoadModel(name, name, (run(f"{name} cut", cycle(60), station="mill"),)) for name in "ABC")
    batches = (BatchModel("A"), BatchModel("B"), BatchModel("C", due=MONDAY + timedelta(hours=1)))

    made = solve_schedule(replace(one_batch(loads, (StationModel("mill"),)), batches=batches))

    assert made.finish["C"] == MONDAY + timedelta(hours=1)


def test_slack_is_the_time_until_the_finish_slips() -> None:
    """60 and 10 minutes side by side before a common step: the short one may wait 50, the long one not at all."""
    long, short = (
        LoadModel(n, "B", (run(f"{n} cut", cycle(length), station=n),)) for n, length in (("L", 60), ("S", 10))
    )
    both = LoadModel("T", "B", (run("T join", cycle(5), after=(Precedence("L cut"), Precedence("S cut"))),))

    made = solve_schedule(one_batch((long, short, both), (StationModel("L"), StationModel("S"))))

    assert {one.run: one.slack for one in made.runs} == {"L cut": 0, "S cut": 50, "T join": 0}


@pytest.mark.parametrize(("large", "effort", "slack"), [(2, FIRST, 0), (3, FIRST, 50), (2, LIGHT, 50)])
def test_only_the_first_plan_of_a_large_shop_has_no_slack(
    monkeypatch: pytest.MonkeyPatch, large: int, effort: int, slack: float
) -> None:
    long, short = (
        LoadModel(n, "B", (run(f"{n} cut", cycle(length), station=n),)) for n, length in (("L", 60), ("S", 10))
    )
    both = LoadModel("T", "B", (run("T join", cycle(5), after=(Precedence("L cut"), Precedence("S cut"))),))
    monkeypatch.setattr(planner, "LARGE", large)

    assert (
        solve_schedule(one_batch((long, short, both), (StationModel("L"), StationModel("S"))), effort=effort)
        .run("S cut")
        .slack
        == slack
    )


def test_slack_stops_where_a_shift_a_person_or_a_window_stops_it() -> None:
    """On one day shift: by hand before lunch or after it, the same person next at 14:00, a window of 30 minutes."""
    now = datetime(2026, 9, 7, 7, tzinfo=CHICAGO)
    first = LoadModel("1", "B", (run("1 deburr", hand(60)),))
    last = LoadModel(
        "2", "B", (run("2 sand", hand(90), allowed=(StartSpan(now.replace(hour=14), now.replace(hour=14)),)),)
    )
    wipe = run("3 wipe", cycle(5), after=(Precedence("3 coat", (StartWindow(0, 30),)),))
    coat = LoadModel("3", "B", (run("3 coat", cycle(30)), wipe))

    made = solve_schedule(one_batch((first, last, coat), now=now, calendar=WEEKDAYS))

    assert made.run("1 deburr").slack == 6 * 60
    assert made.run("2 sand").slack == 0
    assert made.run("3 wipe").slack == 30


@pytest.mark.parametrize(("setup", "slack"), [(None, 90), (hand(20), 70)])
def test_slack_ends_where_the_next_load_needs_the_station(setup: Phase | None, slack: float) -> None:
    """The mill is free again before the cure, and the next load may not start before 100 min."""
    first, second = (
        LoadModel(n, "B", (run(f"{n} cut", cycle(10), Phase(PhaseKind.CURE, 300), station="mill", **more),))
        for n, more in (("1", {"setup": setup}), ("2", {"allowed": (StartSpan(MONDAY + timedelta(minutes=100)),)}))
    )

    made = solve_schedule(one_batch((first, second), (StationModel("mill"),)))

    assert {one.run: one.slack for one in made.runs} == {"1 cut": slack, "2 cut": 0}


def test_the_attended_list_says_who_must_be_where_in_order() -> None:
    loads = tuple(LoadModel(str(n), "B", (run(f"{n} sand", hand(30, hands=2 if n else 1)),)) for n in range(2))

    made = solve_schedule(one_batch(loads, hands=2))

    who = [(one.run, part.people, (part.start - MONDAY).total_seconds() / 60) for part, one in made.attended()]
    assert sorted(len(people) for _, people, _ in who) == [1, 2]
    assert {start for *_, start in who} == {0, 30}


def test_progress_is_reported_and_a_stop_still_gives_a_good_plan() -> None:
    problem = small_shop(9)
    heard: list[SearchProgress] = []

    made = solve_schedule(problem, on_progress=heard.append, should_stop=lambda: len(heard) >= 3)

    assert len(heard) == 3
    assert 0 < heard[0].done < heard[1].done < heard[2].done < heard[2].total
    assert made.end == heard[-1].end
    assert check_plan(problem, made) == []


def test_the_previous_order_of_work_is_kept_when_nothing_has_changed() -> None:
    problem = small_shop(9)
    before = solve_schedule(problem)

    again = solve_schedule(problem, previous=before, effort=0)

    assert again.end <= before.end


def test_a_plan_served_again_in_its_own_order_comes_out_the_same() -> None:
    """Where windows tie later runs to earlier ones and set-ups count, the order of starts alone would not do."""

    def load(n: int) -> LoadModel:
        return LoadModel(
            str(n),
            "B",
            (
                run(f"{n} cut", hand(10), cycle(20 + 7 * n % 30), station="mill", setup=hand(15), family="ab"[n % 2]),
                run(f"{n} cure", Phase(PhaseKind.CURE, 240)),
                run(
                    f"{n} trim",
                    hand(10),
                    station="mill",
                    setup=hand(15),
                    after=(Precedence(f"{n} cure", (StartWindow(0, 900),)),),
                ),
            ),
            "pallet",
        )

    problem = one_batch(tuple(map(load, range(16))), (StationModel("mill"),), pallet=5, calendar=WEEKDAYS)
    before = solve_schedule(problem, effort=0)
    asked = 0

    def once() -> bool:
        nonlocal asked
        asked += 1
        return True

    again = solve_schedule(problem, previous=before, should_stop=once)

    assert asked
    assert again == before


CUTS = tuple(LoadModel(str(n), "B", (run(f"{n} cut", cycle(60), station="mill"),)) for n in range(6))
SANDS = tuple(LoadModel(str(n), "B", (run(f"{n} sand", hand(60)),)) for n in range(6))
LONG = (LoadModel("1", "B", (run("1 sand", hand(24 * 60, interruptible=True)),)),)


@pytest.mark.parametrize(
    ("problem", "kind", "words"),
    [
        (one_batch(CUTS, (StationModel("mill"),)), "station", "mill: in use 100 % of the time"),
        (one_batch(SANDS), "hands", "Operators are busy 100 % of the shift time"),
        (
            one_batch(tuple(replace(load, carrier="tray") for load in CUTS), (StationModel("mill", places=9),), tray=2),
            "carrier",
            "tray: 2 in the shop, in use 100 %",
        ),
        (
            one_batch(LONG, now=datetime(2026, 9, 7, 7, tzinfo=CHICAGO), calendar=WEEKDAYS),
            "calendar",
            "waits 32.5 h by the clock for the next shift",
        ),
        (one_batch(CUTS, (StationModel("mill", places=9),)), "route", "chain of load 0 sets the date"),
    ],
    ids=["station", "hands", "carrier", "calendar", "route"],
)
def test_the_bottleneck_is_what_is_short(problem: SchedulingProblem, kind: str, words: str) -> None:
    found = solve_schedule(problem).bottleneck

    assert found.kind == kind
    assert words in found.words


def test_nothing_left_to_do_is_a_plan_that_ends_now() -> None:
    made = solve_schedule(one_batch(()))

    assert (made.runs, made.end, made.finish) == ((), MONDAY, {"B": MONDAY})


@pytest.mark.parametrize("now", [datetime(2026, 10, 31, 20, tzinfo=CHICAGO), datetime(2027, 3, 13, 20, tzinfo=CHICAGO)])
def test_a_bake_over_a_change_of_the_clocks_takes_its_real_time(now: datetime) -> None:
    """15 U.S.C. 260a: 1 November 2026 and 14 March 2027."""
    load = LoadModel("1", "B", (run("1 bake", cycle(12 * 60), station="oven"), run("1 unload", hand(10))))
    calendar = Calendar.weekly("America/Chicago", range(7), time(6), time(22))

    made = solve_schedule(one_batch((load,), (StationModel("oven"),), now=now, calendar=calendar))

    assert made.run("1 bake").end.astimezone(UTC) - now.astimezone(UTC) == timedelta(hours=12)
    assert made.run("1 unload").start == made.run("1 bake").end


DAY_SHIFT = Calendar.weekly("UTC", range(5), time(7), time(15, 30))
FRIDAY = datetime(2026, 3, 6, 13, 43, tzinfo=UTC)


def oven(*phases: Phase) -> Plan:
    """One run at an oven, from a Friday afternoon on."""
    return solve_schedule(
        one_batch(
            (LoadModel("L", "B", (RunModel("r", "Bake", "Oven", phases),)),),
            (StationModel("Oven"),),
            now=FRIDAY,
            calendar=DAY_SHIFT,
        ),
        effort=LIGHT,
    )


def test_loading_is_not_torn_from_its_cycle_by_a_weekend() -> None:
    """3.5 h may not outlast the shift and do not fit into Friday: loading waits for Monday too, and so does no oven."""
    run = oven(Phase(PhaseKind.ATTENDED, 8), Phase(PhaseKind.UNATTENDED, 210, outlasts_shift=False, joined=True)).runs[
        0
    ]

    assert run.start == datetime(2026, 3, 9, 7, 0, tzinfo=UTC)
    assert [part.kind for part in run.stretches] == [PhaseKind.ATTENDED, PhaseKind.UNATTENDED], "without a wait between"


def test_a_cycle_that_fills_the_shift_starts_the_morning_after_loading() -> None:
    run = oven(Phase(PhaseKind.ATTENDED, 8), Phase(PhaseKind.UNATTENDED, 510, outlasts_shift=False, joined=True)).runs[
        0
    ]

    assert run.start == FRIDAY
    assert run.end == datetime(2026, 3, 9, 15, 30, tzinfo=UTC)


@pytest.mark.parametrize(("most", "begins"), [(None, FRIDAY), (30, datetime(2026, 3, 9, 7, 0, tzinfo=UTC))])
def test_what_must_be_taken_out_in_time_is_put_in_so_that_somebody_is_there(
    most: float | None, begins: datetime
) -> None:
    """2 h from 13:43 end at 15:43, when nobody is in any more: with at most 30 min to spare it starts on Monday."""
    run = oven(
        Phase(PhaseKind.ATTENDED, 0), Phase(PhaseKind.UNATTENDED, 120), Phase(PhaseKind.ATTENDED, 4, wait=most)
    ).runs[0]

    assert run.start == begins
    if most is not None:
        assert run.end - run.start == timedelta(minutes=124)


def test_what_can_never_be_taken_out_in_time_is_reported() -> None:
    with pytest.raises(CannotPlan, match="Bake"):
        oven(Phase(PhaseKind.ATTENDED, 0), Phase(PhaseKind.UNATTENDED, 600), Phase(PhaseKind.ATTENDED, 4, wait=60))
