"""An operation that two stations can do: where a load starts, and what belongs to each station."""

from __future__ import annotations

from dataclasses import replace

import pytest

from floor.batch.command import OtherBatches
from floor.batch.corrections.from_paper import TranscribeAct
from floor.batch.counting.commands import MarkedPieces
from floor.batch.describe import describe
from floor.batch.fold import fold
from floor.batch.stations.commands import Disturb
from floor.batch.stations.out_of_service import TakeOutOfService
from floor.batch.stations.station_choice import list_station_refusals
from floor.batch.walk.commands import BeginRun
from floor.batch.worklist.due_task import DueTask
from floor.batch.worklist.tasks import list_due_tasks
from floor.checklist.frozen import freeze_checklist, read_frozen_checklist
from tests.batch.factory import TWO_MILLS, Bench, by_hand, edited, open_bench, two_mills, two_up


@pytest.fixture
def bench() -> Bench:
    """Two pallets that wait for the groove, both mills free."""
    bench = open_bench(two_mills, start=12)
    bench.form(10)
    bench.form(10)
    return bench


def row(bench: Bench, load: int) -> DueTask:
    return next(due for due in list_due_tasks([bench.state], bench.clock()) if due.load == load)


def test_a_load_starts_at_the_named_station(bench: Bench) -> None:
    entry = bench.say(BeginRun(1, station="mill 2"))[0]
    assert bench.run_of(1).station == "mill 2"
    assert "op 10 started at Mill 2, new set-up" in describe(bench.state, entry)
    assert bench.state.find_setup("mill") is None


def test_each_station_has_its_own_set_up_gates_and_tools(bench: Bench) -> None:
    bench.say(BeginRun(1, station="mill 2"))
    bench.until(1, "start")
    bench.say(BeginRun(2))
    assert bench.run_of(2).station == "mill"
    assert bench.current(2).key == "program loaded 1", "what was read back at the other mill says nothing of this one"
    bench.until(2, "start")
    assert {at for at, tool in bench.state.tools if tool == 1} == {"mill", "mill 2"}
    bench.say(Disturb("mill 2", "tool changed", tool=1))
    assert bench.current(1).key == "tool loaded 1"
    assert bench.current(2).key == "start"
    for load in (1, 2):
        assert bench.hand().work(load)
    assert bench.state.tools["mill", 1].used == bench.state.tools["mill 2", 1].used == 4 * 300.0


def test_the_first_piece_of_each_station_is_accepted_by_itself(bench: Bench) -> None:
    bench.say(BeginRun(1, station="mill 2"))
    assert bench.hand().work(1)
    bench.say(BeginRun(2, station="mill"))
    assert bench.until(2, "first piece accepted 1").state == "now"


def test_without_a_name_it_starts_where_it_is_set_up_or_where_there_is_room(bench: Bench) -> None:
    bench.say(BeginRun(1, station="mill 2"))
    bench.through(1, 10)
    assert bench.say(BeginRun(2))[0].body["station"] == "mill 2", "set up for it"
    third = bench.form(10)
    assert bench.say(BeginRun(third))[0].body["station"] == "mill", "the only one that is free"


def test_what_is_next_names_where_it_can_start(bench: Bench) -> None:
    free = row(bench, 1)
    assert (free.urgency, free.where, free.short_where) == ("now", "Mill or Mill 2", "Mill +1")
    bench.say(BeginRun(1, station="mill"))
    assert (row(bench, 2).urgency, row(bench, 2).where, row(bench, 2).short_where) == ("now", "Mill 2", "")
    bench.say(TakeOutOfService("mill 2", "spindle hums"))
    due = row(bench, 2)
    assert due.urgency == "blocked"
    assert "Mill busy: Pallet 1 (load 1)" in due.what
    assert "Mill 2 is out of service" in due.what


def test_a_station_that_is_taken_or_cannot_do_it_is_refused(bench: Bench) -> None:
    bench.say(BeginRun(1, station="mill 2"))
    assert bench.refused(BeginRun(2, station="mill 2")).why == "busy"
    refused = bench.refused(BeginRun(2, station="oven"))
    assert str(refused) == "Op 10 is not done at oven. One of: Mill 2, Mill."
    bench.elsewhere = OtherBatches({"mill": ("Pallet 9 (load 1) of B0002",)})
    assert bench.refused(BeginRun(2)).why == "busy"


def test_a_station_at_work_is_not_set_up_for_another_operation() -> None:
    """There is room for a second pallet on the bed, but the program in the control is that of the first."""
    bench = open_bench(two_up, start=8)
    coated = bench.form(10)
    bench.through(coated, 10, 20)
    bench.clock.forward(12 * 3600)
    groove = bench.form(10)
    bench.begin(coated)

    refused = bench.refused(BeginRun(groove))

    assert refused.why == "busy"
    assert refused.wrong == "Mill is set up for another operation and in use: Pallet 1 (load 1) at op 30"
    assert refused.remedy == "wait until it is free"
    bench.through(coated)
    bench.begin(groove)


def test_a_station_that_another_batch_has_set_up_is_refused_before_this_one_ever_was_there() -> None:
    bench = open_bench(two_up, start=4)
    load = bench.form(10)
    bench.elsewhere = OtherBatches({"mill": ("Pallet 3 (load 1) of B0002",)})
    refused = bench.refused(BeginRun(load))
    assert refused.wrong == "Mill is set up for another operation and in use: Pallet 3 (load 1) of B0002"


