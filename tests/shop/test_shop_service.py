"""The shop's service on a real folder: two terminals, stations and carriers shared by batches, and what goes wrong."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from floor.batch.command import Context, Refused
from floor.batch.corrections.commands import Note, StrikeOut
from floor.batch.corrections.from_paper import TranscribeAct
from floor.batch.counting.commands import CountRun
from floor.batch.describe import describe
from floor.batch.fold import fold
from floor.batch.gates.commands import Prove, Waive
from floor.batch.gates.open_lot import OpenLot
from floor.batch.handover.page import build_handover_page
from floor.batch.lifecycle.commands import CloseBatch, FormLoad, OpenBatch, SetPiecesAside
from floor.batch.lifecycle.enter_half_done import EnterLate
from floor.batch.lifecycle.half_done import PaperProof, PlacedPieces
from floor.batch.lifecycle.transfer import TakeInBatch, TransferBatch
from floor.batch.search.trace import trace
from floor.batch.state import Batch
from floor.batch.stations.commands import Disturb
from floor.batch.stations.conditions import ClearCondition, ReportCondition
from floor.batch.stations.out_of_service import TakeOutOfService
from floor.batch.walk.commands import BeginRun
from floor.batch.walk.lines import Line
from floor.batch.walk.station_walk import build_walk
from floor.checklist.model import Checklist
from floor.entry import Draft, Entry
from floor.ledger import JournalFolder, JournalWriter, LedgerError, ReadOnly, WriteFailed
from floor.ledger.verify import verify_journal
from floor.papers.traveler import write_traveler
from floor.shop import Shop
from floor.shop.second_signature import PinToken
from floor.shop.shop_record import ShopRecord
from floor.shop.simulation import SimulatedOperator
from floor.shop.weaker_checklist import find_weaker
from tests.batch.factory import MORNING, StepClock, conserved, edited, part, two_mills


@pytest.fixture
def clock() -> StepClock:
    return StepClock(MORNING)


@pytest.fixture
def shop(tmp_path: Path, clock: StepClock) -> Iterator[Shop]:
    shop = Shop(tmp_path, clock)
    shop.add_person("LL", "Lee Lead", True, by="-")
    shop.add_person("AA", "Ann", False, by="LL")
    shop.add_person("BB", "Bo", False, by="LL")
    yield shop
    shop.close()


@pytest.fixture
def other(shop: Shop, tmp_path: Path, clock: StepClock) -> Iterator[Shop]:
    """The same shop at another terminal."""
    other = Shop(tmp_path, clock)
    yield other
    other.close()


def opened(shop: Shop, start: int = 8, by: str = "AA") -> str:
    return shop.open_batch(OpenBatch(shop.find_next_id(), part(), "digest", "part.toml", 1, start), by).id


def hand(shop: Shop, id: str, clock: StepClock) -> SimulatedOperator:
    return SimulatedOperator(shop, id, "AA", clock, second="BB")


def test_what_is_done_at_one_terminal_is_known_at_the_other(shop: Shop, other: Shop) -> None:
    id = opened(shop)
    assert other.refresh()
    assert not other.refresh(), "nothing happened since"
    shop.do(id, FormLoad(10), "AA")
    assert other.batch(id).loads == {}

    assert other.refresh()

    assert other.batch(id) == shop.batch(id)


def test_a_command_is_decided_on_the_newest_state_without_being_asked_to_look(shop: Shop, other: Shop) -> None:
    """Both terminals show eight pieces waiting; each takes four, and nobody takes a piece twice."""
    id = opened(shop)
    other.refresh()
    shop.do(id, FormLoad(10), "AA")
    other.do(id, FormLoad(10), "BB")

    with pytest.raises(Refused, match="o pieces wait for op 10"):
        shop.do(id, FormLoad(10), "AA")
    other.refresh()
    assert [load.pieces for load in shop.batch(id).loads.values()] == [(1, 2, 3, 4), (5, 6, 7, 8)]
    assert shop.batch(id) == other.batch(id)
    conserved(shop.batch(id))


def test_two_terminals_working_in_turns_fold_to_one_state(shop: Shop, other: Shop, clock: StepClock) -> None:
    id = opened(shop)
    other.refresh()
    load = hand(shop, id, clock).form(10)
    terminals = [hand(shop, id, clock), hand(other, id, clock)]
    terminals[0].do(BeginRun(load))
    turn = 0
    while shop.batch(id).loads[load].run is not None:
        (shop, other)[turn % 2].refresh()
        at = terminals[turn % 2].current(load)
        terminals[turn % 2].work(load, stop=lambda line, at=at: line != at)  # type: ignore[misc]
        (shop, other)[1 - turn % 2].refresh()
        turn += 1

    assert turn > 15
    assert shop.batch(id) == other.batch(id) == fold(shop.journals.open(id).entries)
    assert verify_journal(shop.journals.open(id)).sound


def test_batches_share_stations_and_carriers(shop: Shop, clock: StepClock) -> None:
    one, two = opened(shop), opened(shop)
    first, second = hand(shop, one, clock), hand(shop, two, clock)
    a, b = first.form(10), second.form(10)
    first.do(BeginRun(a))

    assert shop.batch(two).loads[b].carrier_number == 2, "pallet 1 carries the other batch's load"
    with pytest.raises(Refused, match=rf"Mill busy: Pallet 1 \(load 1\) of {one}"):
        second.do(BeginRun(b))
    first.form(10)
    with pytest.raises(Refused, match="ll 3 Pallets are loaded"):
        second.form(10)


def test_a_station_taken_by_another_terminals_batch_is_seen(shop: Shop, other: Shop, clock: StepClock) -> None:
    one = opened(shop)
    other.refresh()
    two = opened(other, by="BB")
    a = hand(shop, one, clock).form(10)
    shop.do(one, BeginRun(a), "AA")

    with pytest.raises(Refused, match=rf"busy: Pallet 1 \(load {a}\) of {one}"):
        other.do(two, BeginRun(hand(other, two, clock).form(10)), "BB")


def test_setting_a_station_up_takes_down_what_another_batch_had_there(shop: Shop, clock: StepClock) -> None:
    one, two = opened(shop), opened(shop)
    first, second = hand(shop, one, clock), hand(shop, two, clock)
    a = first.form(10)
    first.work(a)
    standing = shop.batch(one).find_setup("mill")
    assert standing is not None
    proofs = {key[0] for key in shop.batch(one).proofs}
    assert {"probed", "tool loaded", "program loaded"} <= proofs

    second.do(BeginRun(second.form(10)))

    assert shop.batch(one).find_setup("mill") is None
    assert {"probed", "tool loaded"} & {key[0] for key in shop.batch(one).proofs} == set()
    assert shop.batch(one).entries[-1].kind == "setup_taken_down"
    second.work(1)
    b = first.form(10)
    first.do(BeginRun(b))
    line = build_walk(shop.batch(one), first.run(b), clock(), "AA").line("program loaded 1")
    assert line is not None
    assert not line.is_satisfied


def test_a_strike_does_not_bring_a_load_back_onto_a_carrier_that_another_batch_uses(
    shop: Shop, other: Shop, clock: StepClock
) -> None:
    one = opened(shop, start=4)
    other.refresh()
    two = opened(other, start=4, by="BB")
    load = hand(shop, one, clock).form(10)
    for _ in range(3):
        hand(shop, one, clock).work(load)
    released = shop.batch(one).entries[-1]
    assert (released.kind, shop.batch(one).list_live_loads()) == ("released", [])
    other.do(two, FormLoad(10, carrier_number=1), "BB")

    with pytest.raises(Refused, match=f"but {two} has it"):
        shop.do(one, StrikeOut(released.seq, "still on the pallet"), "AA")


def closed_batch(shop: Shop, clock: StepClock) -> str:
    id = opened(shop, start=2)
    worker = hand(shop, id, clock)
    load = worker.form(10)
    for _ in range(3):
        worker.work(load)
    worker.work(worker.form(40))
    worker.work(worker.form(50))
    worker.do(CloseBatch())
    return id


def test_a_closed_batch_is_archived_and_still_read_and_traced(shop: Shop, other: Shop, clock: StepClock) -> None:
    id = closed_batch(shop, clock)

    assert [batch.id for batch in shop.batches] == []
    assert shop.closed() == [id]
    assert trace(shop.batch(id), 1).stays[0].position in ("A1", "one of 2 places")
    assert len(trace(shop.batch(id), 1).stays) == 5
    with pytest.raises(Refused, match="is closed or not here"):
        shop.do(id, Note("too late"), "AA")
    assert shop.find_next_id() == "B0002"
    assert other.closed() == [id]


def test_a_closed_batch_that_cannot_be_archived_keeps_nobody_from_the_others(
    shop: Shop, tmp_path: Path, clock: StepClock
) -> None:
    """Somebody copied a closed batch's file back among the open ones."""
    closed, going = closed_batch(shop, clock), opened(shop)
    shop.close()
    record = tmp_path / "record"
    (record / f"{closed}.json").write_bytes((record / "closed" / f"{closed}.json").read_bytes())

    again = Shop(tmp_path, clock)

    assert any(f"two records named {closed}" in trouble for trouble in again.troubles)
    assert [batch.id for batch in again.batches] == [going]
    again.do(going, Note("goes on"), "AA")
    assert not again.refresh()
    again.close()


