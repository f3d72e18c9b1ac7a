"""Earlier batches read from a shop's folder: which, what is left out by name, and that opening a shop reads none."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from floor.batch.events import BatchOpened, iter_events
from floor.batch.fold import fold
from floor.batch.lifecycle.commands import CloseBatch, OpenBatch
from floor.batch.quality.batch_facts import EarlierBatches
from floor.checklist.loading import load_checklist
from floor.checklist.patching import Change, Field
from floor.figures.calendar import Calendar
from floor.ledger import JournalFolder
from floor.ledger.journal import Journal
from floor.planning.batch_forecast import collect_forecast_inputs
from floor.planning.earlier_batches import study_earlier
from floor.shop import Shop, earlier_batches
from floor.shop.earlier_batches import MOST_SAME, ask_of_batch, ask_of_new, read_earlier
from floor.shop.lessons import list_yields_taken
from floor.shop.simulation import ManualClock, SimulatedOperator
from tests.batch.factory import MORNING, edited, part
from tests.shop.earlier import FILE, work_batch
from tests.shop.taught import own_file, teach

ALWAYS = Calendar.always("Etc/GMT-1")
OTHER = (('number = "KB-7"', 'number = "KB-8"'),)


@pytest.fixture
def clock() -> ManualClock:
    return ManualClock(MORNING)


@pytest.fixture
def shop(tmp_path: Path, clock: ManualClock) -> Iterator[Shop]:
    shop = Shop(tmp_path / "shop", clock)
    shop.add_person("LL", "Lena Lindqvist", True, by="LL")
    shop.add_person("AA", "Arne Aas", False, by="LL")
    yield shop
    shop.close()


def read(shop: Shop, asking: str = "") -> EarlierBatches:
    asked = ask_of_batch(shop, shop.batch(asking), ALWAYS) if asking else ask_of_new(shop, part(), FILE, ALWAYS)
    return read_earlier(asked)


def opened(shop: Shop, **more: object) -> str:
    """A batch of the part in which nothing is done."""
    return shop.open_batch(OpenBatch(shop.find_next_id(), part(), "digest", FILE, 6, 8, **more), "LL").id  # type: ignore[arg-type]


def test_closed_and_open_batches_of_the_part_are_read(shop: Shop, clock: ManualClock) -> None:
    first = work_batch(shop, clock, {10: 1, 30: 1})
    clock.forward(40 * 86400)
    second = work_batch(shop, clock, until=timedelta(hours=8), close=False)
    found = read(shop)
    told = {one.id: one for one in found.same}

    assert set(told) == {first, second}
    assert (told[first].closed, told[second].closed) == (True, False)
    assert sum(load.pieces for load in told[first].ops[10].loads) == 8
    assert sum(load.good for load in told[first].ops[10].loads) == 7
    assert told[first].last < told[second].last
    assert (found.left_out, found.not_read) == ({}, 0)


def test_what_is_read_is_what_the_batch_told_while_it_was_open(shop: Shop, clock: ManualClock) -> None:
    id = work_batch(shop, clock, {10: 1}, close=False)
    before = read(shop).same[0]
    shop.do(id, CloseBatch(""), "LL")
    after = read(shop).same[0]

    assert after.ops == before.ops
    assert not shop.batches


def test_a_batch_is_set_beside_those_opened_before_it(shop: Shop, clock: ManualClock) -> None:
    first = opened(shop)
    clock.forward(86400)
    second = opened(shop)
    clock.forward(86400)
    third = opened(shop)

    assert [one.id for one in read(shop, first).same] == []
    assert [one.id for one in read(shop, second).same] == [first]
    assert {one.id for one in read(shop, third).same} == {first, second}
    assert {one.id for one in read(shop).same} == {first, second, third}


@pytest.mark.parametrize("close", [True, False])
def test_other_parts_at_the_same_stations_are_beside_and_no_plan_takes_them(
    shop: Shop, clock: ManualClock, close: bool
) -> None:
    other = work_batch(shop, clock, {10: 2}, checklist=edited(*OTHER), close=close)
    clock.forward(86400)
    own = opened(shop)
    beside = read(shop, own)

    assert [one.id for one in beside.others] == [other]
    assert beside.same == ()
    assert study_earlier(part(), beside.same, shop.now().at).told is None
    assert read(shop).others == (), "a new plan does not read them"


def test_an_unreadable_closed_batch_is_left_out_by_name(shop: Shop, clock: ManualClock) -> None:
    good, bad, worse = (work_batch(shop, clock, {10: 1}) for _ in range(3))
    closed = shop.folder / "record" / "closed"
    text = (closed / f"{bad}.json").read_bytes()
    at = text.index(b'"kind":"counted"')
    (closed / f"{bad}.json").write_bytes(text[:at] + b'"kind":"courted"' + text[at + 16 :])
    (closed / f"{worse}.json").write_bytes(b"no record")
    found = read(shop)

    assert [one.id for one in found.same] == [good]
    assert set(found.left_out) == {bad, worse}
    assert all(found.left_out.values())


@pytest.mark.parametrize(("looks", "read", "left_out"), [(0, 0, 0), (3, 0, 1), (4, 1, 1), (99, 2, 1)])
def test_reading_stops_when_nobody_waits_for_it_any_more(
    shop: Shop, clock: ManualClock, looks: int, read: int, left_out: int
) -> None:
    """Two batches and one that cannot be read: three first entries are looked at, then two batches are read."""
    *_, bad = (work_batch(shop, clock, order=3, start=4) for _ in range(3))
    (shop.folder / "record" / "closed" / f"{bad}.json").write_bytes(b"no record")
    asked, count = ask_of_new(shop, part(), FILE, ALWAYS), iter(range(1000))
    found = read_earlier(asked, lambda: next(count) >= looks)
    assert (len(found.same), len(found.left_out)) == (read, left_out)


def test_a_record_that_is_gone_tells_nothing_and_is_not_made_anew(shop: Shop, clock: ManualClock) -> None:
    work_batch(shop, clock, order=3, start=4)
    gone = shop.folder / "gone"
    assert read_earlier(ask_of_new(shop, part(), FILE, ALWAYS)._replace(folder=gone)) == EarlierBatches()
    assert not gone.exists()


def test_opening_the_shop_reads_no_closed_batch_and_asking_reads_only_those_of_the_part(
    shop: Shop, clock: ManualClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    of_part = work_batch(shop, clock)
    work_batch(shop, clock, checklist=edited(*OTHER))
    shop.close()
    read_files: list[str] = []
    init = Journal.__init__

    def watched(self: Journal, path: Path, **more: object) -> None:
        read_files.append(path.stem)
        init(self, path, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(Journal, "__init__", watched)
    monkeypatch.setattr(JournalFolder, "read_first", lambda self, name: pytest.fail("opening reads a closed batch"))
    again = Shop(shop.folder, clock)
    assert read_files == ["shop"]
    monkeypatch.undo()
    monkeypatch.setattr(Journal, "__init__", watched)
    read_files.clear()
    earlier_batches._read_facts.cache_clear()
    assert [one.id for one in read(again).same] == [of_part]
    assert set(read_files) == {of_part}
    read_files.clear()
    read(again)
    assert read_files == [], "a closed batch is read once"
    again.close()


def test_of_many_batches_the_newest_are_read(shop: Shop, clock: ManualClock, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(earlier_batches, "MOST_SAME", 2)
    names = []
    for _ in range(3):
        names.append(work_batch(shop, clock, order=3, start=4))
        clock.forward(86400)
    found = read(shop)

    assert [one.id for one in found.same] == names[:0:-1]
    assert found.not_read == 1
    assert MOST_SAME > 2


def test_what_was_told_goes_on_record_with_the_opening_and_is_read_again(shop: Shop, clock: ManualClock) -> None:
    work_batch(shop, clock, {10: 1, 30: 1})
    clock.forward(86400)
    told = study_earlier(part(), read(shop).same, shop.now().at).told
    assert told is not None
    id = opened(shop, earlier=told)
    batch = shop.batch(id)
    ((_, event),) = iter_events(batch.entries, BatchOpened)

    assert batch.earlier == event.earlier == told
    assert fold(batch.entries).earlier == told
    assert batch.expected.ops[10].expected_yield == told.yields[0].good
    assert told.batches == ("B0001",)


def test_what_happens_to_earlier_batches_later_moves_no_promise(shop: Shop, clock: ManualClock) -> None:
    earlier = work_batch(shop, clock, {10: 1}, until=timedelta(hours=3), close=False)
    told = study_earlier(part(), read(shop).same, shop.now().at).told
    id = opened(shop, earlier=told)
    before = collect_forecast_inputs(shop.batch(id), shop.now()).beliefs
    clock.forward(12 * 3600)
    hand = SimulatedOperator(shop, earlier, "AA", clock, second="LL")
    for load in hand.batch.list_live_loads():
        assert hand.work(load.number)

    assert study_earlier(part(), read(shop).same, shop.now().at).told != told
    assert collect_forecast_inputs(shop.batch(id), shop.now()).beliefs == before


def test_a_lesson_taken_is_left_out_where_the_file_holds_it(shop: Shop, clock: ManualClock) -> None:
    batch = teach(shop, clock)
    first = batch.entries[0].hash
    stated = batch.checklist.ops[10].expected_yield
    assert list_yields_taken(shop.people, batch.checklist, FILE) == {}
    shop.take_lessons(batch.id, [Change(Field("operations", 10, ("expected_yield",)), stated, 0.8)], "LL")
    now = load_checklist(own_file(shop)).checklist
    assert now is not None
    assert now.ops[10].expected_yield == 0.8

    assert list_yields_taken(shop.people, now, FILE) == {first: frozenset({10})}
    assert list_yields_taken(shop.people, now, "checklists/other.toml") == {first: frozenset()}, "another file"
    assert list_yields_taken(shop.people, batch.checklist, FILE) == {first: frozenset()}, "as it said before"


def test_the_first_entry_is_read_without_the_rest(shop: Shop, clock: ManualClock) -> None:
    id = work_batch(shop, clock, order=3, start=4)
    journals = JournalFolder(shop.folder / "record")
    entry = journals.read_first(id)
    assert entry is not None
    assert entry == journals.open(id).entries[0]
    assert journals.read_first("B9999") is None
    journals.close()
