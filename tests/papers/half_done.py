"""A half-done batch of the test part: scrap and rework by position, a piece on hold, a waiver, clocks, a note."""

from __future__ import annotations

from pathlib import Path

from floor.batch.corrections.commands import Note
from floor.batch.counting.commands import MarkedPieces
from floor.batch.gates.commands import Waive
from floor.batch.lifecycle.commands import SetPiecesAside
from floor.batch.quality.batch_facts import EarlierBatches, gather_facts
from floor.batch.walk.commands import BeginRun
from floor.figures.calendar import Calendar
from floor.figures.earlier_yields import HALF_LIFE_DAYS
from floor.papers.earlier_batches import EarlierReport, make_report
from floor.shop.earlier_batches import Asked
from floor.shop.simulation import SimulatedOperator
from tests.batch.factory import Bench, open_bench


def report_alone(bench: Bench) -> EarlierReport:
    """A batch beside no other."""
    own = gather_facts(bench.state, Calendar.always())
    asked = Asked(Path(), "", frozenset(), Calendar.always(), own, (), (), {})
    return make_report(bench.state, asked, EarlierBatches(), bench.clock().at, 0.9, HALF_LIFE_DAYS)


def work_to_half(hand: SimulatedOperator, lead: SimulatedOperator) -> tuple[int, int, int]:
    """Load 1 is cut free with losses, load 2 cures, load 3 stands in a run with a waived gate, one piece dropped."""
    first, second, third = hand.form(10), hand.form(10), hand.form(10)
    for load in (first, second, third):
        assert hand.work(load, marks=(MarkedPieces("deep", ("B2",)),) if load == first else ())
    assert hand.work(first)
    assert hand.work(first, marks=(MarkedPieces("bare", ("A1",)), MarkedPieces("soft", ("A2",))))
    assert hand.work(second)
    hand.do(SetPiecesAside("scrap", "dropped on the floor", load=third, positions=("A1",)))
    hand.do(BeginRun(third))
    assert not hand.work(third, stop=lambda line: line.kind == "gate" and "Count" in line.title)
    line = hand.current(third)
    assert line is not None
    lead.do(Waive(hand.run(third).number, line.key, "counted at the mill a minute ago"))
    hand.do(Note("Coolant low since noon", next_shift=True))
    return first, second, third


def half_done() -> Bench:
    """The same in memory, opened by the lead; AA works."""
    bench = open_bench(order=10, start=12)
    work_to_half(bench.hand("AA"), bench.hand("LL"))
    return bench
