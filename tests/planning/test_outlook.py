"""Will the order be filled: the batch's counts against yields computed with scipy."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import betabinom

from floor.batch.counting.commands import Dispose, MarkedPieces
from floor.batch.lifecycle.commands import SetPiecesAside
from floor.batch.trials.commands import ChooseSetting, EnterTrialResult, PlanTrial, TakeTrialPieces
from floor.batch.trials.pieces import count_pieces_to_use, say_used_as_tests
from floor.checklist.expected_yields import estimate_fill_chance
from floor.figures.yields import YieldCounts
from floor.planning.batch_forecast import (
    Outlook,
    collect_forecast_inputs,
    compute_outlook,
    count_work_in_process,
    count_yields,
    describe_outlook,
)
from floor.planning.durations import TimeFactors
from tests.batch.factory import Bench, open_bench
from tests.planning.planned import potted


def reference(order: int, entering: int, betas: list[tuple[float, float]]) -> float:
    """P(good ≥ order) by passing the distribution through one beta-binomial after another (scipy)."""
    row = np.zeros(entering + 1)
    row[entering] = 1
    for good, bad in betas:
        passed = np.zeros(entering + 1)
        for pieces, chance in enumerate(row):
            if chance:
                passed[: pieces + 1] += chance * betabinom.pmf(np.arange(pieces + 1), pieces, good, bad)
        row = passed
    return float(row[order:].sum())


def test_a_fresh_batch_against_scipy() -> None:
    """The checklist's 98 % and 97 % weigh 30 pieces each; the other operations lose nothing."""
    found = look(open_bench(potted, start=26, order=24))

    assert found.forecast.probability == pytest.approx(reference(24, 26, [(29.4, 0.6), (29.1, 0.9)]), abs=1e-9)


def test_a_piece_takes_the_time_that_the_shop_took() -> None:
    bench = open_bench(potted, start=26, order=24)
    first, *others = collect_forecast_inputs(bench.state, bench.clock()).minutes

    slower = collect_forecast_inputs(bench.state, bench.clock(), {10: TimeFactors(hands=2.0, cycle=2.0)}).minutes

    assert slower == (pytest.approx(2 * first), *others)


def test_counts_move_the_yields() -> None:
    """13 counted at op 10, 2 of them scrap: its yield is Beta(29.4 + 11, 0.6 + 2)."""
    bench = open_bench(potted, start=13, order=11)
    load = bench.form(10)
    bench.through(load, 10, marks=(MarkedPieces("chatter", count=2),))

    found = look(bench)

    assert count_yields(bench.state)[0] == YieldCounts(good=11, scrap=2)
    assert (found.beliefs[0].first.good, found.beliefs[0].first.bad) == pytest.approx((40.4, 2.6))
    assert found.forecast.probability == pytest.approx(reference(11, 11, [(29.1, 0.9)]), abs=1e-9)


def test_pieces_started_now_cost_a_set_up_too_where_none_stands() -> None:
    bench = open_bench(potted, start=24, order=24)
    known = replace(collect_forecast_inputs(bench.state, bench.clock()), setup=90.0)
    hours = []
    for stands in (True, False):
        more = compute_outlook(replace(known, stands=stands), 0.9).top_up
        assert more is not None
        hours.append(more.hours)
    assert hours[1] - hours[0] == pytest.approx(1.5)


def test_too_few_pieces_ask_for_more_and_name_what_stands() -> None:
    bench = open_bench(potted, start=24, order=24)
    before = look(bench)
    assert before.top_up is not None
    assert not before.stands
    more = before.top_up.pieces
    assert reference(24, 24 + more, [(29.4, 0.6), (29.1, 0.9)]) >= 0.9
    assert reference(24, 24 + more - 1, [(29.4, 0.6), (29.1, 0.9)]) < 0.9

    bench.through(bench.form(10), 10)
    after = look(bench)

    assert after.stands
    assert after.top_up is not None
    assert after.top_up.hours > 0
    assert "set-up stands" in describe_outlook("B0001", after, 10)
    assert "new set-up" in describe_outlook("B0001", before, 10)