def test_a_terminal_that_still_shows_a_batch_closed_elsewhere_is_told(
    shop: Shop, other: Shop, clock: StepClock
) -> None:
    id = opened(shop, start=2)
    other.refresh()
    shop.do(id, SetPiecesAside("scrap", "no stock", op=10, count=2), "AA")
    shop.do(id, CloseBatch("no stock"), "LL")

    with pytest.raises(Refused, match="is closed or not here"):
        other.do(id, Note("hello"), "BB")
    assert other.batches == []
    assert other.batch(id).closed is not None
    assert not other.refresh()


def test_opening_the_shop_again_finds_everything_as_it_was(shop: Shop, tmp_path: Path, clock: StepClock) -> None:
    one, two = opened(shop), opened(shop)
    load = hand(shop, one, clock).form(10)
    hand(shop, one, clock).work(load, stop=lambda line: line.key == "probed 1")
    states = {batch.id: batch for batch in shop.batches}
    shop.close()

    again = Shop(tmp_path, clock)

    assert {batch.id: batch for batch in again.batches} == states
    assert set(states) == {one, two}
    assert [person.initials for person in again.people.active] == ["LL", "AA", "BB"]
    assert hand(again, one, clock).current(load).key == "probed 1"  # type: ignore[union-attr]
    assert again.troubles == []
    again.close()


def test_a_refused_command_writes_nothing(shop: Shop, tmp_path: Path) -> None:
    id = opened(shop)
    before = {path: path.read_bytes() for path in tmp_path.rglob("*.json")}

    for command in (FormLoad(20), BeginRun(1), CloseBatch(), Note("")):
        with pytest.raises(Refused):
            shop.do(id, command, "LL")
    with pytest.raises(Refused):
        shop.open_batch(OpenBatch("B0009", part(), "d", "f", 10, 1), "AA")

    assert {path: path.read_bytes() for path in tmp_path.rglob("*.json")} == before


# --- people


def test_every_entry_names_a_person_of_the_shop(shop: Shop) -> None:
    """REC-33: attributable; no entry by nobody once somebody is known."""
    id = opened(shop)
    for nobody in ("ZZ", "", "-", "aa"):
        with pytest.raises(Refused, match="s not a person of this shop"):
            shop.do(id, Note("hello"), nobody)
    with pytest.raises(Refused, match="s not a person of this shop"):
        opened(shop, by="ZZ")


def test_a_lead_who_stepped_down_at_another_terminal_decides_nothing_here(shop: Shop, other: Shop) -> None:
    id = opened(shop, start=1)
    other.refresh()
    shop.add_person("MM", "Mo", True, by="LL")
    other.do(id, SetPiecesAside("scrap", "no stock", op=10, count=1), "LL")
    shop.change_person("LL", "MM", name="Lee", lead=False, left=False)

    with pytest.raises(Refused) as refused:
        other.do(id, CloseBatch("no stock"), "LL")
    assert refused.value.why == "authority"
    assert "MM" in refused.value.remedy
    shop.change_person("LL", "MM", name="Lee", lead=False, left=True)
    with pytest.raises(Refused, match="LL is not a person of this shop"):
        other.do(id, Note("hello"), "LL")


def test_wrong_tries_at_one_terminal_slow_the_other(shop: Shop, other: Shop, clock: StepClock) -> None:
    shop.set_pin("AA", "471108150", by="AA")
    for _ in range(3):
        with pytest.raises(Refused, match="is not the PIN"):
            shop.sign_in("AA", "0000")

    with pytest.raises(Refused, match="Too many wrong tries"):
        other.sign_in("aa", "471108150")
    clock.forward(3)
    assert other.sign_in("aa", "471108150").initials == "AA"
    record = b"".join(path.read_bytes() for path in shop.folder.rglob("*.json"))
    assert b"471108150" not in record
    assert record.count(b'"pin_refused"') == 3


# --- trouble


def spoil(path: Path, what: bytes, by: bytes) -> None:
    data = path.read_bytes()
    assert data.count(what) >= 1
    path.write_bytes(data.replace(what, by, 1))


