"""What-if: shown beside today's plan, equal to the plan of a shop with the changes, and the batch is untouched."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime, timedelta
from itertools import product
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from floor.batch.fold import fold
from floor.batch.lifecycle.commands import SetPiecesAside
from floor.batch.state import Batch
from floor.batch.stations.out_of_service import TakeOutOfService
from floor.checklist.loading import load_checklist
from floor.checklist.model import Checklist
from floor.entry import Moment
from floor.figures.schedule import Band, Bottleneck, PhaseKind, Saving, simulate_finishes
from floor.figures.schedule.bottleneck import find_critical_load
from floor.figures.workdays import count_working_hours
from floor.papers.whatif import (
    format_due_margin,
    format_finish_limit,
    format_gain,
    format_whatif_table,
    make_whatif_data,
)
from floor.planning.finish import compute_finish
from floor.planning.plan import ShopPlan, make_plan, score_plan
from floor.planning.problem import Crew, find_next_day_start
from floor.planning.questions import read_questions
from floor.planning.scenario import build_scenario, estimate_scenario_time_factors
from floor.planning.snapshot import build_request_variants, take_snapshot
from floor.planning.whatif import (
    ALL,
    TODAY,
    Gain,
    WhatIfRow,
    add_savings,
    add_spread,
    build_trials,
    compute_gain,
    count_late_days,
    describe_bottleneck,
    find_bottleneck,
    plan_changed_row,
    plan_present_row,
    rank_savings,
)
from floor.shop.load_settings import load_settings
from tests.batch.factory import Bench, open_bench
from tests.planning.planned import ALWAYS, MORNING, ONE_SHIFT, ZONE, planned, potted
from tests.planning.test_unplanned import TWO_HOURS, many

LID = Path(__file__).with_name("lid.toml").read_text()
EFFORT = 500
SHIFT = """
zone = "Etc/GMT-1"
hands = 1
[[shifts]]
days = ["Mon", "Tue", "Wed", "Thu", "Fri"]
start = "07:00"
end = "15:30"
breaks = [["11:30", "12:00"]]
"""


def begun(checklist: Callable[[], Checklist] = potted) -> Bench:
    """39 lids for two pallets, the first of them cut; due on Tuesday."""
    made = open_bench(checklist, start=39)
    made.through(made.form(10), 10)
    made.state.due = date(2026, 3, 3)
    return made


@pytest.fixture(scope="module")
def bench() -> Bench:
    return begun()


def table(text: str, *batches: Batch, now: Moment, crew: Crew = ONE_SHIFT) -> list[WhatIfRow]:
    case = build_scenario(batches, crew)
    first, *others = build_trials(case, read_questions(text, case, now), now)
    start = plan_present_row(make_plan(first.ways, effort=EFFORT), first, effort=EFFORT)
    return [start, *(plan_changed_row(start, question, effort=EFFORT) for question in others)]


def hours(text: str, bench: Bench, crew: Crew = ONE_SHIFT) -> float:
    """By the clock, how much later everything is done."""
    rows = table(text, bench.state, now=bench.clock(), crew=crew)
    first, last = (row.shop_plan for row in (rows[0], rows[-1]))
    assert first is not None
    assert last is not None
    return (last.plan.end - first.plan.end) / timedelta(hours=1)


# --- the plan of a shop that has the changes ---------------------------------------------------------------------

CHECKLIST, SHOP = 0, 1
CHANGES = {
    "1 more pallet": [(CHECKLIST, "capacity = 13\ncount = 2", "capacity = 13\ncount = 3")],
    "1 tote fewer": [(CHECKLIST, "capacity = 60\ncount = 2", "capacity = 60\ncount = 1")],
    "second router": [(CHECKLIST, 'offsets = ["G54"]', 'offsets = ["G54"]\nruns_at_once = 2\ncycles_at_once = 2')],
    "cure 6 h shorter": [(CHECKLIST, 'earliest = "24 h"', 'earliest = "18 h"')],
    "cure 12 h longer": [(CHECKLIST, 'earliest = "24 h"', 'earliest = "36 h"')],
    "1 more person": [(SHOP, "hands = 1", "hands = 2")],
    "end 1 h later": [(SHOP, "15:30", "16:30")],
    "start 2 h earlier": [(SHOP, '"07:00"', '"05:00"')],
    "end 3 h earlier": [(SHOP, "15:30", "12:30")],
    "sat 7 mar": [(SHOP, 'breaks = [["11:30", "12:00"]]\n', """
