"""Copies are there when needed: kept, told apart by shop, asked who decides, and compared with the record."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from floor.batch.command import Refused
from floor.batch.corrections.commands import Note
from floor.batch.lifecycle.commands import OpenBatch
from floor.cli.base import Exit
from floor.cli.main import main
from floor.entry import Draft
from floor.ledger import JournalFolder, NoSuchJournal
from floor.ledger.backup import is_same_shop
from floor.ledger.copies import list_copies
from floor.ledger.file_format import encode_journal
from floor.shop import Shop
from floor.shop.maintenance import (
    authorize_lead,
    compare_with_copies,
    find_authority,
    get_backup_folder,
    is_backup_due,
    list_newer_here,
    make_backup,
    receive_batch,
    recover_batch,
    recover_people,
    require_restorable,
    restore_copy,
    review_bundle,
    send_batch,
)
from tests.batch.factory import MORNING, StepClock, part


@pytest.fixture
def clock() -> StepClock:
    return StepClock(MORNING)


def a_shop(folder: Path, clock: StepClock, batches: int = 2) -> Shop:
    shop = Shop(folder, clock)
    shop.add_person("LL", "Lee Lead", True, by="-")
    shop.add_person("AA", "Ann", False, by="LL")
    shop.set_pin("LL", "4711", by="LL")
    for _ in range(batches):
        shop.open_batch(OpenBatch(shop.find_next_id(), part(), "digest", "part.toml", 1, 8), "LL")
    return shop


@pytest.fixture
def shop(tmp_path: Path, clock: StepClock) -> Iterator[Shop]:
    shop = a_shop(tmp_path / "here", clock)
    yield shop
    shop.close()


def record(shop: Shop) -> Path:
    return shop.folder / "record"


def said(shop: Shop) -> list[str]:
    return compare_with_copies(JournalFolder(record(shop), copies=get_backup_folder(shop)))


def test_a_copy_is_kept_also_after_copies_of_a_clock_that_was_ahead(shop: Shop, clock: StepClock) -> None:
    clock.step(400 * 86400)
    ahead = [make_backup(shop, keep=2) for _ in range(2)]
    clock.step(-400 * 86400)

    made = [make_backup(shop, keep=2) for _ in range(3) if clock.forward(3600) is None]

    assert list_copies(get_backup_folder(shop)) == [*made[1:], *ahead], (
        "the newest stay, and what may be of a wrong clock"
    )


def test_two_shops_on_one_stick_let_go_of_none_of_the_others_copies(
    shop: Shop, tmp_path: Path, clock: StepClock
) -> None:
    clock.forward(1)
    other, stick = a_shop(tmp_path / "other", clock), tmp_path / "stick"
    mine = make_backup(shop, stick, keep=1)
    clock.forward(3600)
    theirs = [make_backup(other, stick, keep=1) for _ in range(2) if clock.forward(60) is None]
    other.close()

    assert list_copies(stick) == [mine, theirs[1]]
    assert is_same_shop(mine, record(shop))
    assert not is_same_shop(theirs[1], record(shop))


def test_a_clock_that_was_ahead_leaves_no_day_without_its_copy(shop: Shop, clock: StepClock) -> None:
    copy = make_backup(shop)
    day = clock().at.timestamp()
    os.utime(copy, (day + 86400 * 300,) * 2)

    assert is_backup_due(shop, clock().at)
    os.utime(copy, (day,) * 2)
    assert not is_backup_due(shop, clock().at)


def test_restoring_a_copy_needs_a_lead_with_pin_and_is_recorded(shop: Shop, clock: StepClock) -> None:
    copy = make_backup(shop)
    known = find_authority(shop.folder)
    for by, pin, wrong in (("", "", "needs a lead"), ("AA", "", "needs a lead"), ("LL", "0000", "is not the PIN")):
        with pytest.raises(Refused, match=wrong):
            authorize_lead(shop.folder, known, by, pin, clock())
    shop.refresh()
    assert shop.people.known["LL"].wrong == 1, "the wrong try is on record"

    by = authorize_lead(shop.folder, known, "ll", "4711", clock())
    restore_copy(shop.folder, copy, by, clock())

    last = JournalFolder(record(shop)).open("shop").entries[-1]
    assert (last.kind, last.by, last.body["copy"]) == ("record_restored", "LL", copy.name)
    shop.refresh()
    assert shop.sign_in("LL", "4711").lead


def test_where_everyone_needs_a_pin_no_lead_decides_without_one(tmp_path: Path, clock: StepClock) -> None:
    """REC-33: the shop's rule holds for what is decided outside of the program; a slip in its file makes none."""
    shop = Shop(tmp_path, clock)
    shop.add_person("LL", "Lena", True, by="LL")
    shop.close()
    known = find_authority(tmp_path)
    assert authorize_lead(tmp_path, known, "LL", "", clock()) == "LL"

    (tmp_path / "shop.toml").write_text("pin_for_everyone = true\n", encoding="utf-8")
    with pytest.raises(Refused, match="LL has no PIN"):
        authorize_lead(tmp_path, known, "LL", "", clock())

    (tmp_path / "shop.toml").write_text('pin_for_everyone = "true"\n', encoding="utf-8")
    assert authorize_lead(tmp_path, known, "LL", "", clock()) == "LL"


