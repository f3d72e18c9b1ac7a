"""Each carrier has its own work offset: what is probed on one never stands for another, and only its own voids it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from floor.batch.describe import describe
from floor.batch.fold import fold
from floor.batch.gates.commands import Prove
from floor.batch.gates.setup_sheet import build_setup_card
from floor.batch.lifecycle.commands import StartPieces
from floor.batch.proof import OffsetKey
from floor.batch.stations.commands import Disturb
from floor.batch.walk.commands import BeginRun, DoStep, EndCycle, StartCycle
from floor.checklist.model import Checklist
from tests.batch.factory import ONE_CYCLE, TURNED, TWO_MILLS, Bench, edited, one_cycle, open_bench, two_mills, two_up

LEFT, RIGHT = {"offset": "G54", "X": 0, "Z": 0}, {"offset": "G55", "X": 200, "Z": 0}


@pytest.fixture
def bench() -> Bench:
    """Two pallets on the bed of the mill, set up and clamped, both at their probing."""
    bench = open_bench(two_up, start=8)
    for load in (bench.form(10), bench.form(10)):
        bench.until(load, "probed 1")
    return bench


def met(bench: Bench, load: int) -> bool:
    return bench.line(load, "probed 1").is_satisfied


def test_the_walk_asks_for_the_offset_of_its_own_carrier(bench: Bench) -> None:
    for load, offset, band in ((1, "G54", "-1 to 1 mm"), (2, "G55", "199 to 201 mm")):
        line = bench.current(load)
        assert line.title == f"Probe {offset} X Z"
        assert line.step is not None
        asks = {ask.name: ask.band for ask in line.step.asks()}  # type: ignore[union-attr]
        assert asks == {"offset": offset, "X": band, "Z": "-0.1 to 0.1 mm"}
        said = build_setup_card(bench.state, bench.run_of(load), line)
        assert said is not None
        assert ("work offset", offset) in said.facts


def test_which_offset_was_probed_is_entered(bench: Bench) -> None:
    refused = bench.refused(Prove(bench.run_of(1).number, "probed 1", {"X": 0, "Z": 0}))
    assert refused.wrong == "Work offset that was probed: nothing entered"
    entry = bench.prove(1, "probed 1", offset="g54", X=0, Z=0)
    assert met(bench, 1)
    assert describe(bench.state, entry) == "load 1, op 10: Probe G54 X Z: g54, X 0 mm, Z 0 mm"


def test_the_probe_of_one_carrier_opens_nothing_for_the_other(bench: Bench) -> None:
    bench.prove(2, "probed 1", **RIGHT)
    assert met(bench, 2)
    assert not met(bench, 1)
    assert bench.refused(StartCycle(bench.run_of(1).number)).why == "gate"


def test_the_offset_of_another_carrier_is_not_accepted(bench: Bench) -> None:
    entry = bench.prove(2, "probed 1", offset="G54", X=200, Z=0)
    line = bench.line(2, "probed 1")
    assert line.verdict is not None
    assert not line.is_satisfied
    assert line.verdict.why == "G54 was probed, which belongs to Pallet 1; Pallet 2 uses G55"
    assert "not accepted" in describe(bench.state, entry)
    bench.prove(2, "probed 1", **RIGHT)
    assert met(bench, 2)


@pytest.mark.parametrize("checklist", [two_up, one_cycle])
def test_an_offset_that_was_set_by_another_carrier_is_probed_again(checklist: Callable[[], Checklist]) -> None:
    """Probing pallet 2 into G54 overwrote the position of pallet 1, also where one cycle cuts both."""
    bench = open_bench(checklist, start=8)
    for load in (bench.form(10), bench.form(10)):
        bench.until(load, "probed 1")
    bench.prove(1, "probed 1", **LEFT)
    assert met(bench, 1)
    bench.prove(2, "probed 1", offset="G54", X=200, Z=0)
    line = bench.line(1, "probed 1")
    assert line.verdict is not None
    assert "void" in line.verdict.why
    assert "Pallet 2 (load 2)" in line.verdict.why
    bench.prove(1, "probed 1", **LEFT)
    assert met(bench, 1)
    assert not met(bench, 2), "what pallet 2 had entered stands for nothing"


def test_lifting_a_carrier_voids_its_own_probe_only(bench: Bench) -> None:
    bench.prove(1, "probed 1", **LEFT)
    bench.prove(2, "probed 1", **RIGHT)
    bench.say(Disturb("mill", "lifted", load=1))
    assert not met(bench, 1)
    assert met(bench, 2)


@pytest.mark.parametrize(("what", "offset", "left"), [
    ("rezeroed", "G55", (True, False)), ("rezeroed", "g54", (False, True)), ("rezeroed", "", (False, False)),
    ("power lost", "", (False, False)),
])  # fmt: skip
def test_setting_a_zero_again_voids_what_relies_on_it(
    bench: Bench, what: str, offset: str, left: tuple[bool, bool]
) -> None:
    bench.prove(1, "probed 1", **LEFT)
    bench.prove(2, "probed 1", **RIGHT)
    entry = bench.say(Disturb("mill", what, offset=offset))[0]
    assert (met(bench, 1), met(bench, 2)) == left
    assert (offset in describe(bench.state, entry)) is True


def test_a_zero_set_again_keeps_a_first_piece_cut_by_another_zero(bench: Bench) -> None:
    bench.prove(1, "probed 1", **LEFT)
    bench.until(1, "count")
    assert bench.line(1, "first piece accepted 1").is_satisfied
    bench.say(Disturb("mill", "rezeroed", offset="G55"))
    assert bench.line(1, "first piece accepted 1").is_satisfied
    bench.say(Disturb("mill", "rezeroed", offset="G54"))
    assert not bench.line(1, "first piece accepted 1").is_satisfied


def test_an_offset_that_the_station_does_not_have_cannot_be_set_again(bench: Bench) -> None:
    refused = bench.refused(Disturb("mill", "rezeroed", offset="G59"))
    assert str(refused) == "G59 is not a work offset of mill. One of: G54, G55, G56."


def test_both_are_cut_and_counted_each_by_itself(bench: Bench) -> None:
    bench.prove(1, "probed 1", **LEFT)
    bench.prove(2, "probed 1", **RIGHT)
    bench.until(1, "end")
    assert bench.run_of(1).running
    assert not bench.run_of(2).running
    bench.say(Disturb("mill", "lifted", load=2))
    assert met(bench, 1)
    assert not met(bench, 2)
    bench.say(EndCycle(bench.run_of(1).number))
    assert bench.hand().work(1)
    assert bench.state.loads[1].next_op == 20
    assert bench.state.loads[2].next_op == 10
    assert bench.hand().work(2)
    assert bench.state.loads[2].next_op == 20


def test_a_third_carrier_makes_room_by_lifting_one_that_nobody_named(bench: Bench) -> None:
    """Pallet 1 is through and may sit there still; once 2 and 3 are on the bed it cannot."""
    bench.prove(1, "probed 1", **LEFT)
    assert bench.hand().work(1)
    assert ("probed", 1, "mill", "G54") in bench.state.proofs
    bench.say(StartPieces(4))
    third = bench.form(10)
    entry = bench.say(BeginRun(third))[0]
    assert entry.body["lifted"] == [1]
    assert ("probed", 1, "mill", "G54") not in bench.state.proofs


def test_a_carrier_that_has_room_beside_another_stays_where_it_is(bench: Bench) -> None:
    bench.prove(1, "probed 1", **LEFT)
    bench.prove(2, "probed 1", **RIGHT)
    assert bench.hand().work(1)
    assert ("probed", 1, "mill", "G54") in bench.state.proofs, "pallet 2 came onto the bed beside it"


def test_a_carrier_that_was_probed_at_another_mill_makes_no_room_at_this_one() -> None:
    second = (
        '[[stations]]\nid = "bench"',
        '[[stations]]\nid = "mill 2"\nname = "Mill 2"\noffsets = ["G54"]\nruns_at_once = 2\n\n'
        '[[stations]]\nid = "bench"',
    )
    bench = open_bench(lambda: edited(second, TWO_MILLS[1]), start=12)
    seated = bench.form(10)
    bench.say(BeginRun(seated, station="mill"))
    bench.through(seated, 10)
    for load in (bench.form(10), bench.form(10)):
        assert bench.say(BeginRun(load, station="mill 2"))[0].body["lifted"] == []
    assert ("probed", seated, "mill", "G54") in bench.state.proofs


def test_an_older_record_keeps_its_probes() -> None:
    """Entries from before offsets by carrier name no carrier, and voided nothing of another's until edition 4."""
    one_offset = open_bench(lambda: edited(('offsets = ["G54"]\n', 'offsets = ["G54"]\nruns_at_once = 2\n')))
    for load in (one_offset.form(10), one_offset.form(10)):
        one_offset.until(load, "probed 1")
        one_offset.prove(load, "probed 1", X=0, Z=0)
    assert not one_offset.line(1, "probed 1").is_satisfied, "G54 is the second one's now"
    assert one_offset.line(2, "probed 1").is_satisfied
    entries = [
        replace(one, body={name: value for name, value in one.body.items() if name != "lifted"})
        for one in one_offset.state.entries
    ]
    assert fold(entries).proofs == one_offset.state.proofs
    entries[0] = replace(entries[0], body=entries[0].body | {"rules": 3})
    assert {key.load for key in fold(entries).proofs if isinstance(key, OffsetKey)} == {1, 2}


