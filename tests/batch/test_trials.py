"""Trials: pieces used and brought back, results, the choice, what is refused, and that no piece is lost."""

from __future__ import annotations

import contextlib
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from floor.batch.command import Refused
from floor.batch.corrections.commands import StrikeOut
from floor.batch.counting.holds import list_held_pieces
from floor.batch.counting.losses import count_losses
from floor.batch.counting.op_yields import list_op_outcomes
from floor.batch.events import TrialPiecesTaken, make_drafts
from floor.batch.fold import advance, fold
from floor.batch.gates.decide_out_of_limits import DecideBefore, SettleOut
from floor.batch.lifecycle.commands import CloseBatch, SetPiecesAside
from floor.batch.trial import Response
from floor.batch.trials.commands import (
    MOST_VALUES,
    BringTrialPiecesBack,
    ChooseSetting,
    EnterTrialResult,
    PlanTrial,
    TakeTrialPieces,
)
from floor.batch.trials.compare import find_levels, study_trial
from floor.batch.trials.pieces import count_pieces_to_try, list_pieces_in_trial
from floor.batch.trials.typed_numbers import read_numbers
from tests.batch.factory import Bench, conserved, decide_out, entries_of, open_bench
from tests.batch.test_out_of_limits import DEPTH, baking, measured

INSERT = (("insert", ("A", "B", "C")),)


def plan(response: Response = "number", factors=INSERT, each: int = 2, **more) -> PlanTrial:  # type: ignore[no-untyped-def]
    unit = "mm" if response == "number" else ""
    return PlanTrial(
        "which insert leaves the least burr?", factors, response, "burr", each, **{"unit": unit, "op": 20, **more}
    )


@pytest.fixture
def bench() -> Bench:
    bench = open_bench(start=12, order=4)
    bench.say(plan())
    return bench


# --- pieces ----------------------------------------------------------------------------------------------------------


def test_pieces_of_a_trial_are_started_and_neither_good_nor_scrap(bench: Bench) -> None:
    bench.say(TakeTrialPieces(1, 2, 3))
    assert bench.where() == {"waiting": 9, "trial": 3}
    assert bench.state.started == 12
    conserved(bench.state)
    bench.through(bench.form(10))
    (made, *_) = list_op_outcomes(bench.state)
    assert (made.produced, made.good, made.scrap) == (4, 4, 0), "only the run's own pieces are in its yield"


def test_pieces_are_taken_off_a_load_and_the_last_ones_free_its_carrier(bench: Bench) -> None:
    load = bench.form(10)
    bench.say(TakeTrialPieces(1, 1, 1, load=load))
    assert len(bench.state.present(bench.state.loads[load])) == 3
    bench.say(TakeTrialPieces(1, 1, 3, load=load))
    assert bench.state.loads[load].dissolved is not None
    conserved(bench.state)


def test_no_piece_leaves_a_running_cycle_empty_or_a_load_between_count_and_release(bench: Bench) -> None:
    load = bench.form(10)
    bench.until(load, "end", wait=False)
    assert bench.refused(TakeTrialPieces(1, 1, 4, load=load)).why == "not now"
    bench.say(TakeTrialPieces(1, 1, 1, load=load))
    bench.until(load, "release")
    assert bench.refused(TakeTrialPieces(1, 1, 1, load=load)).why == "not now"


@pytest.mark.parametrize(("code", "to"), [("deep", "scrap"), ("", "hold")])
def test_no_trial_takes_a_piece_that_is_decided_on_or_may_be_out_of_limits(bench: Bench, code: str, to: str) -> None:
    load, seq = measured(bench, 3.0, 3.2)
    refused = bench.refused(TakeTrialPieces(1, 1, 1, load=load))
    assert (refused.why, refused.field) == ("not now", "count")
    open_ = "may be out of limits, still to be decided"
    assert refused.wrong == f"1 piece to use, 0 of these 4 are free: A1, A2, B1, B2: {open_}"
    assert refused.remedy.startswith("decide on the reading first")
    bench.say(decide_out(bench.state, seq, code, positions=("B2",)))
    refused = bench.refused(TakeTrialPieces(1, 1, 3, load=load))
    assert refused.wrong == f"3 pieces to use, 1 of these 4 are free: B2: decided as {to}; A2, B1: {open_}"
    bench.say(DecideBefore(seq, 0, "looked at each"), by="LL")
    refused = bench.refused(TakeTrialPieces(1, 1, 4, load=load))
    assert refused.wrong == f"4 pieces to use, 3 of these 4 are free: B2: decided as {to}"
    assert refused.remedy == "leave those to the count; or enter fewer, or take them from elsewhere"

    assert bench.say(TakeTrialPieces(1, 1, 2, load=load))[0].body["pieces"] == [2, 3], "the last that can go"
    bench.say(BringTrialPiecesBack(1, 2, "not used"), by="LL")
    bench.through(load)
    assert bench.state.places[4].where == to
    conserved(bench.state)