breaks = [["11:30", "12:00"]]
[[shifts]]
dates = [2026-03-07]
start = "07:00"
end = "15:30"
breaks = [["11:30", "12:00"]]
""")],
    "every saturday 7-12": [(SHOP, 'breaks = [["11:30", "12:00"]]\n', """
breaks = [["11:30", "12:00"]]
[[shifts]]
days = ["Sat"]
start = "07:00"
end = "12:00"
""")],
}  # fmt: skip

TOGETHER = "1 more pallet, cure 6 h shorter, 1 more person, end 1 h later, every saturday 7-12"


def really(tmp_path: Path, *changes: tuple[int, str, str]) -> tuple[Bench, Crew]:
    """The same work in a shop with that checklist and those hours."""
    files = [LID, SHIFT]
    for file, old, new in changes:
        assert old in files[file]
        files[file] = files[file].replace(old, new, 1)
    (tmp_path / "part.toml").write_text(files[CHECKLIST])
    (tmp_path / "shop.toml").write_text(files[SHOP])
    checklist = load_checklist(tmp_path / "part.toml").checklist
    assert checklist is not None
    known = load_settings(tmp_path, MORNING)
    return begun(lambda: checklist), Crew(known.calendar, known.hands)


@pytest.mark.parametrize("text", [*CHANGES, TOGETHER])
def test_what_is_answered_is_the_plan_of_a_shop_that_has_it(tmp_path: Path, text: str) -> None:
    """The planner gets the same question, and gives the answer that shop would get."""
    mine, usual = really(tmp_path)
    changes = [change for phrase in text.split(", ") for change in CHANGES[phrase]]
    theirs, crew = really(tmp_path, *changes)
    case, now = build_scenario([mine.state], usual), mine.clock()
    [first, *_, asked] = build_trials(case, read_questions(text, case, now), now)
    real = build_scenario([theirs.state], crew)
    ways = build_request_variants(
        real.batches, theirs.clock(), crew, estimate_scenario_time_factors(build_scenario([theirs.state], usual))
    )

    assert [way.problem for way in asked.ways] == [way.problem for way in ways]
    start = plan_present_row(make_plan(first.ways, effort=EFFORT), first, effort=EFFORT)
    found, made = (
        plan_changed_row(start, asked, effort=EFFORT),
        make_plan(ways, effort=EFFORT, previous=start.shop_plan),
    )

    assert found.shop_plan is not None
    assert found.shop_plan.plan.finish == made.plan.finish
    assert compute_finish(found.shop_plan, "B0001").due == compute_finish(made, "B0001").due
    # Rework and make-up are drawn from the same too.
    doubtful = take_snapshot([theirs.state], theirs.clock(), crew).ways
    real_plan = make_plan(doubtful, effort=EFFORT, previous=start.shop_plan)
    row = add_spread(WhatIfRow(asked.text, found.shop_plan), samples=12)
    assert row.spread == simulate_finishes(real_plan.problem, found.shop_plan.plan, samples=12)


def test_a_station_down_equals_a_station_out_of_service() -> None:
    mine, theirs = begun(), begun()
    theirs.say(TakeOutOfService("router", "spindle hums", datetime(2026, 3, 3, 10, tzinfo=ZoneInfo(ZONE))), by="LL")
    now = theirs.clock()
    case = build_scenario([mine.state], ONE_SHIFT)

    asked = build_trials(case, read_questions("router down until tue 10:00", case, now), now)[1]

    problem = build_request_variants([theirs.state], now, ONE_SHIFT, estimate_scenario_time_factors(case))[0].problem
    assert asked.ways[0].problem.stations == problem.stations
    assert asked.ways[0].problem.loads == problem.loads


def test_a_batch_that_goes_first_is_done_as_if_it_were_alone() -> None:
    """26 lids each for two pallets and one router: the second batch waits."""
    one, other = (replace(open_bench(potted, start=26).state, id=id, due=date(2026, 3, 6)) for id in ("B1", "B2"))
    now = Moment(MORNING)
    [_, *rows] = table("b2 first, b1 first", one, other, now=now)
    alone = {batch.id: planned(batch, effort=EFFORT).plan.finish[batch.id] for batch in (one, other)}

    for row, id in zip(rows, ("B2", "B1"), strict=False):
        assert row.shop_plan is not None
        assert row.shop_plan.plan.finish[id] <= alone[id]
        assert max(row.shop_plan.plan.finish.values()) > alone[id] + timedelta(hours=12)
        assert compute_finish(row.shop_plan, id).due_day == date(2026, 3, 6)
        assert compute_finish(row.shop_plan, id).due == compute_finish(planned(one), "B1").due, (
            "due when it is, not now"
        )
    both = rows[2].shop_plan
    assert both is not None
    assert both.plan.finish["B2"] <= alone["B2"], "the first that is named"


def test_of_two_ways_to_load_the_one_is_better_that_has_the_first_batch_earlier() -> None:
    """An hour late of a batch that goes first outweighs many of another."""
    one, other = (replace(open_bench(potted, start=13).state, id=id) for id in ("B1", "B2"))
    made = planned(one, other, effort=50)
    now = made.problem.now
    ahead = tuple(replace(batch, due=now, weight=1000.0 if batch.id == "B1" else 1.0) for batch in made.problem.batches)

    def ending(first: int, second: int) -> ShopPlan:
        ends = {"B1": now + timedelta(hours=first), "B2": now + timedelta(hours=second)}
        return replace(made, problem=replace(made.problem, batches=ahead), plan=replace(made.plan, finish=ends))

    assert score_plan(ending(5, 30)) < score_plan(ending(6, 10))


def test_whoever_asks_no_longer_stops_every_search_of_a_row_with_a_batch_that_goes_first(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    import floor.planning.whatif as what_if

    now = Moment(MORNING)
    case = build_scenario([begun().state, replace(begun().state, id="B2", reference="PO 2")], ONE_SHIFT)
    first, asked = build_trials(case, read_questions("b2 first", case, now), now)
    start = plan_present_row(make_plan(first.ways, effort=EFFORT), first, effort=EFFORT)
    given: list[object] = []
    held: list[object] = []
    begun_with: list[ShopPlan | None] = []

    def listen(*ways: object, should_stop: object = None, **named: object) -> ShopPlan:
        given.append(should_stop)
        held.append(named.get("hold"))
        begun_with.append(named.get("previous"))
        return make_plan(*ways, should_stop=should_stop, **named)  # type: ignore[arg-type]

    def over() -> bool:
        return True

    monkeypatch.setattr(what_if, "make_plan", listen)
    assert plan_changed_row(start, asked, effort=EFFORT, should_stop=over).shop_plan is not None
    assert given == [over, over]
    assert held == [None, True], "in no row does a batch end later than it would by today's order of work"
    alone, together = begun_with
    assert alone is None
    assert together is not None
    assert [*together.plan.finish] == ["B2"], "whatever is not first may end later"


def test_two_that_go_first_are_done_as_if_those_two_were_alone() -> None:
    """What a search from today's plan, in which another goes first, does not find."""
    batches = [
        replace(open_bench(potted, start=start).state, id=id, due=date(2026, 3, 9))
        for id, start in (("B1", 60), ("B2", 45), ("B3", 52))
    ]
    row = table("b2 first, b3 first", *batches, now=Moment(MORNING))[-1]
    alone = planned(*batches[1:2], effort=EFFORT).plan.finish["B2"]

    assert row.shop_plan is not None
    assert row.shop_plan.plan.finish["B2"] <= alone + timedelta(hours=1)