def test_a_damaged_batch_is_reported_and_leaves_the_others_working(
    shop: Shop, tmp_path: Path, clock: StepClock
) -> None:
    sound, damaged = opened(shop), opened(shop)
    shop.do(damaged, Note("before the damage"), "AA")
    shop.do(damaged, Note("after it"), "AA")
    shop.close()
    spoil(tmp_path / "record" / f"{damaged}.json", b"before the damage", b"before THE damage")

    again = Shop(tmp_path, clock)

    assert len(again.troubles) == 1
    assert damaged in again.troubles[0]
    again.do(sound, Note("goes on"), "AA")
    assert [batch.id for batch in again.batches] == [sound, damaged]
    assert again.explain_read_only(sound) == ""
    assert again.explain_read_only(damaged)
    assert [entry.kind for entry in again.batch(damaged).entries] == ["batch_opened", "pieces_started"]
    with pytest.raises(LedgerError):
        again.do(damaged, Note("more"), "AA")
    again.close()


def test_a_batch_damaged_in_its_first_line_is_reported_and_leaves_the_others_working(
    shop: Shop, tmp_path: Path, clock: StepClock
) -> None:
    sound, damaged = opened(shop), opened(shop)
    shop.close()
    spoil(tmp_path / "record" / f"{damaged}.json", b"batch_opened", b"batch_opensd")

    again = Shop(tmp_path, clock)

    assert any(damaged in trouble for trouble in again.troubles)
    assert sound in [batch.id for batch in again.batches]
    again.do(sound, Note("goes on"), "AA")
    again.close()


def foreign(shop: Shop, id: str, kind: str) -> None:
    """What a newer Floor at another terminal may write."""
    journals = JournalFolder(shop.folder / "record")
    with journals.open(id).turn() as turn:
        turn.append([Draft(kind, {"grams": 12})], shop.now(), "AA")
    journals.close()


def test_entries_of_a_newer_floor_put_one_batch_out_of_reach_and_no_other(
    shop: Shop, tmp_path: Path, clock: StepClock
) -> None:
    sound, newer, third = opened(shop), opened(shop), opened(shop)
    foreign(shop, newer, "weighed")
    foreign(shop, third, "weighed")

    with pytest.raises(Refused) as refused:
        shop.do(newer, Note("hello"), "AA")
    assert refused.value.wrong.endswith("(weighed): a newer version of Floor wrote it")
    assert refused.value.remedy == "update Floor on this machine"
    assert shop.refresh()
    assert [batch.id for batch in shop.batches] == [sound]
    assert len(shop.troubles) == 2
    shop.do(sound, Note("goes on"), "AA")
    assert not shop.refresh(), "it is not tried again and again"
    shop.close()
    again = Shop(tmp_path, clock)
    assert [batch.id for batch in again.batches] == [sound]
    assert len(again.troubles) == 2
    assert all("a newer version of Floor wrote it. Update Floor on this machine" in one for one in again.troubles)
    with pytest.raises(Refused, match="cannot be opened") as refused:
        again.batch(newer)
    assert refused.value.remedy == "update Floor on this machine"
    again.close()


def test_a_batch_whose_opening_was_cut_off_is_no_batch(shop: Shop, tmp_path: Path, clock: StepClock) -> None:
    shop.journals.create("B0001")
    shop.close()

    again = Shop(tmp_path, clock)

    assert again.batches == []
    assert again.troubles == []
    assert again.find_next_id() == "B0002"
    again.close()


def test_similar_names_are_not_confused(shop: Shop, tmp_path: Path, clock: StepClock) -> None:
    """B0001 being unreadable says nothing of B00010."""
    for name in ("B00010", "B0001"):
        shop.open_batch(OpenBatch(name, part(), "d", "f", 1, 1), "AA")
    foreign(shop, "B0001", "weighed")
    shop.close()

    again = Shop(tmp_path, clock)

    assert [batch.id for batch in again.batches] == ["B00010"]
    again.close()


def test_a_name_that_leads_out_of_the_folder_is_refused(shop: Shop) -> None:
    for name in ("../B0001", "a/b", "", "x" * 65):
        with pytest.raises(LedgerError):
            shop.open_batch(OpenBatch(name, part(), "d", "f", 1, 1), "AA")
        with pytest.raises(Refused):
            shop.batch(name)


def at_the_oven(shop: Shop, id: str, clock: StepClock, exhaust: bool = True) -> int:
    """A load of the batch in the oven operation, its exhaust confirmed or not yet, and its cycle not started."""
    worker = hand(shop, id, clock)
    first = worker.form(10)
    for _ in (10, 20, 30):
        assert worker.work(first)
    load = worker.form(40)
    worker.work(load, stop=lambda line: line.kind == "start" if exhaust else line.title == "Exhaust of the oven runs")
    return load


def exhaust(shop: Shop, id: str, load: int, clock: StepClock) -> str:
    batch = shop.batch(id)
    run = batch.loads[load].run
    assert run is not None
    lines = build_walk(batch, batch.runs[run], clock(), "AA").lines
    return next(line.state for line in lines if line.title == "Exhaust of the oven runs")


def test_a_power_cut_reported_in_one_batch_voids_what_another_proved_at_that_station(
    shop: Shop, clock: StepClock
) -> None:
    one, two = opened(shop, 4), opened(shop, 4)
    load = at_the_oven(shop, one, clock)
    assert exhaust(shop, one, load, clock) == "done"

    shop.do(two, Disturb("oven", "power lost"), "BB")

    assert exhaust(shop, one, load, clock) == "now"
    told = shop.batch(one).entries[-1]
    assert (told.kind, told.by, told.body["note"]) == ("disturbed", "BB", f"entered on {two}")


def test_a_batch_that_proved_nothing_at_the_station_is_told_nothing(shop: Shop, clock: StepClock) -> None:
    one, two = opened(shop, 4), opened(shop, 4)
    before = shop.batch(one).seq

    shop.do(two, Disturb("oven", "power lost"), "BB")

    assert shop.batch(one).seq == before


def test_a_lifted_carrier_concerns_its_own_batch_alone(shop: Shop, clock: StepClock) -> None:
    one, two = opened(shop, 4), opened(shop, 4)
    at_the_oven(shop, one, clock)
    load = shop.do(two, FormLoad(10), "AA")[0].body["load"]
    before = shop.batch(one).seq

    shop.do(two, Disturb("oven", "lifted", load=load), "BB")

    assert shop.batch(one).seq == before


TWO_ON_ONE_ZERO = (
    ('offsets = ["G54"]\n', 'offsets = ["G54"]\nruns_at_once = 2\n'),
    ('gate = "program loaded"', 'gate = "program loaded", at = "load"'),
    ("tool = 1 }", 'tool = 1, at = "load" }'),
    ("tool = 2, length = false", 'tool = 2, at = "load", length = false'),
    ('at = "setup", per = "setup", self', 'at = "load", per = "load", self'),
)
"""The mill holds two pallets at once, both by G54, and needs no set-up between batches: all of it is asked by load."""