def test_no_trial_takes_what_was_in_a_station_that_was_read_too_high() -> None:
    bench, tray = baking()
    bench.say(plan(op=40))
    seq = bench.prove(tray, DEPTH, value=171).seq
    assert "may be out of limits" in bench.refused(TakeTrialPieces(1, 1, 1, load=tray)).wrong
    bench.say(SettleOut(seq, "use as is", "the stated limit of the paint is 180"), by="LL")
    bench.say(TakeTrialPieces(1, 1, 1, load=tray))


@pytest.mark.parametrize(("code", "to"), [("deep", "scrap"), ("", "hold")])
def test_a_piece_in_a_trial_that_turns_out_to_be_out_of_limits_leaves_it_as_decided(
    bench: Bench, code: str, to: str
) -> None:
    """The decision on another piece, after which it was taken, is struck out, as that was the wrong one."""
    load, seq = measured(bench, 3.0, 3.2)
    wrong = bench.say(decide_out(bench.state, seq, code, positions=("A1",)))[0].seq
    before = bench.say(DecideBefore(seq, 0, "looked at each"), by="LL")[0].seq
    bench.say(TakeTrialPieces(1, 1, 1, load=load))
    assert bench.state.places[4].where == "trial"
    bench.say(StrikeOut(before, "named the wrong piece"), by="LL")
    bench.say(StrikeOut(wrong, "named the wrong piece"), by="LL")

    bench.say(decide_out(bench.state, seq, code, positions=("B2",)))

    assert bench.state.places[4].where == to
    assert bench.refused(BringTrialPiecesBack(1, 1, "not used"), by="LL").why == "count"
    assert {loss.to for loss in count_losses(bench.state)} == {to}
    assert bench.state == fold(bench.state.entries, checklist=bench.state.checklist)
    conserved(bench.state)


def test_a_piece_that_an_older_record_took_into_a_trial_though_it_was_scrap_comes_back_on_hold(bench: Bench) -> None:
    """Earlier versions took any piece of the load; replayed, such a record is as it was."""
    load, seq = measured(bench, 3.0, 3.2)
    bench.say(decide_out(bench.state, seq, "deep", positions=("B2",)))
    bench.say(DecideBefore(seq, 0, "looked at each"), by="LL")
    old = make_drafts(TrialPiecesTaken(trial=1, setting=1, pieces=(3, 4), load=load))
    bench.state = advance(bench.state, entries_of(old, bench.clock(), "AA", bench.state.entries))
    assert [bench.state.places[piece].where for piece in (3, 4)] == ["trial", "trial"]

    bench.say(BringTrialPiecesBack(1, 2, "not used"), by="LL")

    assert [bench.state.places[piece].where for piece in (3, 4)] != ["trial", "trial"]
    (held,) = list_held_pieces(bench.state)
    assert held.piece == 4
    assert held.reason.startswith("decided as scrap before the trial: deep")
    assert list_pieces_in_trial(bench.state, bench.state.trials[1]) == []
    assert bench.state == fold(bench.state.entries, checklist=bench.state.checklist)
    conserved(bench.state)


def test_of_pieces_decided_together_one_leaves_its_trial_and_the_other_stays_until_the_count(bench: Bench) -> None:
    load, seq = measured(bench, 3.3, 3.2)
    wrong = bench.say(decide_out(bench.state, seq, "deep", positions=("A1", "A2")))[0].seq
    before = bench.say(DecideBefore(seq, 0, "looked at each"), by="LL")[0].seq
    bench.say(TakeTrialPieces(1, 1, 1, load=load))
    bench.say(StrikeOut(before, "named the wrong pieces"), by="LL")
    bench.say(StrikeOut(wrong, "named the wrong pieces"), by="LL")

    told, aside = bench.say(decide_out(bench.state, seq, "deep", positions=("A1", "B2")))

    assert [bench.state.places[piece].where for piece in (1, 4)] == ["load", "scrap"]
    assert [(piece, mark.to) for piece, mark in bench.run_of(load).decided.items()] == [(1, "scrap")]
    for one in (aside, told):
        bench.say(StrikeOut(one.seq, "named the wrong pieces"), by="LL")
    assert bench.state.places[4].where == "trial"
    conserved(bench.state)