def test_the_lead_is_known_from_a_copy_where_the_record_is_gone(shop: Shop, clock: StepClock) -> None:
    copy = make_backup(shop)
    shop.close()
    shutil.rmtree(record(shop))
    known = find_authority(shop.folder)

    assert known is not None
    assert known.source == copy
    with pytest.raises(Refused, match="is not the PIN"):
        authorize_lead(shop.folder, known, "LL", "0000", clock())
    assert not record(shop).exists(), "no record of people is made that knows nobody"


def test_who_is_a_lead_is_asked_of_the_newest_copy(shop: Shop, clock: StepClock) -> None:
    make_backup(shop)
    shop.add_person("MM", "Mia", True, by="LL", pin="2222")
    clock.forward(3600)
    make_backup(shop)
    shop.close()
    shutil.rmtree(record(shop))

    known = find_authority(shop.folder)
    assert known is not None
    assert known.people.leads == {"LL", "MM"}


def test_the_lead_is_known_where_no_copy_was_ever_made(shop: Shop) -> None:
    known = find_authority(shop.folder)

    assert known is not None
    assert known.source == record(shop)


def test_the_lead_is_known_from_the_copy_at_hand_where_there_is_nothing_else(
    shop: Shop, tmp_path: Path, clock: StepClock
) -> None:
    copy = make_backup(shop, tmp_path / "stick")
    shop.close()
    shutil.rmtree(record(shop))

    assert find_authority(shop.folder) is None
    known = find_authority(shop.folder, copy)
    assert known is not None
    assert known.source == copy
    assert restore_copy(shop.folder, copy, authorize_lead(shop.folder, known, "LL", "4711", clock()), clock()) is None
    assert JournalFolder(record(shop)).open("shop").entries[-1].body == {"copy": copy.name, "former": None}


@pytest.mark.parametrize(
    ("kind", "body"),
    [
        ("person_added", {}),
        ("person_added", {"initials": [], "name": "", "lead": False}),
        ("tools_left", {"tools": [["mill"]]}),
    ],
)
def test_people_that_no_floor_entered_are_passed_over_for_a_copy(
    shop: Shop, kind: str, body: dict[str, object], clock: StepClock
) -> None:
    copy = make_backup(shop)
    with shop.journals.open("shop").turn() as turn:
        turn.append([Draft(kind, body)], clock(), "LL")

    known = find_authority(shop.folder)

    assert known is not None
    assert known.source == copy


def test_where_nobody_was_ever_a_lead_nobody_is_asked_for(tmp_path: Path, clock: StepClock) -> None:
    Shop(tmp_path, clock).close()

    assert authorize_lead(tmp_path, find_authority(tmp_path), "", "", clock()) == "-"


def test_all_leads_who_may_decide_are_named(shop: Shop, clock: StepClock) -> None:
    for initials in ("ZZ", "BB", "MM", "CC"):
        shop.add_person(initials, "Another", True, by="LL", pin="2222")
    known = find_authority(shop.folder)

    for by in ("", "AA"):
        with pytest.raises(Refused) as refused:
            authorize_lead(shop.folder, known, by, "", clock())
        assert "BB, CC, LL, MM, ZZ" in refused.value.remedy


