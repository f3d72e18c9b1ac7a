"""A station's places are taken by carriers, each by as many as its kind needs."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from floor.batch.command import OtherBatches, Refused
from floor.batch.corrections.commands import StrikeOut
from floor.batch.corrections.from_paper import TranscribeAct
from floor.batch.lifecycle.commands import FormLoad, OpenBatch, StartPieces
from floor.batch.lifecycle.enter_half_done import EnterLate
from floor.batch.lifecycle.half_done import PlacedPieces
from floor.batch.walk.commands import BeginRun, StartCycle
from floor.batch.walk.stop_cycle import StopCycle
from floor.batch.worklist.tasks import list_due_tasks
from floor.checklist.frozen import freeze_checklist, read_frozen_checklist
from floor.checklist.model import Checklist
from floor.shop import Shop
from tests.batch.factory import MORNING, TWO_UP, Bench, StepClock, edited, open_bench, part, two_up

OVEN = 'kind = "oven"\nruns_at_once = 2\n'


@cache
def big_trays() -> Checklist:
    """The oven holds four places; a tray takes three of them."""
    return edited((OVEN, 'kind = "oven"\nruns_at_once = 4\ncarrier_places = { tray = 3 }\n'))


@pytest.fixture
def bench() -> Bench:
    """Two trays of pieces that are through the cut, each ready for the oven."""
    bench = open_bench(big_trays, start=12, order=12)
    for _ in range(3):
        load = bench.form(10)
        bench.through(load, 10, 20, 30)
    bench.form(40)
    bench.form(40)
    bench.clock.forward(48 * 3600)
    return bench


def trays(bench: Bench) -> list[int]:
    return [load.number for load in bench.state.list_live_loads() if load.carrier == "tray"]


def test_a_load_that_does_not_fit_beside_another_is_refused_with_the_figures(bench: Bench) -> None:
    first, second = trays(bench)
    bench.begin(first)
    refused = bench.refused(BeginRun(second, anyway=True))
    assert refused.why == "busy"
    assert refused.wrong == f"Tray 2 takes 3 places, and Oven has 1 of 4 free beside Tray 1 (load {first}) at op 40"
    due = next(due for due in list_due_tasks([bench.state], bench.clock()) if due.load == second)
    assert (due.urgency, due.what) == ("blocked", refused.wrong.removesuffix(" at op 40"))


def test_a_station_without_a_free_place_is_taken_however_many_places_are_wanted() -> None:
    bench = open_bench(lambda: pallets_take(2, 2), start=8)
    first, second = bench.form(10), bench.form(10)
    bench.begin(first)
    assert bench.refused(BeginRun(second)).wrong == "Mill busy: Pallet 1 (load 1) at op 10"


def test_places_that_another_batch_takes_count(bench: Bench) -> None:
    first = trays(bench)[0]
    bench.elsewhere = OtherBatches({"oven": ("Rack 1 (load 2) of B0002",)}, places={"oven": 2})
    assert "Oven has 2 of 4 free beside Rack 1 (load 2) of B0002" in bench.refused(BeginRun(first, anyway=True)).wrong
    bench.elsewhere = replace(bench.elsewhere, places={"oven": 1})
    bench.begin(first)


def test_a_carrier_that_is_not_named_takes_one_place() -> None:
    bench = open_bench(lambda: edited((OVEN, 'kind = "oven"\nruns_at_once = 2\ncarrier_places = { pallet = 2 }\n')))
    bench.say(StartPieces(4))
    for _ in range(3):
        bench.through(bench.form(10), 10, 20, 30)
    bench.form(40)
    bench.form(40)
    for load in trays(bench):
        bench.begin(load)


def test_places_are_frozen_with_the_checklist_and_older_ones_have_none() -> None:
    assert read_frozen_checklist(freeze_checklist(big_trays())) == big_trays()
    old = freeze_checklist(big_trays())
    for station in old["stations"]:
        station.pop("carrier_places", None)
    assert read_frozen_checklist(old).station("oven").places_of("tray") == 1


def pallets_take(places: int, room: int) -> Checklist:
    """A bed of the mill with so much room, of which a pallet takes so many places."""
    return edited(
        (
            'offsets = ["G54"]\n',
            f'offsets = ["G54"]\nruns_at_once = {room}\ncarrier_places = {{ pallet = {places} }}\n',
        ),
    )


def test_what_another_batch_has_there_is_counted_by_its_places(tmp_path: Path) -> None:
    shop = Shop(tmp_path, StepClock(MORNING))
    shop.add_person("AA", "Ann", False, by="-")
    wide = pallets_take(2, 3)
    one, two = (shop.open_batch(OpenBatch(shop.find_next_id(), wide, "d", "f", 1, 4), "AA").id for _ in range(2))
    shop.do(one, FormLoad(10), "AA")
    shop.do(two, FormLoad(10), "AA")
    shop.do(one, BeginRun(1), "AA")
    assert shop.elsewhere(two).taken("mill") == 2
    with pytest.raises(Refused, match="Pallet 2 takes 2 places, and Mill has 1 of 3 free beside Pallet 1"):
        shop.do(two, BeginRun(1), "AA")
    shop.close()


def test_from_paper_there_must_have_been_room_then() -> None:
    bench = open_bench(lambda: pallets_take(2, 3), start=8)
    one, two = bench.form(10), bench.form(10)
    bench.begin(one)
    bench.clock.forward(600)
    refused = bench.refused(TranscribeAct(BeginRun(two), bench.clock().at))
    assert refused.wrong.startswith("Pallet 2 takes 2 places, and Mill has 1 of 3 free beside Pallet 1 (load 1) from ")


def test_what_is_told_of_a_batch_under_way_must_have_had_room() -> None:
    bench = open_bench(lambda: pallets_take(2, 3), start=8)
    began = bench.clock().at
    rows = tuple(PlacedPieces("load", 4, 10, number, stands="runs", began=began) for number in (1, 2))
    bench.clock.forward(60)
    refused = bench.refused(EnterLate(rows, bench.clock().at), by="LL")
    assert refused.wrong == "Mill takes 3 places at once; entered: Pallet 1, Pallet 2"
    bench.say(EnterLate((rows[0], PlacedPieces("waiting", 4, 10)), bench.clock().at), by="LL")
    assert bench.run_of(1).station == "mill"


def test_a_run_that_comes_back_by_a_strike_needs_its_places() -> None:
    bench = open_bench(lambda: pallets_take(2, 3), start=4)
    bench.through(bench.form(10), 10)
    released = bench.state.entries[-1].seq
    bench.elsewhere = OtherBatches({"mill": ("Pallet 2 (load 1) of B0002",)}, places={"mill": 2})
    assert bench.refused(StrikeOut(released, "not yet")).why == "busy"
    bench.elsewhere = OtherBatches({"mill": ("Pallet 2 (load 1) of B0002",)}, places={"mill": 1})
    bench.say(StrikeOut(released, "not yet"))


def test_a_carrier_that_takes_the_room_of_two_makes_both_room() -> None:
    """Two pallets sit there still, probed; a third that takes two of the four places needs one of them away."""
    wide = ("runs_at_once = 2\n", "runs_at_once = 4\ncarrier_places = { pallet = 2 }\n")
    bench = open_bench(lambda: edited(*TWO_UP, wide), start=12)
    for load in (bench.form(10), bench.form(10)):
        bench.through(load, 10)
    assert len([key for key in bench.state.proofs if key[0] == "probed"]) == 2
    entry = bench.say(BeginRun(bench.form(10)))[0]
    assert entry.body["lifted"] == [1, 2], "nobody said which of them made room"


def test_a_machine_runs_one_cycle_however_many_pallets_are_on_its_bed() -> None:
    """Both pallets are loaded and proved; the spindle can only be at one of them."""
    bench = open_bench(two_up, start=8, order=8)
    first, second = bench.form(10), bench.form(10)
    for load in (first, second):
        bench.until(load, "start")
    bench.say(StartCycle(bench.run_of(first).number))
    refused = bench.refused(StartCycle(bench.run_of(second).number))
    assert (refused.why, refused.wrong) == ("busy", "Mill is running the cycle of Pallet 1 (load 1)")
    bench.say(StopCycle(bench.run_of(first).number, "stopped"))
    bench.say(StartCycle(bench.run_of(second).number))
    bench.through(second, 10)


def test_an_oven_and_a_machine_with_two_spindles_run_several() -> None:
    two = edited(*TWO_UP, ("runs_at_once = 2\ncarrier", "runs_at_once = 2\ncycles_at_once = 2\ncarrier"))
    bench = open_bench(lambda: two, start=8, order=8)
    loads = [bench.form(10), bench.form(10)]
    for load in loads:
        bench.until(load, "start")
    for load in loads:
        bench.say(StartCycle(bench.run_of(load).number))
    assert all(bench.run_of(load).running for load in loads)
    assert part().station("oven").most_cycles == 2


@pytest.mark.parametrize(
    ("pallets", "others", "said"),
    [
        (1, ["B0002"], "the only Pallet holds a load of B0002. Finish that load first."),
        (2, ["B0003", "B0002"], "all 2 Pallets are loaded, some for B0002 and B0003. Finish one of them first."),
        (1, [], "the only Pallet is loaded. Finish that load first."),
        (2, [], "all 2 Pallets are loaded. Finish one of them first."),
    ],
)
def test_that_no_carrier_is_free_names_the_batches_that_have_them(pallets: int, others: list[str], said: str) -> None:
    """Else a hand looks through all batches for the one vise that is missing."""
    part = open_bench().state.checklist
    few = tuple(replace(one, count=pallets) if one.id == "pallet" else one for one in part.carriers)
    bench = open_bench(lambda: replace(part, carriers=few), start=12)
    bench.elsewhere = OtherBatches(carriers={("pallet", n): other for n, other in enumerate(others, 1)})
    for _ in range(pallets - len(others)):
        bench.form(10)
    assert str(bench.refused(FormLoad(10))).lower() == said.lower()
