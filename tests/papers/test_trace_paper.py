"""The trace of a piece says what it was cut with, and not what else stood in the machine."""

from __future__ import annotations

from functools import partial

import pytest

from floor.batch.command import OtherBatches
from floor.batch.counting.commands import Dispose
from floor.batch.lifecycle.commands import SetPiecesAside
from floor.batch.walk.commands import BeginRun
from floor.papers.trace import format_trace
from tests.batch.factory import Bench, edited, open_bench
from tests.batch.test_qualified_people import ASKS, TODAY, known


@pytest.fixture
def bench() -> Bench:
    return open_bench()


def test_only_the_tools_of_the_operation_are_listed(bench: Bench) -> None:
    """Both tools of op 10 stand in the mill still when op 30 cuts there, which asks for neither."""
    load = bench.form(10)
    for _ in range(2):
        assert bench.hand().work(load)
    bench.clock.forward(13 * 3600)
    assert bench.hand().work(load)
    cut = next(run for run in bench.state.runs.values() if run.op == 30)
    assert cut.tools, "they are in the station"

    lines = format_trace(bench.state, 1, bench.clock())

    at = next(n for n, line in enumerate(lines) if line.startswith("op 30"))
    assert any("6 mm end mill" in line for line in lines[:at])
    assert not any("tools" in line for line in lines[at:])


def test_the_page_says_what_whoever_worked_there_was_qualified_for() -> None:
    """REC-07, ISO 9001:2015 8.5.1: the rules let nobody else work at a station that asks for it."""
    bench = open_bench(partial(edited, ASKS), start=4, order=4)
    bench.elsewhere = OtherBatches(qualified=known(TODAY, "AA", "BB"))
    load = bench.form(10)
    assert bench.refused(BeginRun(load), by="CC").why == "authority"
    bench.through(load, 10, 20)
    said = " ".join("\n".join(format_trace(bench.state, 1, bench.clock())).split())
    assert "training Spray painting, health surveillance: whoever did a step here had it" in said
    assert said.count("training") == 1, "the bench asks for none"


def test_what_was_decided_about_a_piece_stands_on_its_trace() -> None:
    bench = open_bench(start=4, order=4)
    load = bench.form(10)
    bench.through(load, 10)
    bench.say(SetPiecesAside("hold", "scratch?", load=load, positions=("A1",)))
    bench.say(Dispose((1,), "use as is", "only a hair on it"), by="LL")
    said = "\n".join(format_trace(bench.state, 1, bench.clock()))
    assert "decided  07:26 AA: load 1: A1 set aside as hold: scratch?" in said
    assert "decided  07:26 LL: 1 held piece: use as is, only a hair on it" in said
    assert "hair" not in "\n".join(format_trace(bench.state, 2, bench.clock()))