def opened_two_up(shop: Shop) -> str:
    id = shop.find_next_id()
    return shop.open_batch(OpenBatch(id, edited(*TWO_ON_ONE_ZERO), "digest", "part.toml", 1, 8), "AA").id


def probe(shop: Shop, id: str, load: int) -> list[Entry]:
    run = shop.batch(id).loads[load].run
    assert run is not None
    return shop.do(id, Prove(run, "probed 1", {"X": 0.0, "Z": 0.0}), "BB")


def seen(shop: Shop, id: str, load: int, clock: StepClock) -> Line:
    batch = shop.batch(id)
    run = batch.loads[load].run
    assert run is not None
    line = build_walk(batch, batch.runs[run], clock(), "AA").line("probed 1")
    assert line is not None
    return line


def test_a_zero_by_which_another_batch_is_being_cut_is_not_probed(shop: Shop, other: Shop, clock: StepClock) -> None:
    """Also at a terminal that has not looked since the cycle started."""
    one, two = opened_two_up(shop), opened_two_up(shop)
    first, second = hand(shop, one, clock), hand(other, two, clock)
    running, waiting = first.form(10), second.form(10)
    for worker, load in ((first, running), (second, waiting)):
        worker.work(load, stop=lambda line: line.key == "probed 1")
    first.work(running, stop=lambda line: line.kind == "end", wait=False)

    with pytest.raises(Refused) as refused:
        probe(other, two, waiting)
    assert refused.value.wrong == f"Pallet 1 (load {running}) of {one} is being cut in G54 now: nobody can probe it"
    assert refused.value.remedy == "end or stop that cycle (x) first"
    assert other.batch(two).entries[-1].kind == "attempt_refused"

    first.work(running, stop=lambda line: line.kind == "count")
    probe(other, two, waiting)
    assert seen(other, two, waiting, clock).is_satisfied


REPEATS = (
    '{ name = "Z", low = "-0.1 mm", high = "0.1 mm" }]',
    '{ name = "Z", low = "-0.1 mm", high = "0.1 mm" }], repeats = "0.02 mm"',
)


@pytest.mark.parametrize("closed", [False, True])
def test_a_carrier_that_repeats_is_compared_with_the_batch_before(
    shop: Shop, other: Shop, clock: StepClock, closed: bool
) -> None:
    """Also once that batch is closed, which nobody reads again."""
    one, two = (
        shop.open_batch(OpenBatch(id, edited(REPEATS), "digest", "part.toml", 1, 4), "AA").id
        for id in ("B0001", "B0002")
    )
    first = hand(shop, one, clock)
    load = first.form(10)
    first.work(load, stop=lambda line: line.key == "probed 1")
    shop.do(one, Prove(1, "probed 1", {"X": 0.0, "Z": 0.08}), "AA")
    first.work(load)
    shop.do(one, SetPiecesAside("scrap", "spoiled", load=load, count=4), "AA")
    if closed:
        shop.do(one, CloseBatch("enough"), "LL")

    second = hand(other, two, clock)
    load = second.form(10)
    assert other.batch(two).loads[load].carrier_number == 1
    second.work(load, stop=lambda line: line.key == "probed 1")
    probe(other, two, load)
    line = seen(other, two, load, clock)
    assert line.verdict is not None
    assert line.verdict.why == "G54 Z 0 mm, 0.08 mm off the earlier 0.08 mm on Pallet 1 (limit: 0.02 mm)"


def test_a_zero_set_for_one_batch_is_no_longer_that_of_another_beside_it(shop: Shop, clock: StepClock) -> None:
    one, two = opened_two_up(shop), opened_two_up(shop)
    first, second = hand(shop, one, clock), hand(shop, two, clock)
    mine, theirs = first.form(10), second.form(10)
    first.work(mine, stop=lambda line: line.key == "probed 1")
    second.work(theirs, stop=lambda line: line.key == "probed 1")
    probe(shop, two, theirs)
    assert seen(shop, two, theirs, clock).is_satisfied

    first.work(mine, stop=lambda line: line.key == "probed 1")
    probe(shop, one, mine)
    line = seen(shop, two, theirs, clock)
    assert not line.is_satisfied
    assert line.verdict is not None
    assert "void" in line.verdict.why
    assert shop.batch(two).entries[-1].body["note"] == f"probed for {one}"


def test_what_was_proved_at_another_terminal_at_that_very_moment_is_told_of_too(
    shop: Shop, other: Shop, clock: StepClock
) -> None:
    one, two = opened(shop, 4), opened(shop, 4)
    load = at_the_oven(shop, one, clock, exhaust=False)
    other.refresh()
    assert exhaust(shop, one, load, clock) == "now"

    class PowerLost(Disturb):
        def decide(self, batch: Batch, context: Context) -> list[Draft]:
            hand(other, one, clock).work(load, stop=lambda line: line.kind == "start")
            return super().decide(batch, context)

    shop.do(two, PowerLost("oven", "power lost"), "BB")

    assert shop.batch(one).entries[-1].kind == "disturbed"
    assert exhaust(shop, one, load, clock) == "now"
    assert shop.batch(one) == fold(shop.journals.open(one).entries), "with what the other terminal had written"


def test_what_a_damaged_batch_does_not_take_is_told_to_no_other(shop: Shop, tmp_path: Path, clock: StepClock) -> None:
    one, damaged = opened(shop, 4), opened(shop, 4)
    at_the_oven(shop, one, clock)
    shop.do(damaged, Note("before the damage"), "AA")
    shop.do(damaged, Note("after it"), "AA")
    shop.close()
    spoil(tmp_path / "record" / f"{damaged}.json", b"before the damage", b"before THE damage")
    again = Shop(tmp_path, clock)
    before = again.batch(one).seq

    with pytest.raises(ReadOnly):
        again.do(damaged, Disturb("oven", "power lost"), "BB")

    assert again.batch(one).seq == before
    again.close()


# --- second signatures (CBP-33, REC-33: a signature is its owner's)


def at_second_look(shop: Shop, clock: StepClock) -> tuple[str, Prove]:
    id = opened(shop, 4)
    worker = hand(shop, id, clock)
    load = worker.form(10)
    worker.work(load, stop=lambda line: line.key == "signed 1")
    return id, Prove(worker.run(load).number, "signed 1", {"person": "BB"})


