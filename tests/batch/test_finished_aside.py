"""Finished pieces that prove wrong: they are set aside, as pieces in work are."""

from __future__ import annotations

import pytest

from floor.batch.counting.commands import Dispose
from floor.batch.counting.losses import Loss, count_losses
from floor.batch.counting.op_yields import list_op_outcomes
from floor.batch.describe import describe
from floor.batch.lifecycle.commands import SetPiecesAside
from floor.batch.lifecycle.enter_half_done import EnterLate
from floor.batch.lifecycle.half_done import PlacedPieces
from tests.batch.factory import Bench, conserved, open_bench


@pytest.fixture
def bench() -> Bench:
    bench = open_bench(order=3, start=4)
    bench.through(bench.form(10), 10, 20, 30)
    bench.through(bench.form(40), 40)
    bench.through(bench.form(50), 50)
    assert bench.where() == {"finished": 4}
    return bench


def test_scrap_among_finished_pieces_is_lost_at_the_last_operation(bench: Bench) -> None:
    [entry] = bench.say(SetPiecesAside("scrap", "crack seen", count=1))
    assert bench.where() == {"finished": 3, "scrap": 1}
    assert describe(bench.state, entry) == "finished: piece 4 set aside as scrap: crack seen"
    assert count_losses(bench.state) == {Loss("scrap", 50, "crack seen", None, ""): 1}
    last = list_op_outcomes(bench.state)[-1]
    assert (last.op, last.produced, last.good, last.scrap) == (50, 4, 3, 1)
    conserved(bench.state)


def test_one_held_is_finished_again_once_it_is_used_as_is(bench: Bench) -> None:
    [entry] = bench.say(SetPiecesAside("hold", "label doubtful", count=2))
    assert bench.where() == {"finished": 2, "hold": 2}
    bench.say(Dispose(tuple(entry.body["pieces"]), "use as is", "label is right"), "LL")
    assert bench.where() == {"finished": 4}
    conserved(bench.state)


def test_no_more_than_there_are(bench: Bench) -> None:
    refused = bench.refused(SetPiecesAside("scrap", "crack seen", count=5))
    assert (refused.why, refused.wrong) == ("count", "5 pieces set aside, 4 are there")


def test_one_that_was_finished_before_the_batch_was_entered_is_set_aside_too() -> None:
    bench = open_bench(order=3, start=4)
    rows = (PlacedPieces("finished", 2), PlacedPieces("waiting", 2, 10))
    bench.say(EnterLate(rows, bench.clock().at), "LL")
    bench.say(SetPiecesAside("scrap", "crack seen", count=1))
    assert bench.where() == {"waiting": 2, "finished": 1, "scrap": 1}
    assert count_losses(bench.state) == {Loss("scrap", 50, "crack seen", None, ""): 1}
    conserved(bench.state)
