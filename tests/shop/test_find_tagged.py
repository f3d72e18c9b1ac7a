"""Where a scanned tag leads, and what is said of one that leads nowhere."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta, timezone
from pathlib import Path

import pytest

from floor.batch.corrections.commands import StrikeOut
from floor.batch.gates.open_lot import OpenLot
from floor.batch.lifecycle.commands import CloseBatch, FormLoad, OpenBatch, SetPiecesAside
from floor.batch.lifecycle.transfer import TransferBatch
from floor.batch.search.recorded_lots import list_recorded_lots
from floor.batch.tag import TagKind, format_tag, make_tag
from floor.shop import Shop
from floor.shop import find_tagged as module
from floor.shop.find_tagged import (
    BatchPlace,
    GaugePlace,
    LotPlace,
    NoPlace,
    PersonPlace,
    RunPlace,
    StationPlace,
    ToolPlace,
    WaitingPlace,
    find_tagged,
    name_tagged,
)
from floor.shop.maintenance import receive_batch, review_bundle, send_batch
from floor.shop.simulation import ManualClock, SimulatedOperator
from tests.batch.factory import part, two_mills
from tests.papers.half_done import work_to_half

MORNING = datetime(2026, 3, 2, 7, 0, tzinfo=timezone(timedelta(hours=1)))


@pytest.fixture
def clock() -> ManualClock:
    return ManualClock(MORNING)


@pytest.fixture
def shop(tmp_path: Path, clock: ManualClock) -> Iterator[Shop]:
    shop = make_shop(tmp_path / "shop", clock)
    yield shop
    shop.close()


def make_shop(folder: Path, clock: ManualClock) -> Shop:
    shop = Shop(folder, clock)
    shop.add_person("LL", "Lena", True, by="LL")
    shop.add_person("AA", "Arne", False, by="LL")
    shop.add_person("BB", "Bea", False, by="LL")
    return shop


def open_batch(shop: Shop, order: int = 8, start: int = 10) -> str:
    return shop.open_batch(OpenBatch(shop.find_next_id(), part(), "digest", "part.toml", order, start), by="LL").id


def work(shop: Shop, id: str, clock: ManualClock) -> tuple[int, int, int]:
    """Load 1 is cut free, load 2 cures, load 3 is in a run."""
    return work_to_half(
        SimulatedOperator(shop, id, "AA", clock, second="BB"), SimulatedOperator(shop, id, "LL", clock, second="BB")
    )


def tag(shop: Shop, kind: TagKind, *names: str | int) -> str:
    return format_tag(make_tag(kind, names, shop.first_hash))


def batch_tag(shop: Shop, kind: TagKind, id: str, *names: int) -> str:
    return format_tag(make_tag(kind, (id, *names), shop.batch(id).entries[0].hash))


def test_a_load_leads_to_its_run_or_to_where_it_waits(shop: Shop, clock: ManualClock) -> None:
    id = open_batch(shop)
    _, second, third = work(shop, id, clock)
    batch = shop.batch(id)

    assert find_tagged(shop, batch_tag(shop, "load", id, third)) == RunPlace(id, batch.loads[third].run or 0)
    assert find_tagged(shop, batch_tag(shop, "load", id, second)) == WaitingPlace(id, second)
    unknown = find_tagged(shop, batch_tag(shop, "load", id, 99))
    assert isinstance(unknown, NoPlace)
    assert unknown.why == "unknown"


def test_a_load_whose_pieces_went_on_leads_nowhere_and_its_carrier_is_empty(shop: Shop, clock: ManualClock) -> None:
    id = open_batch(shop)
    hand = SimulatedOperator(shop, id, "AA", clock, second="BB")
    number = hand.form(10)
    while shop.batch(id).loads[number].dissolved is None:
        assert hand.work(number)

    assert find_tagged(shop, batch_tag(shop, "load", id, number)) == NoPlace("emptied", "load", (id, "1"), id, 1)
    assert find_tagged(shop, tag(shop, "carrier", "pallet", 1)) == NoPlace("empty", "carrier", ("PALLET", "1"))


def test_a_carrier_leads_to_the_load_on_it(shop: Shop, clock: ManualClock) -> None:
    id = open_batch(shop)
    _, second, _ = work(shop, id, clock)
    load = shop.batch(id).loads[second]

    assert find_tagged(shop, tag(shop, "carrier", load.carrier, load.carrier_number)) == WaitingPlace(id, second)
    for unknown in (("pallet", 99), ("pallet", "left"), ("crate", 1)):
        found = find_tagged(shop, tag(shop, "carrier", *unknown))
        assert isinstance(found, NoPlace)
        assert found.why == "unknown"


def test_a_carrier_leads_to_the_batch_that_has_it_now(shop: Shop) -> None:
    one, two = open_batch(shop), open_batch(shop)
    shop.do(two, FormLoad(10), "AA")

    assert find_tagged(shop, tag(shop, "carrier", "pallet", 1)) == WaitingPlace(two, 1)
    shop.do(one, FormLoad(10), "AA")
    assert find_tagged(shop, tag(shop, "carrier", "pallet", 2)) == WaitingPlace(one, 1)


def test_a_tool_leads_to_its_station_and_the_batches_that_use_it(shop: Shop) -> None:
    one, two = open_batch(shop), open_batch(shop)
    tool = part().tools[0]

    assert find_tagged(shop, tag(shop, "tool", tool.station, tool.number)) == ToolPlace(
        tool.station, tool.number, (one, two)
    )
    found = find_tagged(shop, tag(shop, "tool", tool.station, 987))
    assert isinstance(found, NoPlace)
    assert found.why == "unknown"


def test_a_station_leads_to_the_batches_that_have_it(shop: Shop) -> None:
    one, two = open_batch(shop), open_batch(shop)
    station = part().stations[0].id
    assert find_tagged(shop, tag(shop, "station", station)) == StationPlace(station, (one, two))
    assert find_tagged(shop, tag(shop, "station", "nowhere")) == NoPlace("unknown", "station", ("NOWHERE",))


def test_a_tool_of_the_second_mill_is_another_one(shop: Shop) -> None:
    checklist = two_mills()
    id = shop.open_batch(OpenBatch("B0001", checklist, "digest", "part.toml", 8, 8), by="LL").id
    stations = {one.id for one in checklist.stations if checklist.tools_at(one.id)}
    tools = {(one, checklist.tools_at(one)[0].number) for one in stations}

    assert len(stations) > 1
    assert {find_tagged(shop, tag(shop, "tool", *one)) for one in tools} == {ToolPlace(*one, (id,)) for one in tools}


def test_a_person_leads_to_signing_in_until_they_leave(shop: Shop) -> None:
    badge = tag(shop, "person", "AA")
    assert find_tagged(shop, badge) == PersonPlace("AA")
    shop.change_person("AA", "LL", name="Arne", lead=False, left=True)
    assert find_tagged(shop, badge) == NoPlace("left", "person", ("AA",))
    assert find_tagged(shop, tag(shop, "person", "ZZ")) == NoPlace("unknown", "person", ("ZZ",))


def test_a_gauge_leads_to_the_register(shop: Shop) -> None:
    for serial in ("dm-04", "dm-05"):
        shop.add_gauge(serial, "Depth micrometer", "2026-09-01", "LL")
    assert find_tagged(shop, tag(shop, "gauge", "DM-04")) == GaugePlace("DM-04")
    shop.withdraw_gauge("dm-04", "dropped", False, "AA")
    assert find_tagged(shop, tag(shop, "gauge", "DM-04")) == GaugePlace("DM-04")


def test_a_lot_leads_to_the_batches_that_recorded_it(shop: Shop, clock: ManualClock) -> None:
    id = open_batch(shop)
    work(shop, id, clock)
    what, lot = list_recorded_lots(shop.batch(id))[0]

    assert find_tagged(shop, tag(shop, "lot", what, lot)) == LotPlace(what, lot, (id,))
    entry = shop.do(id, OpenLot(what, "nächste 2"), "AA")[0]
    assert find_tagged(shop, tag(shop, "lot", what, "nächste 2")) == LotPlace(what, "nächste 2", (id,))
    shop.do(id, StrikeOut(entry.seq, "wrong can"), "AA")
    found = find_tagged(shop, tag(shop, "lot", what, "nächste 2"))
    assert isinstance(found, NoPlace)
    assert found.why == "unknown"


def test_two_lots_that_scan_alike_are_told_apart_by_nobody(shop: Shop, clock: ManualClock) -> None:
    id = open_batch(shop)
    work(shop, id, clock)
    what = list_recorded_lots(shop.batch(id))[0][0]
    for lot in ("ö1", "o1"):
        shop.do(id, OpenLot(what, lot), "AA")

    found = find_tagged(shop, tag(shop, "lot", what, "o1"))
    assert isinstance(found, NoPlace)
    assert found.why == "several"


def test_a_tag_of_another_shop_leads_nowhere_here(shop: Shop, tmp_path: Path, clock: ManualClock) -> None:
    """Both have a batch B0001, a pallet 1 and a person AA."""
    open_batch(shop)
    clock.forward(60)
    other = make_shop(tmp_path / "other", clock)
    id = open_batch(other)
    other.do(id, FormLoad(10), "AA")
    shop.do(id, FormLoad(10), "AA")

    for text in (
        tag(other, "carrier", "pallet", 1),
        tag(other, "person", "AA"),
        batch_tag(other, "load", id, 1),
        batch_tag(other, "box", id),
    ):
        found = find_tagged(shop, text)
        assert isinstance(found, NoPlace), text
        assert found.why == "not ours"
        assert not isinstance(find_tagged(other, text), NoPlace)
    other.close()


def test_the_tag_of_a_batch_renamed_here_and_closed_leads_there(shop: Shop, tmp_path: Path, clock: ManualClock) -> None:
    """Both shops number from B0001: what comes in under that name gets a free one and keeps its tags."""
    theirs, ours = make_shop(tmp_path / "theirs", clock), open_batch(shop, 3, 3)
    id = open_batch(theirs, 2, 3)
    box, load = batch_tag(theirs, "box", id), batch_tag(theirs, "load", id, 1)
    theirs.do(id, SetPiecesAside("scrap", "stock was cracked", op=10, count=3), "LL")
    bundle = tmp_path / "bundle.json"
    send_batch(theirs, id, bundle, "our shop", "LL")
    theirs.close()
    renamed = receive_batch(shop, review_bundle(shop, bundle), "LL").name
    assert (ours, renamed) == (id, "B0002")
    shop.do(renamed, CloseBatch("stock was cracked"), "LL")
    assert renamed in shop.closed()

    assert find_tagged(shop, box) == BatchPlace(renamed, closed=True)
    assert find_tagged(shop, load) == NoPlace("closed", "load", (id, "1"), renamed)
    strange = format_tag(make_tag("box", (id,), "0" * 64))
    assert find_tagged(shop, strange) == NoPlace("not ours", "box", (id,))
    shop.do(ours, SetPiecesAside("scrap", "stock was cracked", op=10, count=3), "LL")
    shop.do(ours, CloseBatch("stock was cracked"), "LL")
    assert find_tagged(shop, box) == BatchPlace(renamed, closed=True), "though ours is closed too"
    assert find_tagged(shop, strange) == NoPlace("not ours", "box", (id,))


def test_a_closed_batch_has_no_loads_but_its_boxes_are_known(shop: Shop) -> None:
    id = open_batch(shop, 3, 3)
    load, box = batch_tag(shop, "load", id, 1), batch_tag(shop, "box", id)
    assert find_tagged(shop, box) == BatchPlace(id, closed=False)
    shop.do(id, SetPiecesAside("scrap", "stock was cracked", op=10, count=3), "LL")
    shop.do(id, CloseBatch("stock was cracked"), "LL")

    assert find_tagged(shop, box) == BatchPlace(id, closed=True)
    assert find_tagged(shop, load) == NoPlace("closed", "load", (id, "1"), id)
    other = format_tag(make_tag("box", (id,), "0" * 64))
    assert find_tagged(shop, other) == NoPlace("not ours", "box", (id,)), "another shop's batch of that name"


def close_batch(shop: Shop, id: str) -> Path:
    """Nothing of it was good; where its record is."""
    shop.do(id, SetPiecesAside("scrap", "stock was cracked", op=10, count=3), "LL")
    shop.do(id, CloseBatch("stock was cracked"), "LL")
    return shop.folder / "record" / "closed" / f"{id}.json"


def test_a_closed_batch_that_has_its_name_is_found_without_reading_the_others(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    first, second = open_batch(shop, 3, 3), open_batch(shop, 3, 3)
    box, load = batch_tag(shop, "box", second), batch_tag(shop, "load", second, 1)
    for id in (first, second):
        close_batch(shop, id)
    monkeypatch.setattr(module, "read_closed", lambda *_: pytest.fail("reads every closed batch"))

    assert find_tagged(shop, box) == BatchPlace(second, closed=True)
    assert find_tagged(shop, load) == NoPlace("closed", "load", (second, "1"), second)


@pytest.mark.parametrize("closed", [False, True])
def test_a_batch_that_cannot_be_read_is_named_by_its_tag_and_hides_no_other(
    shop: Shop, clock: ManualClock, closed: bool
) -> None:
    readable, damaged = open_batch(shop, 3, 3), open_batch(shop, 3, 3)
    box = batch_tag(shop, "box", damaged)
    file = shop.folder / "record" / f"{damaged}.json"
    if closed:
        close_batch(shop, readable)
        file = close_batch(shop, damaged)
    shop.close()
    file.write_bytes(b"no record of B0077")
    again = Shop(shop.folder, clock)

    assert find_tagged(again, box) == NoPlace("unread", "box", (damaged,))
    other = format_tag(make_tag("box", ("B0077",), "0" * 64))
    assert find_tagged(again, other) == NoPlace("unknown", "box", ("B0077",))
    again.close()


@pytest.mark.parametrize("closed", [False, True])
def test_a_tag_of_a_name_that_its_batch_never_had_leads_nowhere(shop: Shop, closed: bool) -> None:
    """KB-7 is the part: the batch's record has the word, and it is no name of the batch."""
    id = open_batch(shop, 3, 3)
    owner = shop.batch(id).entries[0].hash
    if closed:
        close_batch(shop, id)
    strange = format_tag(make_tag("box", ("KB-7",), owner))
    assert find_tagged(shop, strange) == NoPlace("unknown", "box", ("KB-7",))