def test_a_second_signature_takes_evidence_that_its_pin_was_checked(shop: Shop, other: Shop, clock: StepClock) -> None:
    shop.set_pin("BB", "no hex", by="BB")
    shop.set_pin("LL", "0815", by="LL")
    id, sign = at_second_look(shop, clock)
    before = shop.batch(id).seq

    made, elsewhere = PinToken("BB", shop.now()), other.check_second("BB", "no hex")
    for seconds in ((), (made,), (elsewhere,), (shop.check_second("LL", "0815"),)):
        with pytest.raises(Refused, match="BB has a PIN and it was not checked") as refused:
            shop.do(id, sign, "AA", *seconds)
        assert refused.value.why == "authority"
    assert shop.batch(id).seq == before
    entry = shop.do(id, sign, "AA", shop.check_second("BB", "no hex"))[0]

    assert (entry.by, entry.body["values"]) == ("AA", {"person": "BB"})
    assert b"no hex" not in b"".join(path.read_bytes() for path in shop.folder.rglob("*.json"))


def test_who_has_no_pin_signs_second_for_nobody_once_the_shop_has_pins(shop: Shop, clock: StepClock) -> None:
    """REC-33: initials that anybody can type are no second signature, from a form or by a command."""
    id, sign = at_second_look(shop, clock)
    shop.set_pin("LL", "0815", by="LL")
    before = shop.batch(id).seq
    by_bb = lambda: shop.do(id, sign, "BB")  # noqa: E731 - who merely signs in as BB
    for asked in (lambda: shop.check_second("BB", ""), lambda: shop.do(id, sign, "AA"), by_bb):
        with pytest.raises(
            Refused, match=r"^BB has no PIN\. They or a lead set one first: c on What next\.$"
        ) as refused:
            asked()
        assert (refused.value.why, refused.value.field) == ("authority", "pin")
    assert shop.batch(id).seq == before
    assert not shop.people.known["BB"].has_pin


def test_where_everyone_needs_a_pin_nobody_enters_anything_without(tmp_path: Path, clock: StepClock) -> None:
    """REC-33: no shared sign-in; by screen, badge and command alike, as all of them come to `sign_in` and `do`."""
    shop = Shop(tmp_path / "shop", clock)
    shop.add_person("LL", "Lena", True, by="LL", pin="2468")
    shop.add_person("AA", "Arne", False, by="LL")
    id = opened(shop, by="AA")
    (shop.folder / "shop.toml").write_text("pin_for_everyone = true")
    shop.close()

    shop = Shop(shop.folder, clock)
    for asked in (
        lambda: shop.sign_in("AA"),
        lambda: shop.check_second("AA", ""),
        lambda: shop.do(id, Note("x"), "AA"),
    ):
        with pytest.raises(Refused, match=r"^AA has no PIN\. They or a lead set one first: c on What next\.$"):
            asked()
    shop.set_pin("AA", "4711", by="AA", first=True)
    assert shop.do(id, Note("hello"), "AA")[0].by == "AA"

    shop.close()
    later = Shop(shop.folder, clock)
    with pytest.raises(Refused, match="needs the PIN of AA"):
        later.do(id, Note("hello"), "AA")
    with pytest.raises(Refused, match="not the PIN of AA"):
        later.sign_in("AA", "1111")
    later.sign_in("AA", "4711")
    assert later.do(id, Note("hello"), "AA")[0].by == "AA"
    later.close()


def test_in_a_shop_without_any_pin_initials_are_a_signature(shop: Shop, clock: StepClock) -> None:
    id, sign = at_second_look(shop, clock)
    assert shop.do(id, sign, "AA", shop.check_second("BB", ""))[0].body["values"] == {"person": "BB"}


def test_a_signature_on_the_papers_of_a_half_done_batch_takes_its_owners_pin(shop: Shop, clock: StepClock) -> None:
    shop.set_pin("LL", "0815", by="LL")
    shop.set_pin("BB", "4711", by="BB")
    shop.set_pin("AA", "1111", by="AA")
    signed = PaperProof(10, "signed 1", {"person": "BB"}, "AA", clock().at)
    late = EnterLate((PlacedPieces("waiting", 4, 20),), clock().at, (signed,), "AA")

    def opening() -> OpenBatch:
        return OpenBatch(shop.find_next_id(), part(), "d", "f", 1, 4, late=late)

    for seconds in ((), (shop.check_second("AA", "1111"),)):
        with pytest.raises(Refused, match="BB has a PIN and it was not checked|AA has a PIN"):
            shop.open_batch(opening(), "LL", *seconds)
    assert not shop.batches
    both = shop.check_second("AA", "1111"), shop.check_second("BB", "4711")
    assert shop.open_batch(opening(), "LL", *both).late is not None


# --- a lead decides by a PIN (CBP-37)


def test_a_lead_decides_only_by_the_pin_given_at_this_terminal(shop: Shop, other: Shop) -> None:
    id = opened(shop)
    other.refresh()
    close = CloseBatch("for the test")
    shop.do(id, SetPiecesAside("scrap", "not needed", op=10, count=8), "LL")
    assert shop.context(id, "LL").by.lead, "nobody has a PIN yet, as on the first day"

    shop.set_pin("AA", "1111", by="AA")
    with pytest.raises(Refused, match="needs the PIN of LL. LL signs in again with it") as refused:
        shop.do(id, close, "LL")
    assert refused.value.why == "authority"
    shop.set_pin("LL", "0815", by="LL")
    other.refresh()
    assert shop.context(id, "LL").by.lead, "chosen here by its owner"
    assert not other.context(id, "LL").by.lead
    with pytest.raises(Refused, match="needs the PIN of LL"):
        other.do(id, close, "LL")
    with pytest.raises(Refused, match="is not the PIN"):
        other.sign_in("LL", "0000")
    other.check_second("LL", "0815")
    assert not other.context(id, "LL").by.lead, "signing second is not signing in"
    other.sign_in("LL", "0815")
    other.do(id, close, "LL")


def test_the_registers_too_ask_for_the_pin_of_a_lead(shop: Shop, other: Shop) -> None:
    shop.set_pin("LL", "0815", by="LL")
    other.refresh()
    for attempt in (
        lambda: other.add_person("CC", "Cy", False, by="LL"),
        lambda: other.change_person("BB", "LL", name="Bo", lead=False, left=True),
        lambda: other.set_pin("BB", "1234", by="LL"),
        lambda: other.add_gauge("X1", "Depth micrometer", "2026-12-31", by="LL"),
    ):
        with pytest.raises(Refused, match="needs the PIN of LL"):
            attempt()
    assert set(other.people.known) == {"LL", "AA", "BB"}
    other.sign_in("LL", "0815")
    other.set_pin("BB", "1234", by="LL")


def test_a_lead_whose_pin_was_reset_decides_nothing_until_signed_in_with_the_new_one(shop: Shop) -> None:
    shop.set_pin("LL", "0815", by="LL")
    shop.add_person("MM", "Mo", True, by="LL", pin="2222")
    assert not shop.context("", "MM").by.lead, "typed by the lead who added MM"
    shop.sign_in("MM", "2222")
    assert shop.context("", "MM").by.lead
    shop.set_pin("MM", "3333", by="LL")
    assert not shop.context("", "MM").by.lead
    assert shop.sign_in("MM", "3333").set_by == "LL", "told at the next sign-in"
    shop.set_pin("MM", "4444", by="MM")
    assert shop.people.known["MM"].set_by == ""