def test_enough_pieces_ask_for_none() -> None:
    found = look(open_bench(potted, start=60, order=40))
    assert found.top_up is None
    assert "good pieces expected" in describe_outlook("B0001", found, 10)


def look(bench: Bench) -> Outlook:
    return compute_outlook(collect_forecast_inputs(bench.state, bench.clock()), 0.9)


def test_the_forecast_keeps_back_what_trials_are_to_use_up_until_a_choice() -> None:
    bench = open_bench(potted, start=60, order=48)
    before = look(bench).forecast.probability
    bench.say(PlanTrial("which resin?", (("resin", ("A", "B", "C")),), "words", "surface", 3, op=20))
    planned = look(bench).forecast.probability
    assert planned < before
    bench.say(TakeTrialPieces(1, 1, 3))
    bench.say(TakeTrialPieces(1, 2, 3))
    bench.say(TakeTrialPieces(1, 3, 3))
    assert look(bench).forecast.probability == pytest.approx(planned, abs=0.04), "used or kept back, they are missing"
    bench.say(EnterTrialResult(1, 1, seen="even"))
    bench.say(ChooseSetting(1, 1, "even"))
    bench.say(PlanTrial("which cloth?", (("cloth", ("soft", "coarse")),), "words", "surface", 4, op=20))
    bench.say(EnterTrialResult(2, 1, seen="even"))
    kept = look(bench).forecast.probability
    bench.say(ChooseSetting(2, 1, "even"))
    assert look(bench).forecast.probability > kept, "chosen, nothing more is used up"


def test_what_the_order_said_is_used_up_is_kept_back_from_the_start() -> None:
    """One chance before and after the start: as the order form states it, and by scipy with 12 taken at the end."""
    bench = open_bench(potted, start=38, order=24, tests={30: 12})
    found = look(bench).forecast.probability
    assert found == pytest.approx(estimate_fill_chance(bench.state.checklist, 24, 38, {30: 12}), abs=1e-9)
    assert found == pytest.approx(reference(36, 38, [(29.4, 0.6), (29.1, 0.9)]), abs=1e-9)
    assert look(open_bench(potted, start=38, order=24)).forecast.probability > 0.999


def test_pieces_kept_back_by_the_order_are_used_in_a_trial_or_scrapped_after_a_good_count() -> None:
    bench = open_bench(potted, start=39, order=24, tests={20: 12, 10: 3})
    assert count_pieces_to_use(bench.state) == {20: 12, 10: 3}
    bench.say(PlanTrial("which resin?", (("resin", ("A", "B")),), "words", "surface", 3, op=20))
    assert count_pieces_to_use(bench.state) == {20: 12, 10: 3}, "a trial of it uses the same pieces"
    bench.say(TakeTrialPieces(1, 1, 3))
    assert count_pieces_to_use(bench.state) == {20: 9, 10: 3}
    bench.say(SetPiecesAside("scrap", "dropped", op=10, count=1))
    assert count_pieces_to_use(bench.state) == {20: 9, 10: 3}, "it came out good of no operation"
    load = bench.form(10)
    bench.through(load, 10, marks=(MarkedPieces("chatter", count=1),))
    assert count_pieces_to_use(bench.state) == {20: 9, 10: 3}, "scrap of the run was not good"
    bench.say(SetPiecesAside("scrap", "torn in the pull test", load=load, count=2))
    assert count_pieces_to_use(bench.state) == {20: 9, 10: 1}
    bench.say(PlanTrial("which cloth?", (("cloth", ("soft", "coarse")),), "words", "surface", 8, op=20))
    assert count_pieces_to_use(bench.state) == {20: 19, 10: 1}, "trials want more than the order said: 16 and 3"