def test_in_a_shop_without_a_record_no_tag_is_its_own(tmp_path: Path, clock: ManualClock) -> None:
    empty = Shop(tmp_path / "empty", clock)
    badge = format_tag(make_tag("person", ("AA",), "0" * 64))
    assert find_tagged(empty, badge) == NoPlace("not ours", "person", ("AA",))
    empty.close()


def test_a_batch_that_went_to_another_machine_is_looked_for_there(shop: Shop) -> None:
    id = open_batch(shop)
    shop.do(id, FormLoad(10), "AA")
    load, pallet = batch_tag(shop, "load", id, 1), tag(shop, "carrier", "pallet", 1)
    shop.do(id, TransferBatch("north shop"), "LL")

    assert find_tagged(shop, load) == NoPlace("transferred", "load", (id, "1"), id)
    found = find_tagged(shop, pallet)
    assert isinstance(found, NoPlace)
    assert found.why in ("empty", "unknown")


@pytest.mark.parametrize(
    ("text", "why"), [("RK", "no tag"), ("", "no tag"), ("%", "no tag"), ("% of 24", "no tag"), ("%L%B0001", "misread")]
)
def test_a_text_that_is_no_tag_is_told_from_a_misread_one(shop: Shop, text: str, why: str) -> None:
    found = find_tagged(shop, text)
    assert isinstance(found, NoPlace)
    assert found.why == why