def test_who_did_not_give_their_pin_here_cannot_replace_it_with_one_they_know(shop: Shop, other: Shop) -> None:
    """As where somebody stayed signed in at a terminal while a lead set them a new PIN at another."""
    shop.set_pin("LL", "0815", by="LL")
    other.refresh()
    with pytest.raises(Refused, match="needs the PIN of LL") as refused:
        other.set_pin("LL", "9999", by="LL")
    assert refused.value.why == "authority"
    assert not other.may_lead("LL")
    other.sign_in("LL", "0815")
    other.set_pin("LL", "9999", by="LL")
    assert other.may_lead("LL")


def test_of_two_first_pins_set_at_two_terminals_the_earlier_stays(shop: Shop, other: Shop) -> None:
    shop.set_pin("LL", "0815", by="LL", first=True)
    with pytest.raises(Refused, match="LL has a PIN already"):
        other.set_pin("LL", "9999", by="LL", first=True)
    assert other.sign_in("LL", "0815").initials == "LL"
    assert not other.may_lead("AA")


def test_evidence_of_a_pin_is_good_once_and_for_two_minutes(shop: Shop, clock: StepClock) -> None:
    shop.set_pin("BB", "4711", by="BB")
    id, sign = at_second_look(shop, clock)
    receipt = shop.check_second("BB", "4711")
    clock.forward(121)
    clock.step(-3600)  # setting the clock back makes it no younger
    with pytest.raises(Refused, match="checked too long ago"):
        shop.do(id, sign, "AA", receipt)
    receipt = shop.check_second("BB", "4711")
    signed = shop.do(id, sign, "AA", receipt)[0]
    shop.do(id, StrikeOut(signed.seq, "looked at the wrong tool"), "AA")

    with pytest.raises(Refused, match="it was not checked"):
        shop.do(id, sign, "AA", receipt)


def test_a_waiver_is_signed_with_a_pin_too(shop: Shop, clock: StepClock) -> None:
    id = opened(shop, 4)
    worker = hand(shop, id, clock)
    worker.second = "LL"
    load = worker.form(10)
    worker.work(load)
    worker.work(load, stop=lambda line: line.key == "lot recorded 1")
    waive = Waive(worker.run(load).number, "lot recorded 1", "label torn off", "BB")
    shop.set_pin("LL", "0815", by="LL")
    with pytest.raises(Refused, match="BB has no PIN"):
        shop.do(id, waive, "LL")
    shop.set_pin("BB", "4711", by="BB")
    with pytest.raises(Refused, match="BB has a PIN"):
        shop.do(id, waive, "LL")
    shop.do(id, waive, "LL", shop.check_second("BB", "4711"))
    assert shop.batch(id).list_open_waivers()[0].second == "BB"


def test_who_has_no_pin_signs_with_initials(shop: Shop, clock: StepClock) -> None:
    id, sign = at_second_look(shop, clock)

    assert shop.do(id, sign, "AA")[0].body["values"] == {"person": "BB"}


def test_a_damaged_closed_batch_says_what_is_missing_and_gives_what_can_be_read(
    shop: Shop, tmp_path: Path, clock: StepClock
) -> None:
    id = closed_batch(shop, clock)
    whole = shop.batch(id)
    assert whole.damage == ""
    shop.close()
    counted = next(entry for entry in whole.entries if entry.kind == "counted")
    spoil(tmp_path / "record" / "closed" / f"{id}.json", counted.hash.encode(), b"0" * 64)

    again = Shop(tmp_path, clock)
    batch = again.batch(id)

    assert f"The record of {id} is damaged at entry {counted.seq}, at byte" in batch.damage
    assert "entries before it are sound and can be read" in batch.damage
    assert batch.entries == whole.entries[: counted.seq - 1]
    paper = " ".join(write_traveler(batch, 1, again.now(), batch.entries[-1].hash).split())
    assert f"THE RECORD IS DAMAGED, and this paper is not complete. The record of {id}" in paper
    with pytest.raises(Refused, match="is closed or not here"):
        again.do(id, Note("more"), "AA")
    again.close()


def test_a_closed_batch_of_which_nothing_can_be_read_says_where_it_is_damaged(
    shop: Shop, tmp_path: Path, clock: StepClock
) -> None:
    id = closed_batch(shop, clock)
    shop.close()
    spoil(tmp_path / "record" / "closed" / f"{id}.json", b"batch_opened", b"batch_opensd")

    again = Shop(tmp_path, clock)
    with pytest.raises(Refused, match=f"record of {id} is damaged at entry 1"):
        again.batch(id)
    again.close()


def test_a_batch_is_opened_half_done_in_one_go_or_not_at_all(tmp_path: Path) -> None:
    """Its carriers count as taken for others, its set-ups are no longer theirs; a PIN is required."""
    clock = StepClock(MORNING)
    shop = Shop(tmp_path, clock)
    shop.add_person("LL", "Lee", True, by="-")
    shop.add_person("BB", "Bo", False, by="LL")
    other = shop.open_batch(OpenBatch(shop.find_next_id(), part(), "d", "f", 1, 8), "LL").id
    hand = SimulatedOperator(shop, other, "LL", clock, second="BB")
    hand.work(hand.form(10), stop=lambda line: line.key == "load step 1")
    hand.do(SetPiecesAside("scrap", "fell down", load=1, count=4))
    assert shop.batch(other).find_setup("mill") is not None
    shop.set_pin("LL", "0815", by="LL")
    shop.set_pin("BB", "4711", by="LL")
    clock.forward(3600)
    cut = PlacedPieces("load", 4, 10, 2, stands="runs", began=clock().at)

    def opened(row: PlacedPieces, second: str = "") -> OpenBatch:
        late = EnterLate((row, PlacedPieces("waiting", 4, 10)), clock().at, second=second)
        return OpenBatch(shop.find_next_id(), part(), "d", "f", 1, 8, late=late)

    with pytest.raises(Refused, match="8 pieces started, 7 accounted for"):
        shop.open_batch(opened(replace(cut, count=3)), "LL")
    with pytest.raises(Refused, match="BB has a PIN"):
        shop.open_batch(opened(cut, "BB"), "LL")
    assert [batch.id for batch in shop.batches] == [other]
    batch = shop.open_batch(opened(cut, "BB"), "LL", shop.check_second("BB", "4711"))

    assert batch.total("load") == 4
    assert [entry.kind for entry in batch.entries] == ["batch_opened", "pieces_started", "entered_late"]
    assert shop.batch(other).find_setup("mill") is None
    with pytest.raises(Refused, match="Pallet 2 is not free"):
        shop.do(other, FormLoad(10, carrier_number=2), "LL")
    shop.close()
    again = Shop(tmp_path, clock)
    assert again.batch(batch.id) == batch
    again.close()


