"""Earlier batches beside a checklist: what counts, what is left out, and what the plan of the next batch takes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta

import pytest

from floor.batch.earlier import EarlierTold, ExpectedPace, ExpectedYield, expect
from floor.batch.quality.batch_facts import BatchFacts, OpFacts, TimedPart, gather_facts
from floor.batch.quality.run_times import RunPart
from floor.checklist.expected_yields import list_operation_yields
from floor.figures.calendar import Calendar
from floor.figures.earlier_yields import BatchYield, combine_yields, weigh_times
from floor.figures.quality.share_by_load import LoadCount
from floor.figures.yields import PLAN_RUNS
from floor.planning.batch_forecast import collect_forecast_inputs, compute_outlook
from floor.planning.earlier_batches import NotUsed, find_age, study_earlier
from floor.planning.pace import Part, estimate_time_factors
from floor.planning.start_plan import build_fresh_batch, plan_start
from tests.batch.factory import BY_HAND, MORNING, edited, open_bench, part

ALWAYS = Calendar.always("Etc/GMT-1")
NOW = MORNING + timedelta(days=100)
YIELD = (
    'time = { cycle_piece = "2 min" }',
    'time = { cycle_piece = "2 min" }\nexpected_yield = 0.9\nyield_weight = 30',
)


def op_facts(
    op: int = 30, loads: Sequence[tuple[int, int]] = ((4, 4),), took: Sequence[float] = (), **more: object
) -> OpFacts:
    operation = part().ops[op]
    facts = OpFacts(
        op,
        operation.title,
        operation.cycle,
        operation.station,
        part().station(operation.station).name,
        tuple(LoadCount(*load) for load in loads),
        0,
        tuple(TimedPart(n, RunPart.CYCLE, 4, one) for n, one in enumerate(took)),
    )
    return replace(facts, **more)  # type: ignore[arg-type]


def batch_facts(name: str, days: float, *ops: OpFacts, **more: object) -> BatchFacts:
    """A closed batch, so many days before `NOW`."""
    closed = NOW - timedelta(days=days)
    facts = BatchFacts(
        name, f"hash of {name}", part().part.number, "A", "part.toml", closed - timedelta(days=5), closed, True,
        20, 24, 22, False, {one.op: one for one in ops},
    )  # fmt: skip
    return replace(facts, **more)  # type: ignore[arg-type]


def told(*ops: OpFacts, days: float = 10) -> EarlierTold:
    found = study_earlier(part(), [batch_facts("B0001", days, *ops)], NOW).told
    assert found is not None
    return found


def test_without_earlier_batches_nothing_is_told_and_the_plan_is_as_today() -> None:
    study = study_earlier(part(), [], NOW)

    assert study.told is None
    assert expect(part(), None) is part()
    alone, beside = (build_fresh_batch(part(), 8, 10, bench_now(), earlier=one) for one in (None, study.told))
    assert collect_forecast_inputs(alone, bench_now()) == collect_forecast_inputs(beside, bench_now())
    assert plan_start(part(), 8, 0.9) == plan_start(expect(part(), study.told), 8, 0.9)


def bench_now():  # type: ignore[no-untyped-def]
    return open_bench().clock()


def test_one_batch_moves_the_yield_by_its_weight() -> None:
    loads = [(3, 4), (4, 4), (4, 4), (2, 4)]
    checklist = edited(YIELD)
    study = study_earlier(checklist, [batch_facts("B0001", 40, op_facts(30, loads))], NOW)
    one = next(one for one in study.ops if one.op == 30)
    (row,) = one.yields

    expected = combine_yields(0.9, 30, 0.0, [BatchYield(13 / 16, row.share.worth, find_age(row.batch, NOW))])
    assert one.found == expected
    assert row.weight == expected.weights[0] > 0
    assert study.told == EarlierTold(
        batches=("B0001",),
        yields=(ExpectedYield(op=30, good=expected.good, reworked=0.0, weight=expected.weight),),
        paces=(),
    )
    assert expect(checklist, study.told).ops[30].expected_yield == expected.good


def test_the_newest_batch_comes_first_and_an_old_one_counts_less() -> None:
    study = study_earlier(
        edited(YIELD),
        [batch_facts(name, days, op_facts(30, [(19, 20)] * 2)) for name, days in (("B1", 800), ("B2", 30))],
        NOW,
    )
    rows = next(one for one in study.ops if one.op == 30).yields

    assert [row.batch.id for row in rows] == ["B2", "B1"]
    assert rows[0].weight > 4 * rows[1].weight > 0


def test_a_yield_taken_as_a_lesson_counts_once() -> None:
    """The file's yield holds the pieces of B1 already; B2 still tells something."""
    batches = [batch_facts(name, days, op_facts(30, [(15, 20)] * 2)) for name, days in (("B1", 60), ("B2", 30))]
    study = study_earlier(edited(YIELD), batches, NOW, {"hash of B1": frozenset({30}), "hash of B2": frozenset({10})})
    rows = {row.batch.id: row for row in next(one for one in study.ops if one.op == 30).yields}

    assert (rows["B1"].not_used, rows["B1"].weight) == (NotUsed.IN_FILE, 0.0)
    assert rows["B2"].not_used is None
    assert rows["B2"].weight > 0
    assert study.told is not None
    assert study.told.batches == ("B2",)


