"""Who performed the work that a signature covers, and so may not sign for it."""

from __future__ import annotations

from floor.batch.gates.verifiers import find_performers
from floor.batch.walk.commands import ReadCautions
from floor.checklist.gates import FirstPiece
from tests.batch.factory import open_bench


def test_who_read_the_cautions_or_signed_for_the_set_up_performed_nothing() -> None:
    """CBP-34: BB looked at tools and program and read why to shut the door; AA did the work."""
    bench = open_bench()
    load = bench.form(10)
    bench.until(load, "signed 1")
    bench.prove(load, "signed 1", by="BB", person="BB")
    bench.until(load, "load step 2")
    bench.say(ReadCautions(bench.run_of(load).number, "caution load step 2"), by="BB")
    bench.until(load, "first piece accepted 1")

    run, gate = bench.run_of(load), bench.current(load).step
    assert {key for key, mark in run.marks.items() if mark.by == "BB"} == {"signed 1", "caution load step 2"}
    assert isinstance(gate, FirstPiece)
    assert find_performers(bench.state, run, "first piece accepted 1", gate) == {"AA"}