def test_that_scrap_of_good_pieces_counts_as_tests_is_said_while_any_is_wanted() -> None:
    """Nothing on record tells a pull test from a piece that fell."""
    bench = open_bench(potted, start=38, order=24, tests={10: 2})
    load = bench.form(10)
    assert say_used_as_tests(bench.state, bench.state.present(bench.state.loads[load])) == "", "none is good yet"
    bench.through(load, 10)
    there = bench.state.present(bench.state.loads[load])
    assert say_used_as_tests(bench.state, there) == (
        "Scrapped good pieces count as used in tests, even by accident (2 still wanted of op 10)."
    )
    bench.say(SetPiecesAside("scrap", "torn in the pull test", load=load, count=2))
    assert say_used_as_tests(bench.state, bench.state.present(bench.state.loads[load])) == ""
    assert say_used_as_tests(open_bench(potted).state, (1,)) == ""


def total(bench: Bench) -> int:
    hands, through = count_work_in_process(bench.state)
    return sum(one.waiting + one.rework for one in hands) + through


def test_the_pieces_in_hand_are_those_not_scrapped_wherever_they_are() -> None:
    bench = open_bench()
    load = bench.form(10)
    bench.until(load, "release", marks=(MarkedPieces("deep", ("A1",)),))
    assert total(bench) == 7

    bench.through(load, 10, 20)
    bench.clock.forward(12 * 3600)
    marks = (MarkedPieces("bare", ("A2",)), MarkedPieces("soft", ("B1",)))
    bench.until(load, "release", marks=marks)
    assert [(one.waiting, one.rework) for one in count_work_in_process(bench.state)[0]] == [
        (4, 0),
        (0, 0),
        (0, 1),
        (1, 0),
        (0, 0),
    ]

    bench.through(load, 30)
    assert [(one.waiting, one.rework) for one in count_work_in_process(bench.state)[0]] == [
        (4, 0),
        (0, 0),
        (0, 1),
        (1, 0),
        (0, 0),
    ]
    assert count_yields(bench.state)[2] == YieldCounts(good=1, rework=1)

    bench.until(load, "release")
    assert count_work_in_process(bench.state)[0][2].rework == 1, "A2 is coated again and still to be cut free"
    bench.through(load, 20)
    bench.clock.forward(12 * 3600)
    bench.until(load, "release")
    assert [(one.waiting, one.rework) for one in count_work_in_process(bench.state)[0]] == [
        (4, 0),
        (0, 0),
        (0, 0),
        (2, 0),
        (0, 0),
    ], "A2 is through its rework with the count that found it good, before its release"


def test_a_reworked_piece_is_saved_and_a_held_one_counts_when_it_is_decided() -> None:
    bench = open_bench()
    load = bench.form(10)
    bench.through(load, 10, 20)
    bench.clock.forward(12 * 3600)
    bench.through(load, 30, marks=(MarkedPieces("bare", ("A2",)), MarkedPieces("soft", ("B1",))))
    bench.through(load, 20)
    bench.clock.forward(12 * 3600)
    bench.through(load, 30)
    assert count_yields(bench.state)[2] == YieldCounts(good=2, rework=1, saved=1)

    held = next(iter(bench.state.held()))
    bench.say(Dispose((held,), "scrap", why="soft to the core"), by="LL")

    assert count_yields(bench.state)[2] == YieldCounts(good=2, rework=1, scrap=1, saved=1)
    assert total(bench) == 7


def test_a_held_piece_is_not_counted_as_good_until_somebody_decides() -> None:
    bench = open_bench(start=4, order=4)
    load = bench.form(10)
    bench.through(load, 10)
    everything = look(bench).forecast
    bench.say(SetPiecesAside("hold", "scratched", load=load, positions=("A1",)))
    held = look(bench).forecast
    assert total(bench) == 3
    assert held.probability == 0
    assert held.expected == pytest.approx(everything.expected * 3 / 4)