def test_pieces_come_back_where_they_left_and_only_by_a_lead(bench: Bench) -> None:
    load = bench.form(10)
    bench.say(TakeTrialPieces(1, 1, 1, load=load))
    bench.say(TakeTrialPieces(1, 2, 2, op=10))
    back = BringTrialPiecesBack(1, 3, "nothing was done to them")
    assert bench.refused(back).why == "authority"
    assert bench.refused(BringTrialPiecesBack(1, 3, ""), by="LL").why == "input"
    assert bench.refused(BringTrialPiecesBack(1, 4, "all"), by="LL").why == "count"
    bench.say(back, by="LL")
    assert bench.where() == {"waiting": 8, "load": 4}, "one rides on its load again, two wait for op 10"
    assert bench.state.trials[1].used.keys() == {4, 11, 12}, "what was used stays known"
    conserved(bench.state)


def test_a_piece_that_comes_back_and_is_used_again_is_in_the_later_trial_only(bench: Bench) -> None:
    bench.say(plan())
    bench.say(TakeTrialPieces(2, 1, 12))
    bench.say(BringTrialPiecesBack(2, 12, "as new"), by="LL")
    bench.say(TakeTrialPieces(1, 1, 2))
    assert list_pieces_in_trial(bench.state, bench.state.trials[2]) == []
    assert len(list_pieces_in_trial(bench.state, bench.state.trials[1])) == 2
    assert bench.refused(BringTrialPiecesBack(2, 1, "as new"), by="LL").why == "count"


def test_striking_out_gives_the_pieces_back_where_they_were(bench: Bench) -> None:
    load = bench.form(10)
    before = dict(bench.state.places)
    taken = bench.say(TakeTrialPieces(1, 1, 2, load=load))[0].seq
    planned = bench.state.entries[2].seq
    refused = bench.refused(StrikeOut(planned, "wrong question"))
    assert refused.why == "later entries"
    assert f"strike out entry {taken} first" in refused.remedy
    bench.say(StrikeOut(taken, "typed for the wrong load"))
    assert bench.state.places == before
    bench.say(StrikeOut(planned, "wrong question"))
    assert bench.state.trials == {}
    conserved(bench.state)


def test_a_batch_closes_with_pieces_in_trials() -> None:
    bench = open_bench(start=6, order=2)
    bench.say(plan())
    bench.say(TakeTrialPieces(1, 1, 2))
    bench.say(SetPiecesAside("scrap", "dropped", op=10, count=4))
    assert bench.say(CloseBatch("nothing left"), by="LL")[0].body["finished"] == 0


def test_what_is_still_to_be_used_is_known_until_a_choice(bench: Bench) -> None:
    assert count_pieces_to_try(bench.state) == {20: 6}
    bench.say(TakeTrialPieces(1, 1, 2))
    assert count_pieces_to_try(bench.state) == {20: 4}
    bench.say(plan(op=0, each=0))
    bench.say(EnterTrialResult(1, 1, (0.1,)))
    bench.say(ChooseSetting(1, 1, "no burr"))
    assert +count_pieces_to_try(bench.state) == {}


class Player:
    """Anybody who enters anything about trials, in any order."""

    def __init__(self, seed: int) -> None:
        self.chance = random.Random(seed)
        self.bench = open_bench(start=12, order=4)

    def pick(self):  # type: ignore[no-untyped-def]
        pick = self.chance.choice
        trial, setting, count = pick([1, 2, 3]), pick([0, 1, 2, 3]), pick([1, 2, 5])
        return pick([
            lambda: plan(pick(["number", "good or bad", "words"]), op=pick([0, 10, 30]), each=count),
            lambda: TakeTrialPieces(trial, setting, count, op=pick([None, 10, 20])),
            lambda: TakeTrialPieces(trial, setting, count, load=pick([1, 2])),
            lambda: BringTrialPiecesBack(trial, count, "as new", pick([0, setting])),
            lambda: EnterTrialResult(trial, setting, (0.5, 0.6), good=count, seen="even"),
            lambda: ChooseSetting(trial, setting, "the best one"),
            lambda: StrikeOut(pick(range(3, self.bench.state.seq + 2)), "typed wrong"),
            lambda: SetPiecesAside(pick(["hold", "scrap"]), "dropped", op=10, count=1),
        ])()  # fmt: skip

    def play(self, acts: int) -> None:
        for _ in range(acts):
            if self.chance.random() < 0.15 and self.bench.state.waiting(10):
                with contextlib.suppress(AssertionError, Refused):
                    self.bench.through(self.bench.form(10))
            try:
                self.bench.say(self.pick(), by=self.chance.choice(["AA", "LL"]))
            except Refused:
                continue
            conserved(self.bench.state)


