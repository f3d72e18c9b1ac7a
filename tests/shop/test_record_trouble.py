"""The record moved away, swapped, or partly unreadable while open in a terminal."""

from __future__ import annotations

import fcntl
import os
import shutil
from collections.abc import Iterator
from functools import partial
from pathlib import Path

import pytest

from floor.batch.command import Refused
from floor.batch.corrections.commands import Note
from floor.batch.handover.commands import CountSubjectPieces
from floor.batch.lifecycle.commands import FormLoad, OpenBatch
from floor.batch.lifecycle.transfer import TakeInBatch, TransferBatch
from floor.ledger import Journal, JournalFolder, NoSuchJournal, ReadOnly, Replaced
from floor.ledger.backup import restore_folder
from floor.ledger.file_format import encode_header
from floor.shop import Shop
from floor.shop.maintenance import make_backup, recover_batch
from tests.batch.factory import MORNING, StepClock, part


@pytest.fixture
def clock() -> StepClock:
    return StepClock(MORNING)


@pytest.fixture
def shop(tmp_path: Path, clock: StepClock) -> Iterator[Shop]:
    """A shop with a lead and two batches."""
    shop = Shop(tmp_path, clock)
    shop.add_person("LL", "Lee Lead", True, by="-")
    for _ in range(2):
        shop.open_batch(OpenBatch(shop.find_next_id(), part(), "digest", "part.toml", 1, 8), "LL")
    yield shop
    shop.close()


def record(shop: Shop) -> Path:
    return shop.folder / "record"


def ids(shop: Shop) -> list[str]:
    return [batch.id for batch in shop.batches]


def test_a_copy_brought_back_is_reported_and_its_state_shown(shop: Shop, tmp_path: Path) -> None:
    copy = make_backup(shop)
    shop.do("B0002", Note("after the copy"), "LL")
    restore_folder(copy, record(shop))

    with pytest.raises(Replaced, match="was replaced by another.*Nothing was written"):
        shop.do("B0002", Note("meant for the other record"), "LL")

    assert len(shop.replaced) == 1
    assert [entry.kind for entry in shop.batch("B0002").entries] == ["batch_opened", "pieces_started"]
    shop.replaced.clear()
    shop.do("B0002", Note("goes on"), "LL")
    assert not shop.refresh()


def test_a_copy_that_lacks_a_batch_is_looked_at_without_being_asked(shop: Shop) -> None:
    copy = make_backup(shop)
    shop.open_batch(OpenBatch(shop.find_next_id(), part(), "digest", "part.toml", 1, 8), "LL")
    restore_folder(copy, record(shop))

    assert shop.refresh()

    assert ids(shop) == ["B0001", "B0002"]
    assert shop.replaced
    assert shop.sign_in("LL").initials == "LL", "the people are those of the copy"


def test_a_record_out_of_reach_stops_entering_and_comes_back_by_itself(shop: Shop) -> None:
    aside = shop.folder / "elsewhere"
    record(shop).rename(aside)

    assert shop.refresh()

    assert "out of reach" in shop.away
    assert ids(shop) == ["B0001", "B0002"], "what was known is still shown"
    with pytest.raises(Replaced, match="out of reach"):
        shop.do("B0001", Note("x"), "LL")
    with pytest.raises(Replaced, match="out of reach"):
        shop.open_batch(OpenBatch("B0009", part(), "digest", "part.toml", 1, 8), "LL")
    with pytest.raises(Replaced, match="out of reach"):
        shop.do("B0001", FormLoad(10), "LL")
    assert not shop.refresh(), "it is said once"

    aside.rename(record(shop))
    assert shop.refresh()
    assert shop.away == ""
    assert shop.replaced == []
    shop.do("B0001", Note("goes on"), "LL")


@pytest.mark.parametrize("what", ["a folder", "a pipe", "a link to itself"])
def test_one_batch_that_cannot_be_read_is_out_by_name_and_no_other(
    shop: Shop, what: str, clock: StepClock, tmp_path: Path
) -> None:
    in_the_way = record(shop) / "B0009.json"
    if what == "a folder":
        in_the_way.mkdir()
    elif what == "a pipe":
        os.mkfifo(in_the_way)
    else:
        in_the_way.symlink_to(in_the_way)

    shop.refresh()
    again = Shop(tmp_path, clock)

    for terminal in (shop, again):
        assert ids(terminal) == ["B0001", "B0002"]
        assert list(terminal.out) == ["B0009"]
        assert "The record of B0009 cannot be read" in terminal.out["B0009"]
        assert not terminal.refresh(), "it is not tried again and again"
    shop.do("B0001", Note("goes on"), "LL")

    if what == "a folder":
        in_the_way.rmdir()
    else:
        in_the_way.unlink()
    assert again.refresh()
    assert again.out == {}
    again.close()