# --- what a command sees of the shop


def test_a_command_sees_who_gives_it_and_who_is_there(shop: Shop) -> None:
    id = opened(shop)
    shop.change_person("BB", "LL", name="Bo", lead=True, left=True)
    for by, lead in (("LL", True), ("AA", False), ("BB", False), ("ZZ", False), ("", False)):
        context = shop.context(id, by)
        assert (context.by.initials, context.by.lead) == (by, lead), "who has left decides nothing"
        assert (context.leads, context.people) == (frozenset({"LL"}), frozenset({"LL", "AA"}))
        assert context.now == shop.now()


def test_a_command_sees_what_the_other_open_batches_hold(shop: Shop, clock: StepClock) -> None:
    one, two, three, gone = opened(shop), opened(shop, 12), opened(shop), opened(shop, 1)
    first = hand(shop, one, clock)
    load = first.form(10)
    first.work(load, stop=lambda line: line.kind == "end", wait=False)
    second = hand(shop, two, clock)
    waiting = second.form(10)
    hand(shop, gone, clock).form(10)
    shop.do(gone, TransferBatch("the other shop"), "LL")
    shop.do(three, TakeOutOfService("oven", "door jams"), "AA")

    seen = shop.elsewhere(two)
    assert seen.runs == {"mill": (f"Pallet 1 (load {load}) of {one}",)}
    assert seen.carriers == {("pallet", 1): one}
    assert seen.places == {"mill": 1}
    assert seen.worn == {("mill", 1): 0.0, ("mill", 2): 0.0}
    assert set(seen.outages) == {"oven"}
    assert shop.elsewhere(one).carriers == {("pallet", 2): two}
    assert (shop.elsewhere(one).runs, shop.elsewhere(one).places) == ({}, {})
    assert shop.elsewhere(three).carriers == {("pallet", 1): one, ("pallet", 2): two}
    before = clock().at - timedelta(hours=1)
    assert shop.elsewhere(two, before).runs == {}
    assert shop.elsewhere(two, clock().at).runs == {"mill": (f"Pallet 1 (load {load}) of {one}",)}
    assert waiting
    assert shop.due(clock()) == shop.due()


def test_the_next_name_is_free_whatever_lies_there(shop: Shop, tmp_path: Path) -> None:
    assert shop.find_next_id() == "B0001"
    assert opened(shop) == "B0001"
    shop.journals.create("B0007x")
    shop.journals.create("trial")
    assert shop.find_next_id() == "B0002"
    shop.journals.create("B0041")
    assert shop.find_next_id() == "B0042"


def test_who_is_added_or_signs_in_is_given_back(shop: Shop) -> None:
    added = shop.add_person(" cy ", "Cyd", False, by="LL")
    assert (added.initials, added.name, added.lead, added.left) == ("CY", "Cyd", False, False)
    assert shop.sign_in("cy") is shop.people.known["CY"]


def test_what_was_entered_and_refused_stays_on_record(shop: Shop, clock: StepClock) -> None:
    """REC-38: an expired lot, a zero that another load is cut by, a count that does not add up."""
    id = opened(shop)
    hand = SimulatedOperator(shop, id, "AA", clock, second="BB")
    load = hand.form(10)
    hand.work(load)
    hand.work(load, stop=lambda line: line.key == "lot recorded 1")
    run = hand.run(load).number
    for command in (
        Prove(run, "lot recorded 1", {"lot": "L1", "use_by": "2026-01-31"}),
        OpenLot("lacquer", "L1", "2026-01-31"),
    ):
        with pytest.raises(Refused, match="which is past"):
            shop.do(id, command, "AA")
    with pytest.raises(Refused, match="years away"):
        shop.do(id, Prove(run, "lot recorded 1", {"lot": "L1", "use_by": "9999-01-31"}), "AA")
    hand.work(load, stop=lambda line: line.kind == "count")
    with pytest.raises(Refused, match="too few"):
        shop.do(id, CountRun(run, 1), "AA")

    batch = shop.batch(id)
    kept = [entry for entry in batch.entries if entry.kind == "attempt_refused"]
    assert [(entry.body["what"], entry.by) for entry in kept] == [
        ("past its date", "AA"), ("past its date", "AA"), ("does not add up", "AA")
    ]  # fmt: skip
    assert describe(batch, kept[0]).endswith("L1, use by 2026-01-31; refused, past its date")
    assert batch == fold(batch.entries, checklist=batch.checklist), "and is read back the same"
    hand.work(load)
    assert shop.batch(id).runs[run].count is not None, "the work goes on"