@given(st.integers(0, 10**9))
def test_whatever_is_entered_no_piece_is_lost_and_every_record_folds_again(seed: int) -> None:
    """Conservation, and: without all entries of trials each piece is where it would have been."""
    player = Player(seed)
    player.play(25)
    batch = player.bench.state
    assert fold(batch.entries, checklist=batch.checklist) == batch
    assert sum(len(list_pieces_in_trial(batch, one)) for one in batch.trials.values()) == batch.total("trial")


# --- planning ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("command", "field"), [
    (PlanTrial("?", INSERT, "number", "burr", 2, "mm"), "question"),
    (plan(factors=()), "settings"),
    (plan(factors=(*INSERT, *INSERT, *INSERT)), "settings"),
    (plan(factors=(("", ("A", "B")),)), "settings"),
    (plan(factors=(("insert", ("A",)),)), "settings"),
    (plan(factors=(("insert", ("A", " ")),)), "settings"),
    (plan(factors=(("insert", ("A", "a")),)), "settings"),
    (plan(factors=(("insert", tuple("ABCDEFGHIJKLM")),)), "settings"),
    (plan(factors=(("insert", tuple("ABCD")), ("oven", tuple("1234")))), "settings"),
    (plan(factors=(*INSERT, ("oven", ("60",)))), "settings2"),
    (plan(factors=(*INSERT, ("", ("60", "80")))), "settings2"),
    (plan(unit=" "), "characteristic"),
    (plan(op=25), "op"),
    (plan(each=-1), "each"),
    (plan(each="three"), "each"),
    (plan(worth=0.0), "worth"),
    (plan(worth=float("nan")), "worth"),
    (plan("good or bad", worth=1.2), "worth"),
    (plan("smell"), "response"),
    (PlanTrial("which insert?", INSERT, "number", " ", 2, "mm"), "characteristic"),
])  # fmt: skip
def test_a_plan_that_cannot_be_is_refused_at_its_field(command: PlanTrial, field: str) -> None:
    assert open_bench().refused(command).field == field


def test_two_things_varied_are_tried_each_with_each() -> None:
    bench = open_bench()
    bench.say(plan(factors=(("insert", ("A", "B")), ("oven", ("60", "80")))))
    assert bench.state.trials[1].settings == ("A, 60", "A, 80", "B, 60", "B, 80")
    assert find_levels(bench.state.trials[1]) is None


@pytest.mark.parametrize(("settings", "levels"), [
    (("6000 rpm", "8000 rpm", "10000 rpm"), [6000.0, 8000.0, 10000.0]),
    (("0,5 mm", "0.7 mm"), [0.5, 0.7]),
    (("-5", "+5"), [-5.0, 5.0]),
    (("60 degC", "140 degF"), None),
    (("A", "B"), None),
    (("60", "high"), None),
])  # fmt: skip
def test_settings_that_are_numbers_in_one_unit_have_an_order(settings: tuple[str, ...], levels: list[float]) -> None:
    bench = open_bench()
    bench.say(plan(factors=(("speed", settings),)))
    assert find_levels(bench.state.trials[1]) == levels


# --- results -------------------------------------------------------------------------------------------------------


def test_results_of_a_setting_add_up_and_a_struck_one_is_gone(bench: Bench) -> None:
    bench.say(EnterTrialResult(1, 1, (0.10, 0.12)))
    wrong = bench.say(EnterTrialResult(1, 1, (12.0,)))[0].seq
    bench.say(EnterTrialResult(1, 2, (0.30, 0.33), seen="two chips"))
    bench.say(StrikeOut(wrong, "slipped"))
    trial = bench.state.trials[1]
    assert trial.list_values(1) == [0.10, 0.12]
    assert trial.list_seen(2) == ["two chips"]
    found = study_trial(trial).numbers
    assert found is not None
    assert [(one.first, one.second) for one in found.differences] == [(0, 1)]