# --- what it says ------------------------------------------------------------------------------------------------


def test_each_question_is_answered_as_a_difference(bench: Bench) -> None:
    before = fold(bench.state.entries)

    assert hours("1 more pallet", bench) < -12, "a pallet bound by a day's cure saves most of a day"
    assert hours("second shift", bench) <= 0
    assert hours("load 1 scrapped", bench) > 0
    assert hours("bench down until tue", bench) > 12, "the first pallet waits a day to be filled"
    assert hours("router down until tue", bench) >= 0
    assert hours("cure 12 h longer", bench) > 0
    before.due = bench.state.due
    assert bench.state == before, "the batch is not touched"


def test_all_together_is_the_last_row_and_two_pallets_and_a_saturday_gain_what_they_gain(bench: Bench) -> None:
    rows = table("2 more pallets, saturday", bench.state, now=bench.clock())

    assert [row.text for row in rows] == ["Today", "2 more Pallets", "Sat 07 Mar 07:00–15:30", ALL]
    assert compute_gain(rows[0], rows[0]) == Gain(0, 0)
    found = compute_gain(rows[0], rows[1])
    assert found is not None
    # From Tuesday 12:08 to Wednesday 10:40 by shifts that end at 15:30, begin at 07:00.
    assert found.hours == pytest.approx(3 + 22 / 60 + 3 + 40 / 60, abs=0.05)
    assert found.days == 1
    assert compute_gain(rows[0], rows[2]) == Gain(0, 0)
    assert [count_late_days(rows[0], row, "B0001") for row in rows] == [1, 0, 1, 0]