def test_looking_records_nothing(shop: Shop, clock: ManualClock) -> None:
    id = open_batch(shop)
    work(shop, id, clock)
    before = {name: len(shop.journals.open(name).entries) for name in shop.journals.names()}
    for text in (tag(shop, "carrier", "pallet", 2), batch_tag(shop, "load", id, 2), tag(shop, "person", "AA"), "%x%"):
        find_tagged(shop, text)
    assert {name: len(shop.journals.open(name).entries) for name in shop.journals.names()} == before


def test_in_a_field_a_tag_is_the_name_on_record(shop: Shop, clock: ManualClock) -> None:
    """Of what people type into fields: lots, serial numbers, initials."""
    id = open_batch(shop)
    work(shop, id, clock)
    what = list_recorded_lots(shop.batch(id))[0][0]
    shop.do(id, OpenLot(what, "nächste 2b"), "AA")
    shop.add_gauge("dm-04", "Depth micrometer", "2026-09-01", "LL")

    assert name_tagged(shop, tag(shop, "lot", what, "nächste 2b")) == "nächste 2b"
    assert name_tagged(shop, tag(shop, "gauge", "dm-04")) == "DM-04"
    assert name_tagged(shop, tag(shop, "person", "aa")) == "AA"
    assert name_tagged(shop, tag(shop, "carrier", "pallet", 1)) == ""
    assert name_tagged(shop, "%M%x%y%000000") == ""