def test_good_and_bad_are_counted_over_all_results() -> None:
    bench = open_bench()
    bench.say(plan("good or bad"))
    bench.say(EnterTrialResult(1, 1, good=2))
    bench.say(EnterTrialResult(1, 1, good=1, bad=3))
    assert bench.state.trials[1].count_good(1) == (3, 6)
    shares = study_trial(bench.state.trials[1]).shares
    assert shares is not None
    assert shares.differences == ()


@pytest.mark.parametrize(("response", "command", "field"), [
    ("number", EnterTrialResult(1, 1), "values"),
    ("number", EnterTrialResult(1, 1, (float("nan"),)), "values"),
    ("number", EnterTrialResult(1, 1, (2e9,)), "values"),
    ("number", EnterTrialResult(1, 1, (1.0,) * (MOST_VALUES + 1)), "values"),
    ("number", EnterTrialResult(1, 0, (1.0,)), "setting"),
    ("number", EnterTrialResult(1, 4, (1.0,)), ""),
    ("number", EnterTrialResult(2, 1, (1.0,)), ""),
    ("good or bad", EnterTrialResult(1, 1), "good"),
    ("good or bad", EnterTrialResult(1, 1, good=-1, bad=3), "good"),
    ("good or bad", EnterTrialResult(1, 1, good=1, bad="two"), "bad"),  # type: ignore[arg-type]
    ("words", EnterTrialResult(1, 1), "seen"),
])  # fmt: skip
def test_a_result_that_cannot_be_is_refused_at_its_field(
    response: Response, command: EnterTrialResult, field: str
) -> None:
    bench = open_bench()
    bench.say(plan(response))
    assert bench.refused(command).field == field


def test_a_choice_needs_a_result_and_a_reason_and_the_last_one_stands(bench: Bench) -> None:
    assert bench.refused(ChooseSetting(1, 1, "a feeling")).why == "not now"
    bench.say(EnterTrialResult(1, 1, (0.1,)))
    assert bench.refused(ChooseSetting(1, 1, " ")).field == "why"
    bench.say(ChooseSetting(1, 1, "it was there", "op 20: insert A"))
    bench.say(ChooseSetting(1, 0, "none is worth its price"), by="BB")
    choice = bench.state.trials[1].choice
    assert choice is not None
    assert (choice.setting, choice.by, choice.offer) == (0, "BB", "")


# --- numbers as typed ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("text", "numbers"), [
    ("3.1 3.2 3.15", (3.1, 3.2, 3.15)),
    ("3.1, 3.2,3.15", (3.1, 3.2, 3.15)),
    ("3,1 3,2 3", (3.1, 3.2, 3.0)),
    ("3,1; 3,2", (3.1, 3.2)),
    ("3,11, 3,12, 3,15", (3.11, 3.12, 3.15)),
    ("3; 1", (3.0, 1.0)),
    ("3, 1", (3.0, 1.0)),
    ("-.5 +2e-3", (-0.5, 0.002)),
    ("3.1 mm 3.2mm mm", (3.1, 3.2)),
    ("7", (7.0,)),
    ("3.1\t3.2\n3.3", (3.1, 3.2, 3.3)),
])  # fmt: skip
def test_numbers_are_read_as_they_are_typed_and_pasted(text: str, numbers: tuple[float, ...]) -> None:
    assert read_numbers(text, "mm", 10, "values") == numbers


@pytest.mark.parametrize(("text", "said"), [
    ("3,1", "3,1 may be one number or several. Write 3.1, or 3 1."),
    ("3,1,2 4", "3,1,2 may be one number or several. Write 3 1 2."),
    ("3.01 3,02; 3.04", "3,02 has a comma, and other values a point. Write all with points, blanks between."),
    ("", "No value. Type one or more, with blanks between."),
    ("3.1 inch", "Inch is not a number. Write numbers with blanks between."),
    ("1e10", "1e10 is too large. Enter at most 1e+09."),
    ("1 2 3 4 5 6 7 8 9 10 11", "11 values at once. Enter at most 10."),
    ("nan", "Nan is not a number. Write numbers with blanks between."),
])  # fmt: skip
def test_what_can_be_read_in_two_ways_or_none_is_refused(text: str, said: str) -> None:
    with pytest.raises(Refused) as refused:
        read_numbers(text, "mm", 10, "values")
    assert str(refused.value) == said
    assert refused.value.field == "values"


@given(st.text(max_size=60))
def test_any_text_is_numbers_or_refused(text: str) -> None:
    with contextlib.suppress(Refused):
        assert read_numbers(text, "mm", 500, "values")
