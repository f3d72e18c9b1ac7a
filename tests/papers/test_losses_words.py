"""Losses in words: every table of a page sums to the same, and what is held is on a line of its own."""

from __future__ import annotations

import re
from datetime import timedelta

from floor.batch.counting.commands import Dispose, HoldBack, MarkedPieces
from floor.batch.counting.losses import count_held, count_losses
from floor.batch.gates.decide_out_of_limits import SettleOut
from floor.batch.lifecycle.commands import SetPiecesAside
from floor.batch.quality.loss_patterns import study_losses
from floor.batch.quality.time_elements import compute_time_elements
from floor.figures.calendar import Calendar
from floor.figures.key_figures import Input
from floor.papers.closeout import write_close_out
from floor.papers.losses import list_cause_lines, list_path_lines, list_reason_lines
from tests.batch.factory import Bench, edited, open_bench, part
from tests.batch.test_counting import at_count
from tests.batch.test_drifts import LONG_LIFE, PALLETS
from tests.batch.test_out_of_limits import DEPTH as OVEN
from tests.batch.test_out_of_limits import baking

HELD = (
    '{ code = "deep", text = "Groove too deep", caused_at = 10 },',
    '{ code = "deep", text = "Groove too deep" },\n  { code = "unsure", text = "Not sure", to = "hold" },',
)
"""The checklist says no more what causes a deep groove."""


def lossy() -> Bench:
    """12 pieces through op 10: 2 too deep, 1 held."""
    bench = open_bench(lambda: edited(PALLETS, LONG_LIFE, HELD), start=12)
    first, second = (MarkedPieces("deep", ("A1",)),), (MarkedPieces("deep", ("A2",)), MarkedPieces("unsure", ("B1",)))
    for marks in (first, second, ()):
        bench.through(bench.form(10), marks=marks)
    return bench


def sums(lines: list[str]) -> int:
    """Of the first number behind each bar."""
    return sum(int(found[1]) for line in lines if (found := re.search(r"█ +(\d+) ", line)))


def test_reasons_and_operations_sum_to_the_same_and_what_is_held_stands_apart() -> None:
    batch = lossy().state
    reasons, causes = list_reason_lines(batch, 78), list_cause_lines(batch, 78)
    assert reasons[0] == "Scrap and rework: 2, by reason, with the running share"
    assert reasons[-1] == "Held, not decided: 1 piece"
    assert causes[0] == "The same 2 by the operation that caused it"
    assert sums(reasons) == sums(causes) == 2
    assert causes[1].endswith("2 of 12 counted there")


def test_a_time_takes_runs_by_when_they_started_with_all_that_they_lost_as_the_key_figures_do() -> None:
    """The second run is counted, and its held piece scrapped, after the time in any case."""
    bench = lossy()
    second = list(bench.state.runs.values())[1]
    assert second.count is not None
    assert second.begun < second.count.at
    assert "Held, not decided: 1 piece" in list_reason_lines(bench.state, 78, since=second.begun)
    assert list_reason_lines(bench.state, 78, since=second.begun + timedelta(seconds=1)) == []
    bench.say(Dispose(tuple(bench.state.held()), "scrap", "too thin after all"), by="LL")
    batch = bench.state
    (path,) = study_losses(batch).outcomes
    for later, lost in ((0, 2), (1, 0)):
        since = second.begun + timedelta(seconds=later)
        reasons, causes = list_reason_lines(batch, 78, since=since), list_cause_lines(batch, 78, since)
        assert sums(reasons) == sums(causes) == lost
        found = study_losses(batch).narrow(since).outcomes
        assert sum(run.spoiled for run in found[path]) == lost
        whole = compute_time_elements(batch, Calendar.always(), bench.clock().at, since).whole
        assert whole.amounts[Input.SQ] == lost
        assert not lost or causes[1].endswith(f"{lost} of {whole.amounts[Input.PQ]} counted there")