def test_a_bench_that_needs_no_set_up_takes_two_operations_side_by_side() -> None:
    """Nothing is set up to coat or to fill by hand, so that one load is coated while another is filled."""
    bench = open_bench(by_hand, start=8)
    pallet = bench.form(10)
    bench.through(pallet, 10, 20)
    bench.clock.forward(49 * 3600)
    bench.through(pallet, 30)
    bench.through(bench.form(40), 40)
    bench.clock.forward(3600)
    bench.through(bench.form(50), 50, marks=(MarkedPieces("drop", count=1),))
    tray, later = bench.form(42, rework="by hand"), bench.form(10)
    bench.through(later, 10)
    bench.begin(later)
    bench.begin(tray)
    assert [run.op for run in bench.state.list_open_runs()] == [42, 20]


def test_a_second_load_of_the_same_set_up_starts_beside_the_first() -> None:
    bench = open_bench(two_up, start=8)
    first, second = bench.form(10), bench.form(10)
    bench.begin(first)
    bench.begin(second)
    assert bench.run_of(first).setup == bench.run_of(second).setup


def test_from_paper_it_was_at_the_usual_station_where_nobody_says(bench: Bench) -> None:
    bench.clock.forward(600)
    at = bench.clock().at
    assert bench.say(TranscribeAct(BeginRun(1), at))[0].body["station"] == "mill"
    assert bench.refused(TranscribeAct(BeginRun(2), at)).why == "busy"
    assert bench.say(TranscribeAct(BeginRun(2, station="mill 2"), at))[0].body["station"] == "mill 2"


def test_what_is_shown_once_a_shift_is_shown_at_each_station() -> None:
    ovens = (
        (
            '[[stations]]\nid = "table"',
            '[[stations]]\nid = "oven 2"\nname = "Oven 2"\nkind = "oven"\n\n[[stations]]\nid = "table"',
        ),
        ('station = "oven"\ncarrier', 'station = "oven"\nalso_at = ["oven 2"]\ncarrier'),
    )
    bench = open_bench(lambda: edited(*ovens), start=8)
    for _ in range(2):
        bench.through(bench.form(10), 10, 20, 30)
    first, second = bench.form(40, 4), bench.form(40, 4)
    bench.clock.forward(48 * 3600)
    bench.say(BeginRun(first, station="oven"))
    bench.until(first, "start")
    bench.say(BeginRun(second, station="oven 2"))
    assert bench.current(second).key == "confirmed 1", "the exhaust of the one says nothing of the other's"


def test_the_tools_of_an_operation_may_stand_in_each_of_its_stations() -> None:
    checklist = two_mills()
    assert [tool.number for tool in checklist.tools_at("mill 2")] == [1, 2]
    assert checklist.tools_at("oven") == ()


def test_older_checklists_and_records_are_read_as_they_were() -> None:
    old = freeze_checklist(edited())
    assert all("also_at" not in operation for operation in old["operations"])
    assert read_frozen_checklist(old).operations[0].stations == ("mill",)
    assert read_frozen_checklist(freeze_checklist(two_mills())) == two_mills()
    bench = open_bench(start=4)
    bench.through(bench.form(10), 10)
    body = [{name: value for name, value in one.body.items() if name != "cycle"} for one in bench.state.entries]
    entries = [replace(one, body=kept) for one, kept in zip(bench.state.entries, body, strict=True)]
    assert fold(entries).runs == bench.state.runs


def test_each_station_goes_by_its_own_offsets() -> None:
    offsets = (
        TWO_MILLS[0][0],
        TWO_MILLS[0][1].replace(
            '["G54"]', '["G56", "G57", "G58"]\ncarrier_offsets = { pallet = ["G56", "G57", "G58"] }'
        ),
    )
    own = (
        'id = "mill"\nname = "Mill"\noffsets = ["G54"]\n',
        'id = "mill"\nname = "Mill"\noffsets = ["G54"]\ncarrier_offsets = { pallet = ["G54", "G54", "G54"] }\n',
    )
    probe = ('offset = "G54", axes = [{ name = "X"', 'axes = [{ name = "X"')
    cut = ('offset = "G54", axes = [{ name = "Z"', 'axes = [{ name = "Z"')
    bench = open_bench(lambda: edited(offsets, TWO_MILLS[1], own, probe, cut), start=8)
    for load, station, offset in ((bench.form(10), "mill", "G54"), (bench.form(10), "mill 2", "G57")):
        bench.say(BeginRun(load, station=station))
        assert bench.until(load, "probed 1").title == f"Probe {offset} X Z"


def test_why_no_station_takes_a_load_is_told_only_where_none_does(bench: Bench) -> None:
    bench.say(BeginRun(1, station="mill"))

    def why() -> list[str]:
        return [str(one) for one in list_station_refusals(bench.state, bench.state.loads[2], bench.context("", "AA"))]

    assert why() == [], "Mill 2 is free"
    bench.elsewhere = OtherBatches({"mill 2": ("Pallet 9 (load 1) of B0002",)}, places={"mill 2": 1})
    free_it = "Finish and release that, or put it back (u on its walk) if it was only started."
    assert why() == [
        f"Mill busy: Pallet 1 (load 1) at op 10. {free_it}",
        f"Mill 2 busy: Pallet 9 (load 1) of B0002. {free_it}",
    ]
