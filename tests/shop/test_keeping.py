"""Moving a half-done batch to another machine, and the day's copy of the record."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from floor.batch.command import Refused
from floor.batch.corrections.commands import Note
from floor.batch.lifecycle.commands import OpenBatch
from floor.batch.lifecycle.transfer import TakeInBatch
from floor.checklist.loading import list_shipped_checklists, load_checklist
from floor.entry import Draft
from floor.ledger import BundleRefused, LedgerError, WriteFailed
from floor.ledger.bundle import write_bundle
from floor.ledger.recover_from_copies import RecoveryResult
from floor.shop import Shop
from floor.shop.maintenance import (
    _said,
    is_backup_due,
    make_backup,
    receive_batch,
    recover_batch,
    recover_people,
    review_bundle,
    send_batch,
)
from floor.shop.simulation import ManualClock, SimulatedOperator


@pytest.fixture
def clock() -> ManualClock:
    return ManualClock(datetime(2026, 5, 4, 7, tzinfo=UTC))


def _shop(folder: Path, clock: ManualClock) -> Shop:
    shop = Shop(folder, clock)
    shop.add_person("RK", "Rosa Keel", True, by="-")
    return shop


@pytest.fixture
def sender(tmp_path: Path, clock: ManualClock) -> Shop:
    shop = _shop(tmp_path / "here", clock)
    checklist = load_checklist(list_shipped_checklists()[0]).checklist
    assert checklist is not None
    batch = shop.open_batch(OpenBatch("B0001", checklist, "digest", "file.toml", 4, 5), "RK")
    hand = SimulatedOperator(shop, batch.id, "RK", clock)
    hand.form(checklist.operations[0].op)
    return shop


def test_a_batch_sent_over_goes_on_there_and_not_here(sender: Shop, tmp_path: Path, clock: ManualClock) -> None:
    there = _shop(tmp_path / "there", clock)
    file = tmp_path / "b.floor"

    send_batch(sender, "B0001", file, "north shop", "RK")
    receive_batch(there, review_bundle(there, file), "RK")

    assert there.batch("B0001").gone == ""
    assert there.batch("B0001").loads.keys() == sender.batch("B0001").loads.keys()
    there.do("B0001", Note("goes on here"), "RK")
    with pytest.raises(Refused, match="north shop") as refused:
        SimulatedOperator(sender, "B0001", "RK", clock).form(10)
    assert refused.value.why == "closed"


def test_a_bundle_is_taken_in_once(sender: Shop, tmp_path: Path, clock: ManualClock) -> None:
    there = _shop(tmp_path / "there", clock)
    file = tmp_path / "b.floor"
    send_batch(sender, "B0001", file, "north shop", "RK")
    receive_batch(there, review_bundle(there, file), "RK")

    with pytest.raises(BundleRefused, match="before"):
        receive_batch(there, review_bundle(there, file), "RK")


def test_a_batch_comes_back_with_all_that_was_done_there(sender: Shop, tmp_path: Path, clock: ManualClock) -> None:
    there = _shop(tmp_path / "there", clock)
    send_batch(sender, "B0001", tmp_path / "out.floor", "north shop", "RK")
    receive_batch(there, review_bundle(there, tmp_path / "out.floor"), "RK")
    there.do("B0001", Note("done there"), "RK")

    send_batch(there, "B0001", tmp_path / "back.floor", "home", "RK")
    receive_batch(sender, review_bundle(sender, tmp_path / "back.floor"), "RK")

    batch = sender.batch("B0001")
    assert batch.gone == ""
    assert any(entry.body.get("text") == "done there" for entry in batch.entries)


def test_copies_that_went_on_in_two_places_are_refused(sender: Shop, tmp_path: Path, clock: ManualClock) -> None:
    there = _shop(tmp_path / "there", clock)
    send_batch(sender, "B0001", tmp_path / "out.floor", "north shop", "RK")
    receive_batch(there, review_bundle(there, tmp_path / "out.floor"), "RK")
    sender.do("B0001", TakeInBatch("nobody took it in", withdrawn=True), "RK")
    sender.do("B0001", Note("went on here"), "RK")
    send_batch(there, "B0001", tmp_path / "back.floor", "home", "RK")

    with pytest.raises(BundleRefused, match="two places"):
        receive_batch(sender, review_bundle(sender, tmp_path / "back.floor"), "RK")


def test_a_lead_can_replace_a_copy_that_went_on_differently(sender: Shop, tmp_path: Path, clock: ManualClock) -> None:
    there = _shop(tmp_path / "there", clock)
    send_batch(sender, "B0001", tmp_path / "out.floor", "north shop", "RK")
    receive_batch(there, review_bundle(there, tmp_path / "out.floor"), "RK")
    sender.do("B0001", TakeInBatch("nobody took it in", withdrawn=True), "RK")
    there.do("B0001", Note("done there"), "RK")
    send_batch(there, "B0001", tmp_path / "back.floor", "home", "RK")
    sender.add_person("TN", "Tomas Nye", False, by="RK")
    with pytest.raises(Refused, match="needs a lead"):
        receive_batch(sender, review_bundle(sender, tmp_path / "back.floor"), "TN", instead=True)

    taken = receive_batch(sender, review_bundle(sender, tmp_path / "back.floor"), "RK", instead=True)

    assert taken.kept is not None
    sender.do("B0001", Note("goes on here"), "RK")
    texts = [entry.body.get("text") for entry in sender.batch("B0001").entries]
    assert "done there" in texts
    assert not sender.refresh()
    assert sender.replaced == []


def test_a_batch_whose_name_is_another_batchs_here_gets_the_next_free_one(
    sender: Shop, tmp_path: Path, clock: ManualClock
) -> None:
    """Every shop numbers its batches from 1. The name goes back with the batch to where it came from."""
    there = _shop(tmp_path / "there", clock)
    clock.forward(1)
    checklist = load_checklist(list_shipped_checklists()[0]).checklist
    assert checklist is not None
    there.open_batch(OpenBatch("B0001", checklist, "digest", "file.toml", 4, 6), "RK")
    send_batch(sender, "B0001", tmp_path / "out.floor", "north shop", "RK")

    taken = receive_batch(there, review_bundle(there, tmp_path / "out.floor"), "RK")

    assert (taken.name, taken.sent_as) == ("B0002", "B0001")
    assert [(batch.id, batch.started, batch.gone) for batch in there.batches] == [("B0001", 6, ""), ("B0002", 5, "")]
    there.do("B0002", Note("done there"), "RK")
    again = Shop(tmp_path / "there", clock)
    assert [batch.id for batch in again.batches] == ["B0001", "B0002"]
    again.close()

    send_batch(there, "B0002", tmp_path / "back.floor", "home", "RK")
    assert receive_batch(sender, review_bundle(sender, tmp_path / "back.floor"), "RK").name == "B0001"
    assert sender.batch("B0001").id == "B0001"
    sender.do("B0001", Note("goes on here"), "RK")


@pytest.mark.parametrize(
    ("folder", "why"), [("no such folder", "No such file or directory"), ("a file", "Not a directory")]
)
def test_a_place_that_takes_no_bundle_leaves_the_batch_alive(
    sender: Shop, tmp_path: Path, folder: str, why: str
) -> None:
    (tmp_path / "a file").write_text("")
    with pytest.raises(LedgerError) as refused:
        send_batch(sender, "B0001", tmp_path / folder / "b.floor", "north shop", "RK")
    assert f"The bundle {tmp_path / folder / 'b.floor'} cannot be written: {why}. " in str(refused.value)
    assert "trial" not in str(refused.value)
    assert sender.batch("B0001").gone == ""


def test_a_bundle_is_written_over_no_file_and_the_batch_stays_alive(sender: Shop, tmp_path: Path) -> None:
    (tmp_path / "b.floor").write_text("yesterday's")

    with pytest.raises(Refused, match="There is a file"):
        send_batch(sender, "B0001", tmp_path / "b.floor", "north shop", "RK")

    assert (tmp_path / "b.floor").read_text() == "yesterday's"
    assert sender.batch("B0001").gone == ""


def test_nothing_is_left_beside_a_bundle_nor_in_its_way(sender: Shop, tmp_path: Path) -> None:
    """The program was killed while it tried the place out; then the same command is given again."""
    (stick := tmp_path / "stick").mkdir()
    (stick / ".b.floor.trial").write_text("half of it")

    send_batch(sender, "B0001", stick / "b.floor", "north shop", "RK")

    assert [file.name for file in stick.iterdir()] == ["b.floor"]


def test_a_bundle_that_was_lost_is_written_again(sender: Shop, tmp_path: Path, clock: ManualClock) -> None:
    there = _shop(tmp_path / "there", clock)
    send_batch(sender, "B0001", tmp_path / "lost.floor", "north shop", "RK")
    marked = list(sender.batch("B0001").entries)

    send_batch(sender, "B0001", tmp_path / "again.floor", "north shop", "RK")

    assert sender.batch("B0001").entries == marked
    receive_batch(there, review_bundle(there, tmp_path / "again.floor"), "RK")


def test_a_stick_that_is_full_after_the_batch_was_marked_says_how_to_go_on(
    sender: Shop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise WriteFailed("Writing the bundle did not work: the disk is full.")

    monkeypatch.setattr("floor.shop.maintenance._try_out", lambda *_: None)
    monkeypatch.setattr("floor.shop.maintenance.write_bundle", full)

    with pytest.raises(WriteFailed, match="disk is full.*marked as gone over.*floor bundle B0001 --withdraw WHY"):
        send_batch(sender, "B0001", tmp_path / "b.floor", "north shop", "RK")

    assert sender.batch("B0001").gone == "north shop"


def test_a_bundle_of_a_newer_floor_is_refused_before_anything_is_put_in_place(
    sender: Shop, tmp_path: Path, clock: ManualClock
) -> None:
    there = _shop(tmp_path / "there", clock)
    with sender.journals.open("B0001").turn() as turn:
        turn.append([Draft("seen_from_space", {})], clock(), "RK")
        turn.append([Draft("gone_over", {"to": "north shop"})], clock(), "RK")
    write_bundle(sender.journals.open("B0001"), tmp_path / "b.floor")
    before = sorted((tmp_path / "there").rglob("*"))

    for _ in range(2):
        with pytest.raises(Refused, match=r"does not understand.*seen from space.*to the other machine's version"):
            receive_batch(there, review_bundle(there, tmp_path / "b.floor"), "RK")
    assert sorted((tmp_path / "there").rglob("*")) == before
    assert there.batches == []


def test_what_is_missing_is_brought_back_and_put_on_record(sender: Shop, tmp_path: Path, clock: ManualClock) -> None:
    sender.do("B0001", Note("first"), "RK")
    make_backup(sender)
    for text in ("second", "third"):
        sender.do("B0001", Note(text), "RK")
    sender.close()
    path = sender.journals.place("B0001")
    path.write_bytes(b"\n".join(path.read_bytes().split(b"\n")[:2]) + b"\n}}\n")
    short = Shop(tmp_path / "here", clock)

    said = recover_batch(short, "B0001", "RK", without=False)

    assert "ended at entry 2. Entries 3 to 4 were brought back from record-" in said
    assert "Entries 5 to 6 are lost: look what was done then" in said
    assert "What was there is kept in B0001.json.short-1." in said
    short.refresh()
    notes = [entry.body for entry in short.batch("B0001").entries if entry.kind == "noted"]
    assert [note["text"] for note in notes] == ["first", said]
    assert notes[-1]["abnormal"], "it is out of the ordinary"
    assert notes[-1]["next_shift"], "the next shift reads it too"
    short.do("B0001", Note("goes on"), "RK")
    short.close()


def test_only_a_lead_decides_on_a_record_that_was_cut_short(sender: Shop) -> None:
    sender.add_person("TN", "Tomas Nye", False, by="RK")
    make_backup(sender)
    path = sender.journals.place("B0001")
    path.write_bytes(cut := b"\n".join(path.read_bytes().split(b"\n")[:2]) + b"\n}}\n")

    for without in (True, False):
        with pytest.raises(Refused, match="needs a lead"):
            recover_batch(sender, "B0001", "TN", without=without)

    assert path.read_bytes() == cut


def test_a_batch_that_went_over_is_brought_back_though_it_takes_no_note(sender: Shop, tmp_path: Path) -> None:
    send_batch(sender, "B0001", tmp_path / "b.floor", "north shop", "RK")
    make_backup(sender)
    whole = list(sender.batch("B0001").entries)
    sender.journals.place("B0001").unlink()

    said = recover_batch(sender, "B0001", "RK", without=False)

    assert "were brought back" in said
    assert "lost" not in said
    sender.refresh()
    assert sender.batch("B0001").entries == whole


def test_people_that_are_gone_come_back_or_are_given_up(sender: Shop, tmp_path: Path, clock: ManualClock) -> None:
    make_backup(sender)
    sender.close()
    (tmp_path / "here" / "record" / "shop.json").unlink()
    assert "Entries 1 to 2 were brought back" in recover_people(tmp_path / "here", "RK", clock(), without=False)
    again = Shop(tmp_path / "here", clock)
    assert again.sign_in("RK").lead
    again.close()

    (tmp_path / "here" / "record" / "shop.json").unlink()
    assert "given up" in recover_people(tmp_path / "here", "RK", clock(), without=True)
    assert Shop(tmp_path / "here", clock).people.known == {}


def test_only_a_lead_sends_a_batch_over(sender: Shop, tmp_path: Path) -> None:
    sender.add_person("TN", "Tomas Nye", False, by="RK")

    with pytest.raises(Refused) as refused:
        send_batch(sender, "B0001", tmp_path / "b.floor", "north shop", "TN")

    assert refused.value.why == "authority"
    assert not (tmp_path / "b.floor").exists()
    assert sender.batch("B0001").gone == ""


def test_the_days_copy_is_made_once(sender: Shop) -> None:
    now = datetime.now(UTC)
    assert is_backup_due(sender, now)

    make_backup(sender)

    assert not is_backup_due(sender, now)
    assert is_backup_due(sender, now + timedelta(days=1))


@pytest.mark.parametrize(
    ("done", "said"),
    [
        ((4, 0, 9, None, "k"), "The record of B1 is given up; Floor misses it no longer."),
        ((4, 4, 4, None, None), "The record of B1 ended at entry 4."),
        (
            (4, 4, 9, None, "B1.json.short-1"),
            "The record of B1 ended at entry 4. Entries 5 to 9 are lost: look what was done then and enter it again. "
            "What was there is kept in B1.json.short-1.",
        ),
        (
            (4, 7, 7, "backups/record-20260302T060000Z/B1.json", None),
            "The record of B1 ended at entry 4. Entries 5 to 7 were brought back from record-20260302T060000Z.",
        ),
        (
            (0, 7, 8, "B1.json.seen-1", None),
            "The record of B1 ended at entry 0. Entries 1 to 7 were brought back from B1.json.seen-1. "
            "Entry 8 is lost: look what was done then and enter it again.",
        ),
    ],
)
def test_what_was_recovered_and_what_is_lost_is_said(done: tuple[Any, ...], said: str) -> None:
    before, now, acknowledged, source, kept = done
    result = RecoveryResult(before, now, acknowledged, Path(source) if source else None, Path(kept) if kept else None)
    assert _said("B1", result) == said