def test_a_wrong_pin_is_refused_also_where_it_cannot_be_written(shop: Shop, clock: StepClock) -> None:
    """The record of people was cut short, and only a copy shows it: nothing more is written to it."""
    shop.add_person("BB", "Bea", False, by="LL")
    make_backup(shop)
    shop.close()
    path = record(shop) / "shop.json"
    path.write_bytes(cut := b"\n".join(path.read_bytes().split(b"\n")[:4]).rstrip(b",") + b"\n}}\n")
    (record(shop) / ".shop.mark").unlink()

    with pytest.raises(Refused, match="is not the PIN"):
        authorize_lead(shop.folder, find_authority(shop.folder), "LL", "0000", clock())

    assert path.read_bytes() == cut


def test_the_right_pin_changes_nothing_in_a_record_that_is_looked_at_before_it_is_mended(
    shop: Shop, clock: StepClock
) -> None:
    """Its last line was torn; what becomes of it is still to be decided."""
    shop.close()
    path = record(shop) / "shop.json"
    path.write_bytes(torn := path.read_bytes().rstrip() + b'x"torn')

    assert authorize_lead(shop.folder, find_authority(shop.folder), "LL", "4711", clock()) == "LL"

    assert path.read_bytes() == torn
    assert not list(record(shop).glob("shop.json.torn-*"))


def test_a_copy_of_another_shop_is_not_taken_for_one_of_this(shop: Shop, tmp_path: Path, clock: StepClock) -> None:
    clock.forward(1)
    other = a_shop(tmp_path / "other", clock, batches=1)
    copy = make_backup(other)
    other.close()

    shop.close()
    with pytest.raises(Refused, match="a copy of another shop"):
        require_restorable(shop.folder, copy)
    require_restorable(shop.folder, copy, other_shop=True)
    restore_copy(shop.folder, copy, "LL", clock())
    assert JournalFolder(record(shop)).names() == ["B0001", "shop"]


def test_deleting_the_people_makes_nobody_a_lead_while_a_copy_knows_them(shop: Shop, clock: StepClock) -> None:
    make_backup(shop)
    shop.close()
    shutil.rmtree(record(shop))
    with pytest.raises(NoSuchJournal, match="floor recover shop"):
        Shop(shop.folder, clock)
    known = find_authority(shop.folder)
    with pytest.raises(Refused, match="needs a lead"):
        authorize_lead(shop.folder, known, "AA", "", clock())
    by = authorize_lead(shop.folder, known, "LL", "4711", clock())

    recover_people(shop.folder, by, clock(), without=True)

    again = Shop(shop.folder, clock)
    assert again.people.known == {}
    assert [(entry.kind, entry.by) for entry in again.journals.open("shop").entries] == [("record_recovered", "LL")]
    again.close()
    known = find_authority(shop.folder)
    assert known is not None
    assert known.people.leads == {"LL"}, "the copy is asked as long as the record knows of no lead"


def test_people_that_are_left_stay_where_the_others_are_given_up(shop: Shop, clock: StepClock) -> None:
    make_backup(shop)
    shop.close()
    path = record(shop) / "shop.json"
    path.write_bytes(b"\n".join(path.read_bytes().split(b"\n")[:2]) + b"\n}}\n")

    assert "are lost" in recover_people(shop.folder, "LL", clock(), without=True)

    again = Shop(shop.folder, clock)
    assert list(again.people.known) == ["LL"]
    again.close()


def test_a_copy_without_people_is_brought_back_and_that_is_on_record(shop: Shop, clock: StepClock) -> None:
    copy = make_backup(shop)
    (copy / "shop.json").unlink()

    former = restore_copy(shop.folder, copy, "LL", clock())

    assert former is not None
    entries = JournalFolder(record(shop)).open("shop").entries
    assert [(entry.kind, entry.body["former"]) for entry in entries] == [("record_restored", former.name)]


@pytest.mark.parametrize("spoilt", ["shop", "B0003"])
def test_what_cannot_be_read_keeps_nothing_from_being_missed(shop: Shop, spoilt: str) -> None:
    make_backup(shop)
    for name in ("B0002.json", ".B0002.mark"):
        (record(shop) / name).unlink()
    (record(shop) / f"{spoilt}.json").unlink(missing_ok=True)
    (record(shop) / f"{spoilt}.json").mkdir()

    assert any(sentence.startswith("B0002 is not in the record") for sentence in said(shop))