@pytest.mark.parametrize("left", [b"", b"\n", b"something else"])
def test_a_file_of_which_nothing_can_be_read_says_the_way_back_which_works(
    shop: Shop, clock: StepClock, left: bytes
) -> None:
    make_backup(shop)
    before = shop.head("B0001")
    shop.close()
    (record(shop) / "B0001.json").write_bytes(left)

    found = Shop(shop.folder, clock)
    assert "floor recover B0001 --by INITIALS" in found.out["B0001"]
    assert found.out["B0001"].count("floor recover") == 1
    recover_batch(found, "B0001", "LL", without=False)

    again = Shop(shop.folder, clock)
    assert before in [entry.hash for entry in again.batch("B0001").entries]
    again.close()


def test_a_batch_that_can_be_read_again_is_back(shop: Shop) -> None:
    path = record(shop) / "B0002.json"
    path.rename(aside := path.with_suffix(".aside"))
    path.mkdir()
    shop.refresh()
    assert (ids(shop), list(shop.out)) == (["B0001"], ["B0002"])

    path.rmdir()
    aside.rename(path)
    assert shop.refresh()
    assert (ids(shop), shop.out) == (["B0001", "B0002"], {})


def test_a_batch_that_is_gone_is_missed_by_name(shop: Shop, clock: StepClock, tmp_path: Path) -> None:
    make_backup(shop)
    (record(shop) / "B0002.json").unlink()
    shop.refresh()
    again = Shop(tmp_path, clock)
    for terminal in (shop, again):
        assert ids(terminal) == ["B0001"]
        assert "though it held 2 entries" in terminal.out["B0002"]
        assert "floor recover B0002" in terminal.out["B0002"]
        assert terminal.find_next_id() == "B0003"
    assert shop.replaced, "who had it before them goes back to the opening screen"
    again.close()


def test_a_copy_under_another_name_is_left_out_and_the_others_go_on(
    shop: Shop, clock: StepClock, tmp_path: Path
) -> None:
    shutil.copy(record(shop) / "B0001.json", record(shop) / "B0005.json")
    again = Shop(tmp_path, clock)
    assert ids(again) == ["B0001", "B0002"]
    assert "B0005.json" in again.out["B0005"]
    assert "is the record of B0001" in again.out["B0005"]
    (record(shop) / "B0005.json").unlink()
    assert again.refresh()
    assert again.out == {}
    again.close()


@pytest.mark.parametrize("noted", [True, False])
def test_without_the_people_nobody_becomes_a_lead(shop: Shop, clock: StepClock, tmp_path: Path, noted: bool) -> None:
    shop.close()
    (record(shop) / "shop.json").unlink()
    if not noted:
        (record(shop) / ".shop.mark").unlink()
    with pytest.raises(NoSuchJournal, match="floor recover shop.*whoever signs in first would be a lead"):
        Shop(tmp_path, clock)


def test_a_record_cut_short_stops_the_work_on_its_batch_alone(shop: Shop, clock: StepClock, tmp_path: Path) -> None:
    for _ in range(3):
        shop.do("B0002", Note("x"), "LL")
    make_backup(shop)
    shop.close()
    path = record(shop) / "B0002.json"
    path.write_bytes(b"\n".join(path.read_bytes().split(b"\n")[:2]))

    again = Shop(tmp_path, clock)

    assert any("B0002" in trouble and "3 entries are missing" in trouble for trouble in again.troubles)
    with pytest.raises(ReadOnly, match="floor recover B0002"):
        again.do("B0002", Note("more"), "LL")
    again.do("B0001", Note("goes on"), "LL")
    again.close()


def test_a_sent_batch_accepts_only_its_return(shop: Shop) -> None:
    shop.do("B0001", TransferBatch("north shop"), "LL")
    for command in (Note("more"), CountSubjectPieces("x", 1)):
        with pytest.raises(Refused, match="transferred to north shop") as refused:
            shop.do("B0001", command, "LL")
        assert refused.value.why == "closed"
    shop.do("B0001", TakeInBatch("never left", withdrawn=True), "LL")
    shop.do("B0001", Note("more"), "LL")