def test_pieces_set_aside_count_with_the_run_they_were_in_or_came_from_last() -> None:
    """On a load between two runs, in a run, waiting after a run, all of a run, and before any run."""
    bench = open_bench(part, start=12)
    runs = bench.state.runs
    first = bench.form(10)
    bench.through(first, 10)
    bench.say(SetPiecesAside("scrap", "dropped", load=first, positions=("A1",), off=True))
    after = [(1, 1)]
    """(last run, pieces lost with it or a later one)"""
    bench.through(first, 20, 30)
    bench.say(SetPiecesAside("scrap", "bent", op=40, count=1))
    after.append((len(runs), 1))
    load = at_count(bench, 10)
    bench.say(SetPiecesAside("scrap", "fell", load=load, positions=("A1",), off=True))
    after.append((len(runs), 1))
    bench.through(load)
    held = bench.say(HoldBack(len(runs), "the gauge was off"), by="LL")[0].body["pieces"]
    after[-1] = (len(runs), 1 + len(held))
    bench.say(SetPiecesAside("scrap", "cracked", op=10, count=1))
    assert count_losses(bench.state).total() == sum(lost for _, lost in after) + 1
    for number, run in runs.items():
        lost = sum(lost for last, lost in after if last >= number)
        assert count_losses(bench.state, run.begun).total() == lost, number
    last = runs[len(runs)].begun
    assert count_held(bench.state) == count_held(bench.state, last) == len(held)
    assert count_losses(bench.state, last + timedelta(seconds=1)).total() == 0
    assert count_held(bench.state, last + timedelta(seconds=1)) == 0


def test_a_place_where_no_piece_lay_is_not_drawn_as_a_sound_one() -> None:
    bench = open_bench(lambda: edited(PALLETS, LONG_LIFE, HELD), start=3)
    bench.through(bench.form(10), marks=(MarkedPieces("deep", ("A1",)),))
    study = study_losses(bench.state)
    (path,) = study.outcomes
    drawn = list_path_lines(bench.state, study, path, 78, 30)
    legend = "lost by place; · none lost; a name alone: no piece lay there"
    assert drawn[2:5] == ["A1 1  A2 ·", "B1 ·  B2", legend]


def test_what_is_held_and_then_scrapped_is_scrap_in_every_table() -> None:
    bench = lossy()
    (held,) = [piece for piece, place in bench.state.places.items() if place.where == "hold"]
    bench.say(Dispose((held,), "scrap", "too thin after all"), by="LL")
    reasons = list_reason_lines(bench.state, 78)
    assert reasons[0].startswith("Scrap and rework: 3, ")
    assert not any("Held" in line for line in reasons)
    assert sums(reasons) == sums(list_cause_lines(bench.state, 78)) == 3


def test_what_is_held_after_a_run_and_then_scrapped_is_of_its_operation() -> None:
    """It once was of op 0, and of no operation in the table of causes."""
    bench = lossy()
    held = bench.say(HoldBack(next(iter(bench.state.runs)), "the gauge was off"), by="LL")[0].body["pieces"]
    bench.say(Dispose(tuple(held), "scrap", "too thin after all"), by="LL")
    reasons, causes = list_reason_lines(bench.state, 78), list_cause_lines(bench.state, 78)
    assert reasons[1].startswith("op 10 the gauge was off")
    assert sums(reasons) == sums(causes) == 5


def test_finished_pieces_that_are_held_after_all_are_of_the_last_operation() -> None:
    bench, tray = baking()
    seq = bench.prove(tray, OVEN, value=171).seq
    bench.prove(tray, OVEN, value=150)
    bench.through(tray)
    bench.through(bench.form(50))
    assert bench.where() == {"finished": 4}
    bench.say(SettleOut(seq, "hold", "too hot"), by="LL")
    bench.say(Dispose(tuple(bench.state.places), "scrap", "brittle"), by="LL")
    assert list_reason_lines(bench.state, 78)[1].startswith("op 50 ")
    assert list_cause_lines(bench.state, 78)[1].startswith("op 50 ")


def test_a_page_of_a_way_says_what_became_of_its_losses() -> None:
    batch = lossy().state
    study = study_losses(batch)
    (path,) = study.outcomes
    head = " ".join(list_path_lines(batch, study, path, 78, 30)[:2])
    assert "op 10 Mill the groove: 3 of 12 lost (2 scrap, 1 held), 25.0 %" in head


def test_the_report_knows_what_caused_a_loss_at_the_first_operation() -> None:
    bench = lossy()
    report = write_close_out(bench.state, bench.clock(), "0" * 64)
    assert re.search(r"op 10 +op 10 +2\n", report)
    assert "not known  " not in report