def test_what_is_newer_than_a_copy_is_named_and_asked_about(
    shop: Shop, clock: StepClock, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    copy = make_backup(shop)
    assert list_newer_here(shop.folder, copy) == []
    shop.do("B0001", Note("loose clamp"), "AA")
    shop.open_batch(OpenBatch(shop.find_next_id(), part(), "digest", "part.toml", 1, 8), "LL")
    newer = list_newer_here(shop.folder, copy)
    assert [(one.name, one.entries, one.in_copy) for one in newer] == [
        ("B0001", 1, True), ("B0003", 2, False), ("shop", 1, True),
    ]  # fmt: skip

    command = ["restore", str(copy), "--by", "LL", "--shop", str(shop.folder)]
    asked: list[str] = []
    monkeypatch.setattr("getpass.getpass", lambda prompt: asked.append(prompt) or "4711")
    assert main(command) == Exit.WRONG
    assert "open at a terminal" in capsys.readouterr().err
    assert not asked, "before anybody gives a PIN"
    shop.close()
    monkeypatch.setattr("builtins.input", lambda prompt: "yes")
    assert main(command) == Exit.FINE
    assert "B0003  2 entries" in (said := capsys.readouterr().out)
    assert "Nothing was brought back." in said
    assert (record(shop) / "B0003.json").exists()
    assert main([*command, "--yes"]) == Exit.FINE
    assert not (record(shop) / "B0003.json").exists()


def test_a_missing_folder_is_said_before_a_pin_is_asked(
    shop: Shop, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    shop.close()
    monkeypatch.setattr("getpass.getpass", pytest.fail)
    missing = shop.folder / "no such copy"
    assert main(["restore", str(missing), "--by", "LL", "--shop", str(shop.folder)]) == Exit.WRONG
    assert "no such copy" in capsys.readouterr().err


@pytest.mark.parametrize("what", ["no copy", "all copies", "another shop"])
def test_a_folder_that_is_no_copy_of_this_shop_is_refused_before_anything_is_asked(
    shop: Shop,
    tmp_path: Path,
    clock: StepClock,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    what: str,
) -> None:
    copy = make_backup(shop)
    shop.close()
    given, status, said = (
        tmp_path,
        Exit.CANNOT,
        "holds no record. Give the folder of one copy, such as backups/record-…",
    )
    if what == "all copies":
        given, said = copy.parent, f"holds no record. Give the folder of one copy, such as {copy}, not of all of them"
    elif what == "another shop":
        clock.forward(1)
        other = a_shop(tmp_path / "other", clock, batches=1)
        given, status, said = make_backup(other), Exit.WRONG, "is a copy of another shop"
        other.close()
    for ask in ("getpass.getpass", "builtins.input"):
        monkeypatch.setattr(ask, pytest.fail)
    assert main(["restore", str(given), "--by", "LL", "--shop", str(shop.folder)]) == status
    assert said in capsys.readouterr().err


def test_a_file_that_is_no_bundle_is_a_failed_check(shop: Shop, capsys: pytest.CaptureFixture[str]) -> None:
    shop.close()
    missing = str(shop.folder / "none.floor")
    assert main(["receive", missing, "--by", "LL", "--shop", str(shop.folder)]) == Exit.WRONG
    assert "none.floor" in capsys.readouterr().err


def test_the_command_line_asks_for_the_pin(
    shop: Shop, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    copy = make_backup(shop)
    shop.close()
    asked: list[str] = []
    monkeypatch.setattr("getpass.getpass", lambda prompt: asked.append(prompt) or "0000")
    for command in (["restore", str(copy)], ["recover", "shop", "--without"]):
        assert main([*command, "--by", "LL", "--shop", str(shop.folder)]) == Exit.WRONG
        assert "is not the PIN" in capsys.readouterr().err
    assert asked == ["PIN of LL: "] * 2


def test_the_command_line_takes_no_lead_without_a_pin(
    tmp_path: Path, clock: StepClock, capsys: pytest.CaptureFixture[str]
) -> None:
    shop = Shop(tmp_path / "here", clock)
    shop.add_person("LL", "Lee Lead", True, by="-")
    shop.add_person("AA", "Ann", False, by="LL")
    shop.open_batch(OpenBatch(shop.find_next_id(), part(), "digest", "part.toml", 1, 8), "LL")
    copy = make_backup(shop)
    shop.set_pin("AA", "4711", by="AA")
    shop.close()
    for command in (["restore", str(copy)], ["recover", "B0001"], ["bundle", "B0001", "--to", "north"]):
        assert main([*command, "--by", "LL", "--shop", str(shop.folder)]) == Exit.WRONG, command
        assert "LL has no PIN. They or a lead set one first: c on What next." in capsys.readouterr().err


def test_a_batch_whose_file_and_note_are_gone_is_missed(shop: Shop, clock: StepClock) -> None:
    for name in ("B0001.json", ".B0001.mark"):
        (record(shop) / name).unlink()

    [sentence] = said(shop)
    assert sentence.startswith("B0001 is not in the record, though it was opened here")


def test_the_newest_batch_of_which_nothing_is_left_is_missed_at_once(
    shop: Shop, clock: StepClock, capsys: pytest.CaptureFixture[str]
) -> None:
    """There is no later number to tell it by: the shop's own record knows that it was opened."""
    for name in ("B0002.json", ".B0002.mark"):
        (record(shop) / name).unlink()

    again = Shop(shop.folder, clock)
    assert list(again.out) == ["B0002"]
    assert again.find_next_id() == "B0003", "its number is not given to another"
    again.close()
    [sentence] = said(shop)
    assert sentence.startswith("B0002 is not in the record, though it was opened here")
    for command in ("status", "verify"):
        assert main([command, "--shop", str(shop.folder)]) == Exit.WRONG
        assert "B0002" in "".join(capsys.readouterr())

    shop.refresh()
    assert "is given up" in recover_batch(shop, "B0002", "LL", without=True)
    assert said(shop) == []
    again = Shop(shop.folder, clock)
    assert not again.out
    assert again.find_next_id() == "B0003"
    again.close()


@pytest.mark.parametrize("gone", ["B0001", "B0002"])
def test_a_batch_that_a_copy_has_is_missed_until_it_is_given_up(
    shop: Shop, gone: str, clock: StepClock, capsys: pytest.CaptureFixture[str]
) -> None:
    copy = make_backup(shop)
    assert said(shop) == []
    for name in (f"{gone}.json", f".{gone}.mark"):
        (record(shop) / name).unlink()

    [sentence] = said(shop)
    assert sentence == (f"{gone} is not in the record, and {copy.name} has it: bring it back with floor recover {gone} "
                        "--by INITIALS, or go on without it with --without.")  # fmt: skip
    assert main(["verify", "--shop", str(shop.folder)]) == Exit.WRONG
    assert sentence in capsys.readouterr().out
    shop.refresh()
    assert "is given up" in recover_batch(shop, gone, "LL", without=True)
    assert gone not in JournalFolder(record(shop)).names()
    assert said(shop) == []


def test_a_rewritten_record_is_detected_by_its_copy(shop: Shop, clock: StepClock) -> None:
    """The chain is right again, and the mark; only the copy knows what the entries were."""
    shop.do("B0002", Note("two pieces dropped"), "AA")
    copy = make_backup(shop)
    entries = list(shop.journals.open("B0002").entries[:-1])
    shop.close()
    (record(shop) / "B0002.json").write_bytes(encode_journal("B0002", entries))
    (record(shop) / ".B0002.mark").unlink()
    again = JournalFolder(record(shop))
    with again.open("B0002").turn() as turn:
        turn.append([Draft("noted", {"text": "all fine"})], clock(), "AA")
    again.close()

    [sentence] = said(shop)
    assert sentence.startswith(f"B0002: entry 3 is not the one that {copy.name} has, 'noted' by 'AA'")


def test_what_a_lead_decided_to_go_on_without_is_not_brought_up_again(shop: Shop, clock: StepClock) -> None:
    shop.do("B0002", Note("first"), "AA")
    make_backup(shop)
    shop.close()
    path = record(shop) / "B0002.json"
    path.write_bytes(b"\n".join(path.read_bytes().split(b"\n")[:2]) + b"\n}}\n")
    again = Shop(shop.folder, clock)
    again.sign_in("LL", "4711")
    recover_batch(again, "B0002", "LL", without=True)
    again.close()

    assert said(shop) == []


def test_a_batch_from_elsewhere_leaves_no_gap(shop: Shop, tmp_path: Path, clock: StepClock) -> None:
    clock.forward(1)
    other = a_shop(tmp_path / "other", clock, batches=0)
    other.open_batch(OpenBatch("B0040", part(), "digest", "part.toml", 1, 8), "LL")
    send_batch(other, "B0040", tmp_path / "b.floor", "here", "LL")
    other.close()
    receive_batch(shop, review_bundle(shop, tmp_path / "b.floor"), "LL")

    assert [batch.id for batch in shop.batches] == ["B0001", "B0002", "B0040"]
    assert said(shop) == []