def test_a_zero_that_is_shared_is_not_probed_while_another_carrier_is_cut_by_it() -> None:
    """Two carriers on one register: the cut goes on by a zero that is not its own any more."""
    shared = ('offsets = ["G54"]\n', 'offsets = ["G54"]\nruns_at_once = 2\n')
    bench = open_bench(lambda: edited(shared), start=8, order=8)
    first, second = bench.form(10), bench.form(10)
    bench.until(first, "start")
    bench.until(second, "probed 1")
    run = bench.run_of(first)
    bench.say(StartCycle(run.number))
    refused = bench.refused(Prove(bench.run_of(second).number, "probed 1", {"X": 0, "Z": 0}))
    assert refused.wrong == f"Pallet 1 (load 1) is being cut in G54 now (run {run.number}): nobody can probe it"
    assert refused.remedy == "end or stop that cycle (x) first"
    assert run.running
    bench.until(first, "count")
    bench.prove(second, "probed 1", X=0, Z=0)


def test_a_zero_that_another_pallet_is_being_cut_by_is_not_probed() -> None:
    """G54 typed for G55 while pallet 1 is cut in G54: a slip, and the cut is not taken for unproved."""
    bench = open_bench(two_up, start=8, order=8)
    first, second = bench.form(10), bench.form(10)
    bench.until(first, "start")
    bench.until(second, "probed 1")
    bench.say(StartCycle(bench.run_of(first).number))
    run = bench.run_of(second).number
    refused = bench.refused(Prove(run, "probed 1", {"offset": "g54", "X": 0, "Z": 0}))
    assert refused.wrong == "Pallet 1 (load 1) is being cut in G54 now (run 1): nobody can probe it"
    bench.say(Prove(run, "probed 1", {"offset": "G55", "X": 200, "Z": 0}))
    assert bench.run_of(first).running
    assert not bench.run_of(first).reopened