def test_a_day_more_at_work_makes_nothing_later(bench: Bench) -> None:
    """Done on Monday and due on Friday is one working day late, also where Saturday is worked in vain."""
    batch = replace(bench.state, due=date(2026, 3, 6))
    later = table("saturday 7-8, router down until mon 9 mar", batch, now=bench.clock())
    alone = table("router down until mon 9 mar", batch, now=bench.clock())

    assert later[3].shop_plan is not None
    assert later[3].shop_plan.plan.end >= datetime(2026, 3, 9, 7, tzinfo=ZoneInfo(ZONE))
    assert compute_finish(later[3].shop_plan, "B0001").late_days == count_late_days(alone[0], alone[1], "B0001") + 1  # type: ignore[operator]
    assert count_late_days(later[0], later[3], "B0001") == count_late_days(alone[0], alone[1], "B0001")


def test_what_is_done_in_an_hour_of_overtime_is_done_on_that_day(bench: Bench) -> None:
    """Due on Tuesday, and done on Thursday at 16:15 where that shift ends at 16:30: two days late, not three."""
    now, row = table("end 1 h later", bench.state, now=bench.clock())
    assert row.shop_plan is not None

    def done(hour: int, minute: int) -> WhatIfRow:
        at = datetime(2026, 3, 5, hour, minute, tzinfo=ZoneInfo(ZONE))
        plan = replace(row.shop_plan.plan, end=at, finish={"B0001": at})  # type: ignore[union-attr]
        return replace(row, shop_plan=replace(row.shop_plan, plan=plan), spread=None)

    overtime, usual = done(16, 15), done(15, 30)
    assert count_late_days(now, overtime, "B0001") == count_late_days(now, usual, "B0001") == 2
    late, in_time = compute_gain(now, overtime), compute_gain(now, usual)
    assert late is not None
    assert late == in_time


def test_what_can_only_help_never_finishes_later_nor_what_can_only_harm_sooner(bench: Bench) -> None:
    helps = table("1 more tote, second router, end 1 h later", bench.state, now=bench.clock())
    harms = table("1 tote fewer, cure 1 h longer", bench.state, now=bench.clock())

    for start, *rows in (helps, harms):
        for row in rows:
            found = compute_gain(start, row)
            assert found is not None
            assert found.hours >= 0 if start is helps[0] else found.hours <= 0


def test_the_order_in_which_changes_are_written_is_no_matter(bench: Bench) -> None:
    """The Sunday is then as long as the Friday; explicit hours stay as written."""
    case, now = build_scenario([bench.state], ONE_SHIFT), bench.clock()
    words = ["saturday 7-12", "end 1 h later", "every sunday", "1 more person", "2 more pallets"]
    one, other = (
        build_trials(case, read_questions(", ".join(those), case, now), now)[-1] for those in (words, words[::-1])
    )

    assert [way.problem for way in one.ways] == [way.problem for way in other.ways]
    calendar = one.ways[0].problem.calendar
    saturday, sunday = (datetime(2026, 3, day, tzinfo=ZoneInfo(ZONE)) for day in (7, 8))
    assert calendar.worked(saturday, sunday) == 5 * 60
    assert calendar.worked(sunday, sunday + timedelta(days=1)) == 9 * 60