@pytest.mark.parametrize(("good", "weight"), [(0.9, 30), (0.97, 17), (0.98, 49)])
def test_a_single_batch_that_the_file_holds_tells_nothing(good: float, weight: float) -> None:
    """Its pieces are in the estimate, and one batch does not show how much batches differ: rounding is no news."""
    checklist = edited((YIELD[0], f"{YIELD[0]}\nexpected_yield = {good}\nyield_weight = {weight}"))
    study = study_earlier(
        checklist, [batch_facts("B1", 30, op_facts(30, [(15, 20)]))], NOW, {"hash of B1": frozenset({30})}
    )
    assert study.told is None


def test_batches_that_the_file_holds_are_named_where_only_how_they_differ_is_told() -> None:
    batches = [batch_facts(f"B{n}", 30 - n, op_facts(30, [(good, 20)] * 3)) for n, good in ((1, 20), (2, 9))]
    batches.append(batch_facts("B3", 20, op_facts(10, [(2, 4)], title="Saw to length")))
    study = study_earlier(edited(YIELD), batches, NOW, {f"hash of B{n}": frozenset({30}) for n in (1, 2)})
    assert study.told is not None
    (told,) = study.told.yields
    assert (told.good, told.weight < 30) == (pytest.approx(0.9), True)
    assert study.told.batches == ("B2", "B1"), "B3 did other work"


def test_a_batch_without_a_sound_time_is_not_named_as_told_of() -> None:
    batches = [batch_facts(name, 30, op_facts(30, (), took)) for name, took in (("B1", [720.0]), ("B2", [6000.0]))]
    study = study_earlier(part(), batches, NOW)
    assert study.told is not None
    assert study.told.batches == ("B1",)


def test_other_work_under_the_same_number_is_left_out_and_an_operation_that_is_gone_is_named() -> None:
    strange = op_facts(10, [(2, 4)], [600.0], title="Saw to length")
    gone = replace(op_facts(30, [(4, 4)]), op=35, title="Wash")
    timed = replace(op_facts(30, (), [720.0]), op=36, title="Dry")
    idle = replace(op_facts(30, ()), op=37, title="Pack")
    study = study_earlier(part(), [batch_facts("B0001", 10, strange, gone, timed, idle), batch_facts("B2", 10)], NOW)
    op_10 = next(one for one in study.ops if one.op == 10)

    assert [row.not_used for row in op_10.yields] == [NotUsed.OTHER_WORK]
    assert [row.not_used for row in op_10.times] == [NotUsed.OTHER_WORK]
    assert (op_10.found, op_10.paces) == (None, {})
    assert study.gone == {"B0001": ("op 35 Wash", "op 36 Dry")}, "nothing was done at op 37, and none is gone of B2"
    assert study.told is None


def test_times_blend_with_the_plan_and_a_time_too_far_off_is_left_out() -> None:
    """4 pieces state 8 min of cycle at op 30: 12 min is 1.5 x; 100 min was entered later."""
    study = study_earlier(part(), [batch_facts("B0001", 10, op_facts(30, (), [720.0, 720.0, 6000.0]))], NOW)
    (row,) = next(one for one in study.ops if one.op == 30).times

    assert (row.part, row.ratio, row.odd, row.runs, row.not_used) == (Part.CYCLE, 1.5, 1, 2, None)
    assert (row.per_run.median, row.per_piece.median) == (720.0, 180.0)
    weight = weigh_times(2, find_age(row.batch, NOW))
    assert study.told is not None
    assert study.told.paces == (
        ExpectedPace(
            op=30,
            part="cycle",
            ratio=pytest.approx((PLAN_RUNS + 1.5 * weight) / (PLAN_RUNS + weight)),
            weight=PLAN_RUNS + weight,
        ),
    )


def test_a_time_that_nothing_states_is_shown_and_not_planned_by() -> None:
    study = study_earlier(
        part(), [batch_facts("B0001", 10, op_facts(30, times=(TimedPart(1, RunPart.AFTER, 4, 90.0),)))], NOW
    )
    (row,) = next(one for one in study.ops if one.op == 30).times

    assert (row.ratio, row.weight, row.per_run.median) == (None, 0.0, 90.0)
    assert study.told is None or not study.told.paces