def test_a_refusal_that_cannot_be_kept_is_said_all_the_same(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    """On a full disk the person still reads why the lot is refused; that it was not kept is news."""
    id = opened(shop)

    def full(*_: object) -> list[Entry]:
        raise WriteFailed("The disk is full.")

    monkeypatch.setattr(JournalWriter, "append", full)
    with pytest.raises(Refused, match="which is past"):
        shop.do(id, OpenLot("lacquer", "L1", "2026-01-31"), "AA")
    assert shop.troubles == ["The disk is full."]


def test_a_guard_off_is_known_to_every_batch_and_to_later_ones(shop: Shop) -> None:
    one, two = opened(shop), opened(shop)
    shop.do(one, ReportCondition("mill", "guard off", "hinge broke"), "AA")
    assert [stands.note for stands in shop.batch(two).conditions.values()] == ["hinge broke"]
    three = opened(shop)
    assert [(stands.by, stands.note) for stands in shop.batch(three).conditions.values()] == [("AA", "hinge broke")]
    shop.do(three, ClearCondition("mill", "guard off", "mended"), "BB")
    assert not any(shop.batch(id).conditions for id in (one, two, three, opened(shop)))


def test_what_is_cleared_is_told_only_where_it_stands(shop: Shop) -> None:
    """A batch that never goes to that station keeps nobody from clearing it."""
    one, other = opened(shop), edited(('"mill"', '"router"'))
    two = shop.open_batch(
        OpenBatch(shop.find_next_id(), other, "other", "part.toml", 1, 4, weaker_why="router"), "LL"
    ).id
    shop.do(one, ReportCondition("mill", "guard off", "hinge broke"), "AA")
    assert not shop.batch(two).conditions
    before = shop.batch(two).seq
    shop.do(one, ClearCondition("mill", "guard off", "mended"), "AA")
    assert not shop.batch(one).conditions
    assert shop.batch(two).seq == before


def test_a_newest_batch_that_is_nowhere_is_no_bar(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    """The shop's record names one that was brought back from a copy without it."""
    monkeypatch.setattr(ShopRecord, "find_newest_and_strongest", lambda *_: ("B0099", "B0098"))
    assert find_weaker(shop, part()) is None


def test_a_strongest_batch_that_is_nowhere_is_not_named(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    one = opened(shop)
    monkeypatch.setattr(ShopRecord, "find_newest_and_strongest", lambda *_: (one, "B0098"))
    before = find_weaker(shop, edited(('high = "85 pct"', 'high = "90 pct"')))
    assert before is not None
    assert (before.batch, before.strongest, before.earlier) == (one, "", ())


def test_a_checklist_that_protects_less_is_opened_by_a_lead_with_a_reason(shop: Shop) -> None:
    """SAF-15: also against a batch that is closed by now, and said at the next handover."""
    one = opened(shop)
    coat = '{ do = "Brush the coat on", id = "coat", at = "load", skip = false }'
    looser = edited((coat, coat.replace(", skip = false", "")))

    def opening(why: str = "") -> OpenBatch:
        return OpenBatch(shop.find_next_id(), looser, "other", "part.toml", 1, 4, weaker_why=why)

    before = find_weaker(shop, looser)
    assert before is not None
    assert (before.batch, [tuple(point) for point in before.lost]) == (
        one, [("step may be skipped", "Brush the coat on", 20, "", "")]
    )  # fmt: skip
    assert (before.strongest, before.earlier) == ("", ()), "it is the only one"
    with pytest.raises(Refused, match="needs a lead"):
        shop.open_batch(opening("the robot brushes it"), "AA")
    with pytest.raises(Refused, match="needs a reason"):
        shop.open_batch(opening(), "LL")
    shop.do(one, SetPiecesAside("scrap", "not needed", op=10, count=8), "LL")
    shop.do(one, CloseBatch("for the test"), "LL")
    assert find_weaker(shop, looser) is not None, "the closed one is read"
    batch = shop.open_batch(opening("the robot brushes it"), "LL")
    kept = next(entry for entry in batch.entries if entry.kind == "checklist_weakened")
    assert describe(batch, kept) == (
        f"weaker than the checklist of {one}: op 20, step may now be skipped: Brush the coat on. the robot brushes it"
    )
    assert any("the robot brushes it" in line.text for line in build_handover_page(batch, shop.now())[-3].lines)
    assert find_weaker(shop, looser) is None, "the next one is as good as this"
    assert find_weaker(shop, part()) is None


def test_a_closed_batch_is_read_once_for_a_new_one(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    one = opened(shop)
    shop.do(one, SetPiecesAside("scrap", "not needed", op=10, count=8), "LL")
    shop.do(one, CloseBatch("for the test"), "LL")
    read: list[str] = []
    monkeypatch.setattr(shop, "batch", lambda id: read.append(id) or Shop.batch(shop, id))
    opened(shop)
    assert read == [one]


def test_small_steps_are_compared_with_the_strongest_checklist_too(shop: Shop) -> None:
    """However the part's number is written; what a lead accepted is not asked again, and is said at the next step."""
    one = opened(shop)
    limits = ["85 pct", "88 pct", "90 pct"]

    def looser(limit: str, number: str = "KB-7") -> Checklist:
        return edited(('high = "85 pct"', f'high = "{limit}"'), ('number = "KB-7"', f'number = "{number}"'))

    def opening(checklist: Checklist, why: str = "") -> OpenBatch:
        return OpenBatch(shop.find_next_id(), checklist, "other", "part.toml", 1, 4, weaker_why=why)

    second = shop.open_batch(opening(looser("88 pct", "kb-7 "), "dry room now"), "LL").id
    assert find_weaker(shop, looser("88 pct", "Kb -7")) is None
    again = shop.open_batch(opening(looser("88 pct")), "AA").id
    before = find_weaker(shop, looser("90 pct"))
    assert before is not None
    assert (before.batch, [one.was for one in before.lost]) == (again, limits[1:2])
    assert (before.strongest, [one.was for one in before.earlier]) == (one, limits[:1])
    batch = shop.open_batch(opening(looser("90 pct"), "dryer still"), "LL")
    kept = next(entry for entry in batch.entries if entry.kind == "checklist_weakened")
    assert f". Since {one}: op 20, upper limit raised: Measure humidity (85 pct, now 90 pct). dryer" in describe(
        batch, kept
    )
    shop.open_batch(opening(part()), "AA")
    now = find_weaker(shop, looser("88 pct"))
    assert now is not None
    assert not now.earlier, "the newest is the strongest again"
    assert second != again


def test_a_batch_that_comes_back_knows_what_stands_at_the_stations_now(shop: Shop) -> None:
    one, away = opened(shop), opened(shop)
    shop.do(one, ReportCondition("mill", "lock on", "belt"), "AA")
    assert [stands.what for stands in shop.batch(away).conditions.values()] == ["lock on"]
    shop.do(away, TransferBatch("the other machine"), "LL")
    shop.do(one, ClearCondition("mill", "lock on", "belt is on"), "AA")
    shop.do(one, ReportCondition("mill", "guard off", "hinge broke"), "AA")
    shop.do(away, TakeInBatch("not sent", withdrawn=True), "LL")
    assert [stands.what for stands in shop.batch(away).conditions.values()] == ["guard off"]
    assert shop.batch(away) == fold(shop.batch(away).entries)


def test_a_refused_entry_from_paper_locks_its_own_act_out_of_nothing(shop: Shop, clock: StepClock) -> None:
    """It is written at the time of now, and is no act at the station."""
    id = opened(shop)
    hand = SimulatedOperator(shop, id, "AA", clock, second="BB")
    load = hand.form(10)
    hand.work(load)
    hand.work(load, stop=lambda line: line.key == "lot recorded 1")
    run, then = hand.run(load).number, clock().at
    clock.forward(3600)
    for use_by, right in (("2026-01-31", False), ("2027-01-31", True)):
        act = TranscribeAct(Prove(run, "lot recorded 1", {"lot": "L1", "use_by": use_by}), then + timedelta(minutes=1))
        if right:
            shop.do(id, act, "AA")
        else:
            with pytest.raises(Refused, match="which is past"):
                shop.do(id, act, "AA")
    assert shop.batch(id).entries[-1].kind == "proved"


def test_a_batch_of_another_route_is_told_of_no_station_that_it_has_not(shop: Shop) -> None:
    one = opened(shop)
    other = shop.open_batch(OpenBatch(shop.find_next_id(), two_mills(), "d", "f", 1, 4), "LL").id
    shop.do(other, ReportCondition("mill 2", "guard off", "hinge broke"), "AA")
    assert shop.batch(one).conditions == {}
    assert opened(shop)
    assert shop.batches[-1].conditions == {}