def test_a_worse_plan_of_a_better_shop_is_not_taken_nor_a_better_one_of_a_worse(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The search may miss what today's plan shows to be there."""
    case, now = build_scenario([bench.state], ONE_SHIFT), bench.clock()
    first, helps, harms, _ = build_trials(case, read_questions("1 more tote, cure 1 h longer", case, now), now)
    start = plan_present_row(make_plan(first.ways, effort=EFFORT), first, effort=EFFORT)
    assert start.shop_plan is not None

    def found(hours: int) -> Callable[..., ShopPlan]:
        made = start.shop_plan
        assert made is not None
        end = made.plan.end + timedelta(hours=hours)
        plan = replace(made.plan, end=end, finish=dict.fromkeys(made.plan.finish, end))
        return lambda *given, **named: replace(made, plan=plan)

    for question, hours, kept in ((helps, 5, True), (helps, -5, False), (harms, -5, True), (harms, 5, False)):
        monkeypatch.setattr("floor.planning.whatif.make_plan", found(hours))
        row = plan_changed_row(start, question)
        assert row.shop_plan is not None
        assert (row.shop_plan.plan == start.shop_plan.plan) == kept
        assert (compute_gain(start, row) == Gain(0, 0)) == kept


@pytest.mark.parametrize(("sense", "hours", "kept"), [(1, 3, True), (1, -3, False), (-1, -3, True), (-1, 3, False),
                                                     (0, 3, False)])  # fmt: skip
def test_draws_alone_make_no_help_later_and_no_harm_sooner(
    bench: Bench, monkeypatch: pytest.MonkeyPatch, sense: int, hours: int, kept: bool
) -> None:
    made = planned(bench.state, now=bench.clock(), effort=100)
    real = simulate_finishes(made.problem, made.plan, samples=5)
    now = WhatIfRow("Today", made, spread=real)

    def moved(band: Band) -> Band:
        return replace(band, middle=band.middle + timedelta(hours=hours))

    drawn = replace(real, end=moved(real.end), batches={id: moved(band) for id, band in real.batches.items()})
    monkeypatch.setattr("floor.planning.whatif.simulate_finishes", lambda *given, **named: drawn)
    row = add_spread(WhatIfRow("changed", made, sense=sense), now)

    assert (row.spread is real) == kept
    assert (compute_gain(now, row) == Gain(0, 0)) == kept


def test_today_stays_the_plan_on_view_unless_a_better_one_is_found(bench: Bench) -> None:
    case, now = build_scenario([bench.state], ONE_SHIFT), bench.clock()
    first = build_trials(case, read_questions("saturday", case, now), now)[0]
    good = make_plan(first.ways, effort=EFFORT)
    assert good.plan.bottleneck.name == "Pallet"
    end = good.plan.end + timedelta(hours=5)
    poor = replace(good, plan=replace(good.plan, end=end, finish=dict.fromkeys(good.plan.finish, end)))

    for plan, kept in ((good, True), (poor, False)):
        row = plan_present_row(plan, first, effort=EFFORT)
        assert row.shop_plan is not None
        assert (row.shop_plan.plan is plan.plan) == kept
        assert row.shop_plan.plan.end == good.plan.end


def test_one_more_pallet_saves_most_where_pallets_bind(bench: Bench) -> None:
    best = rank_savings(planned(bench.state, now=bench.clock()))[0]
    assert (best.kind, best.name) == ("carrier", "Pallet")


def test_the_bottleneck_of_each_row_agrees_with_what_one_more_would_save(bench: Bench) -> None:
    rows = [replace(row, saved=rank_savings(row.shop_plan, effort=EFFORT)) for row in table(
        "2 more pallets", bench.state, now=bench.clock()) if row.shop_plan is not None]  # fmt: skip

    assert [format_finish_limit(row.bottleneck) for row in rows] == ["Pallet", "Router"]
    for row in rows:
        assert row.bottleneck is not None
        assert row.saved is not None
        assert (row.bottleneck.kind, row.bottleneck.name) == (row.saved[0].kind, row.saved[0].name)


def test_what_limits_it_is_one_answer_or_not_known_yet(bench: Bench) -> None:
    made = planned(bench.state, now=bench.clock())
    saved = rank_savings(made)

    assert find_bottleneck(made, None) is None
    assert describe_bottleneck(made, None) == "being worked out …"
    assert find_bottleneck(made, saved) == WhatIfRow(TODAY, made, saved=saved).bottleneck
    assert f"One more would save {saved[0].working:.1f} working hours." in describe_bottleneck(made, saved)
    assert "not yet" in format_whatif_table([WhatIfRow(TODAY, made)])[1]
    nothing = replace(made, plan=replace(made.plan, runs=(), bottleneck=find_critical_load(())))
    assert describe_bottleneck(nothing, None) == "Nothing is left to do."


def test_savings_are_those_of_the_what_if_in_working_hours(bench: Bench) -> None:
    """The clock counts a night too, in which nobody works."""
    made = planned(bench.state, now=bench.clock())
    best = rank_savings(made)[0]
    later = made.plan.end - timedelta(hours=best.hours)
    assert best.working == pytest.approx(count_working_hours(ONE_SHIFT.calendar, later, made.plan.end), abs=0.1)
    assert 0 < best.working < best.hours


def test_a_row_with_the_plan_of_today_has_its_bottleneck() -> None:
    made = planned(open_bench(potted, start=13).state)
    now = WhatIfRow("Today", made, saved=(Saving("station", "Router", 3.0, 2.0),))
    assert add_savings(WhatIfRow("1 more Tote", made), now).saved == now.saved


def test_a_longer_cure_lengthens_the_one_that_runs_now() -> None:
    """One pallet, ten of its 24 h of cure gone: 12 h more put the finish off by 12 h."""
    bench = open_bench(potted, start=13)
    load = bench.form(10)
    bench.through(load, 10, 20)
    bench.clock.forward(10 * 3600)
    before = fold(bench.state.entries)

    assert hours("cure 12 h longer", bench, ALWAYS) == pytest.approx(12)
    assert hours("cure 6 h shorter", bench, ALWAYS) == pytest.approx(-6)
    assert bench.state == before, "the batch is not touched"


def test_a_cure_may_be_left_out_altogether(bench: Bench) -> None:
    row = add_spread(table("cure 24 h shorter", bench.state, now=bench.clock())[-1], samples=4)
    assert row.spread is not None
    assert row.shop_plan is not None
    assert not any(part.kind is PhaseKind.CURE for run in row.shop_plan.plan.runs for part in run.stretches)


def test_a_longer_cure_holds_back_loads_still_to_be_filled_too() -> None:
    """Nothing is cut yet: one pallet of 13 takes its cure of 24 h, and 12 h more."""
    assert hours("cure 12 h longer", open_bench(potted, start=13), ALWAYS) == pytest.approx(12)


def test_what_cannot_be_planned_says_why_and_what_makes_it_possible_has_a_date() -> None:
    """An operation of 210 min in shifts of two hours."""
    batch = many()
    rows = table("end 1 h later, end 2 h later", batch, now=Moment(MORNING), crew=TWO_HOURS)

    assert [row.whole for row in rows] == [False, False, True, True]
    assert "operation 20 Step 2" in rows[1].why
    assert compute_gain(rows[0], rows[2]) is None
    lines = format_whatif_table(rows)
    assert sum("cannot be planned" in line for line in lines) == 2
    assert any("✕ operation 20 Step 2" in line for line in lines)
    body = make_whatif_data(rows, ["B0001"])
    assert [one["finish"] is None for one in body] == [True, True, False, False]
    assert body[0]["cannot_be_planned_because"]


def test_a_borrowed_carrier_helps_where_every_one_is_under_pieces_on_hold() -> None:
    bench = open_bench(order=8, start=16)
    for load in (bench.form(10), bench.form(10), bench.form(10)):
        bench.say(SetPiecesAside("hold", "doubtful", load=load, positions=("A1", "A2", "B1", "B2")))
    case, now = build_scenario([bench.state], ONE_SHIFT), bench.clock()

    before, after = build_trials(case, read_questions("1 more pallet", case, now), now)

    assert "every Pallet is under pieces on hold" in {one.wrong for one in before.ways[0].obstacles}
    assert not after.ways[0].obstacles
    assert after.ways[0].numbers["Pallet"] == (4,)


def test_the_table_keeps_its_columns_and_says_all_of_it(bench: Bench) -> None:
    other = replace(open_bench(potted, start=13).state, id="B0002", due=date(2026, 3, 5))
    sets = ((bench.state,), (bench.state, other))
    tables = [table("2 more pallets, cure after 20 6 h shorter", *those, now=bench.clock()) for those in sets]
    for (batches, rows), width in product(zip(sets, tables, strict=True), (78, 80, 110)):
        lines = format_whatif_table(rows, width=width)
        assert max(map(len, lines)) <= width
        assert "".join(lines).count("…") == 0
        said = " ".join(" ".join(lines).split())
        for part in ("Today", "2 more Pallets", "All together", "finish", "limited by", "due", "✕ 1 d late"):
            assert part in said
        for batch in batches if len(batches) > 1 else ():
            assert said.count(f" {batch.id} ") == len(rows)


def test_where_the_table_has_no_room_each_change_is_a_paragraph_and_says_the_same(bench: Bench) -> None:
    other = replace(open_bench(potted, start=13).state, id="B0002", due=date(2026, 3, 5))
    sets = ((bench.state,), (bench.state, other))
    tables = [table("2 more pallets, cure after 20 6 h shorter", *those, now=bench.clock()) for those in sets]
    for rows, width in product(tables, (77, 58, 38)):
        lines = format_whatif_table(rows, width=width)
        assert max(map(len, lines)) <= width
        said, wide = " ".join(" ".join(lines).split()), format_whatif_table(rows, width=110)
        cells = [re.split(r" {2,}", line.strip()) for line in wide[1:]]
        figures = [cell for row in cells for cell in row if re.search(r"\d:\d\d$|d (late|early)|sooner|later", cell)]
        assert figures
        for figure in figures:
            assert figure in said, "no figure is cut or left out"
        assert said.count("limited by: ") == len(rows)
        assert re.search(r"due \w{3} \d\d \w{3}: ✕ 1 d late", said)


def test_one_batch_of_several_can_be_shown_alone(bench: Bench) -> None:
    other = replace(open_bench(potted, start=13).state, id="B0002", due=None)
    rows = table("2 more pallets", bench.state, other, now=bench.clock())

    assert not any("B0001" in line or "late" in line for line in format_whatif_table(rows, ["B0002"]))
    assert [one["batches"][0]["due_kept"] for one in make_whatif_data(rows, ["B0002"])] == [None, None]
    assert [one["batches"][0]["late_working_days"] for one in make_whatif_data(rows, ["B0001"])] == [
        count_late_days(rows[0], row, "B0001") for row in rows
    ]


@pytest.mark.parametrize(("found", "said"), [
    (Gain(16.5, 2), "16.5 h sooner"),
    (Gain(-0.5, -1), "0.5 h later"),
    (Gain(123.4, 15), "123 h sooner"),
    (Gain(0.0, 0), "the same"),
    (Gain(0.0, 1), "the same"),
    (Gain(-0.01, -1), "the same"),
    (Gain(-0.06, 0), "0.1 h later"),
    (None, ""),
])  # fmt: skip
def test_what_is_gained_in_words(found: Gain | None, said: str) -> None:
    assert format_gain(found) == said


def test_whether_the_due_day_is_kept_and_what_limits_it_in_a_word() -> None:
    assert [format_due_margin(days) for days in (None, -3, 0, 2)] == ["", "✓ 3 d early", "✓ in time", "✕ 2 d late"]
    named = [Bottleneck(kind, "Oven", "") for kind in ("station", "carrier", "hands", "calendar", "route")]
    assert [format_finish_limit(one) for one in named] == ["Oven", "Oven", "people", "shift hours", "work, cure"]
    assert format_finish_limit(Bottleneck("route", "", "Nothing is left to do.")) == "nothing"


def test_the_next_day_is_one_on_which_somebody_works() -> None:
    friday = datetime(2026, 3, 6, 9, 0, tzinfo=ZoneInfo(ZONE))
    assert find_next_day_start(friday, ONE_SHIFT.calendar) == datetime(2026, 3, 9, 7, 0, tzinfo=ZoneInfo(ZONE))
