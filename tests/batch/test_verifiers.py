"""Who performed the work that a signature covers, and so may not sign for it."""

from __future__ import annotations

from floor.batch.gates.commands import Prove
from floor.batch.gates.verifiers import find_performers
from floor.batch.walk.commands import ReadCautions
from floor.checklist.gates import FirstPiece, Signed
from tests.batch.factory import edited, open_bench


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


FIRST_LINE = (
    '{ gate = "lot recorded", what = "bar stock", at = "arrive", use_by = false },',
    '{ gate = "signed", do = "The lot is the right one", at = "arrive" },',
)


def test_who_began_the_run_does_not_sign_its_first_line() -> None:
    """CBP-33, 21 CFR 211.188(b)(11): one performs, another verifies, also where nothing else was done yet."""
    bench = open_bench(lambda: edited(FIRST_LINE))
    load = bench.form(10)
    run = bench.begin(load, by="AA")
    line = bench.until(load, "signed 1")
    assert line.title == "The lot is the right one"
    refused = bench.refused(Prove(run.number, "signed 1", {"person": "AA"}), by="AA")
    assert (refused.why, refused.field) == ("authority", "person")
    assert bench.prove(load, "signed 1", by="BB", person="BB").body["values"] == {"person": "BB"}


def test_who_set_up_for_an_earlier_load_may_sign_for_what_another_did_at_this_one() -> None:
    """A signature for one load covers that load; one for the set-up covers the set-up."""
    clamp = '{ do = "Clamp the pallet", at = "load" },'
    tools = '{ gate = "tool loaded", tool = 1 },'
    bench = open_bench(
        lambda: edited(
            (clamp, f'{clamp}\n  {{ gate = "signed", do = "Clamped", at = "load" }},'),
            (tools, f'{tools}\n  {{ do = "Set the stop", at = "setup" }},'),
        )
    )
    first, second = bench.form(10), bench.form(10)
    bench.through(first, by="CC")
    bench.until(second, "signed 2", by="AA")
    run, gate = bench.run_of(second), bench.current(second).step

    assert isinstance(gate, Signed)
    assert find_performers(bench.state, run, "signed 2", gate) == {"AA"}
    of_setup = bench.state.find_operation(run).step("signed 1")
    assert isinstance(of_setup, Signed)
    assert find_performers(bench.state, run, "signed 1", of_setup) == {"AA", "CC"}
    assert bench.prove(second, "signed 2", by="CC", person="CC").body["values"] == {"person": "CC"}