def test_a_run_that_no_piece_came_out_of_took_its_time_all_the_same() -> None:
    none_left = op_facts(30, times=(TimedPart(1, RunPart.CYCLE, 0, 720.0),))
    study = study_earlier(part(), [batch_facts("B0001", 10, none_left)], NOW)
    (row,) = next(one for one in study.ops if one.op == 30).times
    assert (row.per_run.median, row.per_piece.median) == (720.0, 720.0)


def test_a_clock_ahead_makes_no_batch_younger_than_now() -> None:
    assert find_age(batch_facts("B0001", -3), NOW) == 0.0


def test_the_opened_batch_is_forecast_and_paced_by_what_was_told() -> None:
    known = told(op_facts(30, [(3, 4)] * 6, [720.0] * 4))
    now = bench_now()
    batch = build_fresh_batch(part(), 8, 12, now, earlier=known)

    assert batch.earlier == known
    assert batch.checklist == part(), "the checklist on record is the file's"
    alone = compute_outlook(collect_forecast_inputs(replace(batch, earlier=None), now), 0.9)
    beside = compute_outlook(collect_forecast_inputs(batch, now), 0.9)
    assert beside.forecast.probability < alone.forecast.probability
    belief = collect_forecast_inputs(batch, now).beliefs[part().route.index(30)]
    (said,) = known.yields
    assert belief.first.mean == pytest.approx(said.good)
    assert belief.first.good + belief.first.bad == pytest.approx(said.weight)
    assert estimate_time_factors(batch, ALWAYS)[30].cycle == known.paces[0].ratio
    assert estimate_time_factors(replace(batch, earlier=None), ALWAYS) == {}


def test_the_chance_before_the_start_is_that_of_the_opened_batch() -> None:
    known = told(op_facts(30, [(3, 4)] * 6))
    now = bench_now()
    before = plan_start(expect(part(), known), 8, 0.9, pieces=12).quantity
    batch = build_fresh_batch(part(), 8, before.pieces, now, earlier=known)

    assert compute_outlook(collect_forecast_inputs(batch, now), 0.9).forecast.probability == pytest.approx(
        before.probability, abs=1e-6
    )


def test_shares_of_rework_are_scaled_with_what_was_seen() -> None:
    """The test part sends rejects of op 30 to touch up; with a share stated, it follows the share that was seen."""
    bare = '{ code = "bare", text = "Bare place in the coat", to = "rework", rework = "touch up" },'
    shared = (f"caused_at = 30 }},\n  {bare}", f"caused_at = 30 }},\n  {bare.replace(' },', ', share = 0.04 },')}")
    checklist = edited(YIELD, shared)
    known = EarlierTold(
        batches=("B1",), yields=(ExpectedYield(op=30, good=0.85, reworked=0.08, weight=50.0),), paces=()
    )
    at = checklist.route.index(30)

    assert list_operation_yields(checklist)[at].rework == pytest.approx(0.04)
    found = list_operation_yields(expect(checklist, known))[at]
    assert (found.good, found.rework) == (pytest.approx(0.85), pytest.approx(0.08))


def test_the_share_of_rework_that_the_checklist_states_is_weighed_with_what_was_seen() -> None:
    bare = '{ code = "bare", text = "Bare place in the coat", to = "rework", rework = "touch up" },'
    checklist = edited(YIELD, (f"caused_at = 30 }},\n  {bare}", f"caused_at = 30 }},\n  {bare[:-3]}, share = 0.04 }},"))
    seen = op_facts(30, [(3, 4)] * 4, reworked=2)
    one = next(one for one in study_earlier(checklist, [batch_facts("B1", 40, seen)], NOW).ops if one.op == 30)
    (row,) = one.yields
    said = BatchYield(0.75, row.share.worth, row.days, reworked=2 / 16)
    assert one.found == combine_yields(0.9, 30, 0.04, [said]) != combine_yields(0.9, 30, 0.0, [said])


def test_a_yield_of_rework_is_shown_and_not_planned_by() -> None:
    checklist = edited(*BY_HAND)
    operation = checklist.ops[42]
    named = {"op": 42, "title": operation.title, "station": operation.station, "cycle": operation.cycle}
    seen = replace(op_facts(30, [(3, 4)] * 4), **named)  # type: ignore[arg-type]
    study = study_earlier(checklist, [batch_facts("B1", 40, seen)], NOW)
    one = next(one for one in study.ops if one.op == 42)
    assert ([row.not_used for row in one.yields], one.found, study.told) == ([NotUsed.REWORK], None, None)


def test_facts_of_a_batch_count_each_piece_once_and_leave_late_times_out() -> None:
    bench = open_bench()
    load = bench.form(10)
    bench.through(load, 10)
    facts = gather_facts(bench.state, ALWAYS)

    assert facts.ops[10].loads == (LoadCount(4, 4),)
    assert {one.part for one in facts.ops[10].times} == {RunPart.CYCLE, RunPart.AFTER}
    assert (facts.closed, facts.finished, facts.last) == (False, 0, bench.state.last.at)