def test_a_batch_that_another_terminal_holds_comes_back_by_itself(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    """A terminal that hangs while it writes keeps the others from one batch, and only for so long."""
    monkeypatch.setattr("floor.shop.open_batches.JournalFolder", partial(JournalFolder, patience=0.01))
    path = record(shop) / "B0002.json"
    waited = []
    real = JournalFolder.open

    def opened(journals: JournalFolder, name: str, *, patience: float | None = None) -> Journal:
        if name == "B0002":
            waited.append(patience)
        return real(journals, name, patience=patience)

    monkeypatch.setattr(JournalFolder, "open", opened)
    fd = os.open(path, os.O_RDWR)
    fcntl.flock(fd, fcntl.LOCK_EX)
    try:
        second = Shop(shop.folder, shop.clock)
        assert "held by another terminal" in second.out["B0002"]
        assert ids(second) == ["B0001"]
        said = list(second.troubles)
        assert not second.refresh()
        assert second.troubles == said, "said once"
        assert waited == [None, 0.0], "and waited for once"
    finally:
        os.close(fd)

    assert second.refresh()

    assert ids(second) == ["B0001", "B0002"]
    assert not second.out
    second.close()


def test_a_record_cut_before_its_first_entry_names_the_way_back_once(shop: Shop, clock: StepClock) -> None:
    make_backup(shop)
    shop.close()
    path = record(shop) / "B0001.json"
    path.write_bytes(encode_header("B0001") + b"\n}}\n")

    found = Shop(shop.folder, clock)
    assert found.out["B0001"].count("floor recover B0001") == 1
    found.close()


def test_a_copy_brought_back_after_the_record_was_out_of_reach_is_worked_on(shop: Shop) -> None:
    copy = make_backup(shop)
    record(shop).rename(shop.folder / "elsewhere")
    assert shop.refresh()
    restore_folder(copy, record(shop))

    assert shop.refresh()

    assert shop.away == ""
    shop.replaced.clear()
    shop.do("B0001", Note("goes on"), "LL")


def test_a_single_batch_whose_file_was_swapped_for_an_older_one_is_reported(shop: Shop) -> None:
    path = record(shop) / "B0002.json"
    older = path.read_bytes()
    shop.do("B0002", Note("after the copy"), "LL")
    path.unlink()
    path.write_bytes(older)

    with pytest.raises(Replaced, match=r"The record of B0002 was replaced by another.*Nothing was written"):
        shop.do("B0002", Note("meant for the other record"), "LL")

    assert len(shop.replaced) == 1
    assert [entry.kind for entry in shop.batch("B0002").entries] == ["batch_opened", "pieces_started"]


def test_nothing_is_opened_or_started_before_somebody_saw_that_a_batch_is_gone(shop: Shop) -> None:
    for act in (
        lambda: shop.open_batch(OpenBatch("B0009", part(), "digest", "part.toml", 1, 8), "LL"),
        lambda: shop.do("B0001", FormLoad(10), "LL"),
    ):
        gone = record(shop) / "B0002.json"
        kept = gone.read_bytes()
        gone.unlink()
        with pytest.raises(Replaced, match=r"B0002 is no longer in .*Nothing was written"):
            act()
        assert sorted(path.stem for path in record(shop).glob("*.json")) == ["B0001", "shop"]
        gone.write_bytes(kept)
        shop.refresh()
        shop.replaced.clear()


def test_an_open_batch_is_the_one_that_is_held_and_a_change_of_its_file_is_news(shop: Shop) -> None:
    assert shop.batch("B0001") is shop.batch("B0001")
    path = record(shop) / "B0001.json"
    copy = path.read_bytes()
    path.unlink()
    path.write_bytes(copy)
    assert shop.refresh()
    assert not shop.refresh()
    assert not shop.replaced


def test_a_journal_without_an_entry_is_no_batch(shop: Shop) -> None:
    shop.journals.create("B0009")
    assert not shop.refresh()
    with pytest.raises(Refused, match="atch B0009 cannot be opened: a batch without entries"):
        shop.batch("B0009")


def test_a_record_that_comes_back_in_a_newer_format_stays_out_of_reach(shop: Shop) -> None:
    aside = shop.folder / "elsewhere"
    record(shop).rename(aside)
    assert shop.refresh()
    record(shop).mkdir()
    (record(shop) / "shop.json").write_bytes(encode_header("shop", format=9) + b"\n}}\n")

    assert shop.refresh()

    assert shop.away.startswith("The record is out of reach: The record of shop has format 9;")
    assert not shop.refresh(), "it is said once"
    (record(shop) / "shop.json").unlink()
    record(shop).rmdir()
    aside.rename(record(shop))
    assert shop.refresh()
    assert shop.away == ""
    assert ids(shop) == ["B0001", "B0002"]