def test_a_zero_of_the_same_name_on_another_machine_is_another_zero() -> None:
    bench = open_bench(two_mills, start=8)
    first, second = bench.form(10), bench.form(10)
    bench.until(first, "start")
    bench.say(StartCycle(bench.run_of(first).number))
    bench.until(second, "probed 1")
    assert bench.run_of(second).station != bench.run_of(first).station
    bench.prove(second, "probed 1", X=0, Z=0)
    assert met(bench, second)


def test_the_zero_of_the_carrier_beside_is_a_slip_where_one_cycle_cuts_both() -> None:
    """Turned over, each is probed again by its own zero while the cycle stands."""
    axes = ", ".join(f'{{ name = "X", low = "-1 mm", high = "500 mm", offset = "G5{n}" }}' for n in (4, 5, 6))
    seated = '{ gate = "confirmed", do = "Seated: no feeler goes in", at = "cycle", waive = "never" }'
    again = (TURNED[1][0], TURNED[1][1].replace(seated, f'{{ gate = "probed", axes = [{axes}], at = "cycle" }}'))
    bench = open_bench(lambda: edited(*ONE_CYCLE, TURNED[0], again), start=8)
    first, second = bench.form(10), bench.form(10)
    for load in (first, second):
        bench.until(load, "start")
    bench.say(StartCycle(bench.run_of(first).number))
    bench.until(first, "turn")
    bench.say(DoStep(bench.run_of(first).number, "turn"))
    assert bench.current(second).key == "probed 2"
    slip = bench.refused(Prove(bench.run_of(second).number, "probed 2", {"offset": "G54", "X": 0}))
    assert "look again: Pallet 2 uses G55" in slip.remedy
    bench.prove(second, "probed 2", offset="G55", X=200)
