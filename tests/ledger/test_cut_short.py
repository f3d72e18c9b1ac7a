"""A record that lacks acknowledged entries never passes for complete, and can be recovered."""

from __future__ import annotations

import json
import os
import shutil
from datetime import datetime
from pathlib import Path

import pytest

from floor.entry import Draft, Moment
from floor.ledger import JournalFolder, NameTaken, NoSuchJournal, NothingMissing, ReadOnly
from floor.ledger.backup import back_up_journals, restore_folder
from floor.ledger.copies import list_copies
from floor.ledger.errors import BackupFailed
from floor.ledger.files import REAL_FILES
from floor.ledger.high_water_mark import locate_mark, read_mark, write_mark
from floor.ledger.recover_from_copies import describe_copy, describe_lost_journal, recover_journal
from floor.ledger.verify import describe_missing_end


def add(journals: JournalFolder, moment: Moment, count: int = 1) -> None:
    with journals.open("B1").turn() as turn:
        for number in range(count):
            turn.append([Draft("count", {"good": number})], moment, "AB")


@pytest.fixture
def target(tmp_path: Path) -> Path:
    return tmp_path / "copies"


@pytest.fixture
def path(folder: Path, target: Path, moment: Moment, now: datetime) -> Path:
    """A record of nine entries, closed again; the copy holds seven of them."""
    journals = JournalFolder(folder, copies=target)
    journals.create("B1")
    add(journals, moment, 7)
    back_up_journals(journals, target, now)
    add(journals, moment, 2)
    journals.close()
    return folder / "B1.json"


def cut(path: Path, keep: int, how: str) -> None:
    """Cut the file after `keep` entries: at the end of their line, within the next one, or neatly, braces and all."""
    lines = path.read_bytes().rstrip(b" ").split(b"\n")
    text = b"\n".join(lines[: keep + 1])
    path.write_bytes(
        {
            "at a line end": text,
            "in the middle": text + b"\n" + lines[keep + 1][:40],
            "neatly": text.rstrip(b",") + b"\n}}\n",
        }[how]
    )


def stored(path: Path) -> list[int]:
    return [entry["body"]["good"] for entry in json.loads(path.read_bytes())["entries"].values()]


WAYS = ["at a line end", "in the middle", "neatly"]


@pytest.mark.parametrize("how", WAYS)
def test_what_was_acknowledged_and_is_gone_is_reported_and_nothing_more_is_written(
    path: Path, target: Path, moment: Moment, how: str
) -> None:
    cut(path, 4, how)
    before = path.read_bytes()

    journals = JournalFolder(path.parent, copies=target)
    journal = journals.open("B1")

    said = journal.condition.sentence
    assert journal.condition.kind == "read-only"
    assert "ends at entry 4, but entry 9 was acknowledged: 5 entries are missing" in said
    assert f"{list_copies(target)[0].name} has 3 more: bring them back with floor recover B1" in said
    assert len(journal.entries) == 4
    with pytest.raises(ReadOnly, match="5 entries are missing"):
        add(journals, moment)
    assert path.read_bytes() == before
    assert describe_missing_end(journals, journals.text("B1")) == said


@pytest.mark.parametrize("how", WAYS)
def test_without_a_note_the_copies_are_asked(path: Path, target: Path, how: str) -> None:
    locate_mark(path).unlink()
    cut(path, 4, how)
    condition = JournalFolder(path.parent, copies=target).open("B1").condition
    assert "ends at entry 4, but a copy goes on from there" in condition.sentence


def test_without_evidence_of_more_it_does_not_claim_that_nothing_is_missing(path: Path, target: Path) -> None:
    locate_mark(path).unlink()
    cut(path, 8, "at a line end")
    journal = JournalFolder(path.parent, copies=target).open("B1")
    assert journal.condition.kind == "repaired"
    assert "Neither its note nor a copy knows of anything after entry 8" in journal.condition.sentence


def test_what_was_given_up_is_not_missed_again_though_a_copy_has_it(path: Path, target: Path) -> None:
    cut(path, 4, "neatly")
    done = recover_journal(path, target, without=True, files=REAL_FILES)

    assert (done.source, done.acknowledged) == (None, 9)
    journals = JournalFolder(path.parent, copies=target)
    assert journals.open("B1").condition.kind == "fine"
    assert describe_missing_end(journals, journals.text("B1")) == ""


def test_a_commit_torn_by_a_power_cut_is_asked_of_the_copies_though_the_note_knows_no_more(
    path: Path, target: Path
) -> None:
    """The mark is not synced, so it may lag."""
    locate_mark(path).unlink()
    journals = JournalFolder(path.parent, copies=target)
    entries = journals.open("B1").entries
    journals.close()
    write_mark(path, 4, entries[3].hash)
    cut(path, 4, "in the middle")

    condition = JournalFolder(path.parent, copies=target).open("B1").condition

    assert "ends at entry 4, but a copy goes on from there" in condition.sentence
    assert condition.place == "entry 5"


@pytest.mark.parametrize("noted", [True, False])
def test_a_whole_record_is_left_as_it_is(path: Path, target: Path, noted: bool) -> None:
    if not noted:
        locate_mark(path).unlink()
    before = path.read_bytes()
    for without in (True, False):
        with pytest.raises(NothingMissing, match="Nothing is known to be missing from the record of B1"):
            recover_journal(path, target, without=without, files=REAL_FILES)
    assert path.read_bytes() == before


def test_a_copy_of_just_as_many_entries_has_none_more(path: Path, target: Path) -> None:
    locate_mark(path).unlink()
    cut(path, 7, "neatly")
    assert JournalFolder(path.parent, copies=target).open("B1").condition.kind == "fine"


def test_without_a_note_what_a_copy_has_is_brought_back_or_given_up(path: Path, target: Path) -> None:
    locate_mark(path).unlink()
    cut(path, 4, "neatly")
    cut_short = path.read_bytes()

    done = recover_journal(path, target, without=False, files=REAL_FILES)
    assert (done.before, done.now, done.acknowledged) == (4, 7, 7)

    locate_mark(path).unlink()
    path.write_bytes(cut_short)
    done = recover_journal(path, target, without=True, files=REAL_FILES)
    assert (done.before, done.now, done.acknowledged) == (4, 4, 7)


def test_one_that_is_missing_is_one(path: Path) -> None:
    cut(path, 8, "neatly")
    condition = JournalFolder(path.parent).open("B1").condition
    assert "1 entry is missing" in condition.sentence
    assert condition.place == "entry 9"


def test_a_file_of_which_nothing_is_left_goes_on_empty_when_that_is_decided(path: Path) -> None:
    path.write_bytes(b"something else")

    assert recover_journal(path, None, without=True, files=REAL_FILES).now == 0

    journals = JournalFolder(path.parent)
    assert journals.open("B1").condition.kind == "fine"
    assert len(journals.open("B1").entries) == 0


def test_the_longest_copy_is_offered_and_of_equals_the_newest(path: Path, target: Path, now: datetime) -> None:
    cut(path, 4, "neatly")
    [first] = list_copies(target)
    second, third = (target / f"record-2026112{day}T100201Z" for day in (6, 7))
    for later in (second, third):
        shutil.copytree(first, later)
    cut(third / "B1.json", 5, "neatly")

    assert f"{second.name} has 3 more" in JournalFolder(path.parent, copies=target).open("B1").condition.sentence

    for number in (1, 2):
        shutil.copy(second / "B1.json", path.with_name(f"B1.json.seen-{number}"))
    path.with_name("B1.json.odd-1").mkdir()
    assert "B1.json.seen-2 has 3 more" in JournalFolder(path.parent, copies=target).open("B1").condition.sentence


def test_a_copy_is_called_by_its_folder_among_the_copies_and_no_other() -> None:
    assert describe_copy(Path("/stick/record-20261125T100201Z/closed/B1.json")) == "record-20261125T100201Z"
    assert describe_copy(Path("/record-keeping/shop/record/B1.json.seen-1")) == "B1.json.seen-1"


@pytest.mark.parametrize("how", WAYS)
def test_what_a_copy_has_more_is_brought_back(path: Path, target: Path, moment: Moment, how: str) -> None:
    cut(path, 4, how)
    before = path.read_bytes()

    done = recover_journal(path, target, without=False, files=REAL_FILES)

    assert (done.before, done.now, done.acknowledged) == (4, 7, 9)
    assert done.source == list_copies(target)[-1] / "B1.json"
    assert stored(path) == list(range(7))
    assert path.read_bytes().endswith(b"  "), "blanks are kept ready for what comes"
    assert done.kept is not None
    assert done.kept.read_bytes() == before
    journals = JournalFolder(path.parent, copies=target)
    assert journals.open("B1").condition.kind == "fine"
    add(journals, moment)
    with pytest.raises(NothingMissing):
        recover_journal(path, target, without=False, files=REAL_FILES)


def test_it_goes_on_without_what_is_missing_when_that_is_decided(path: Path, target: Path, moment: Moment) -> None:
    cut(path, 4, "in the middle")
    assert recover_journal(path, target, without=True, files=REAL_FILES).now == 4
    journals = JournalFolder(path.parent, copies=target)
    add(journals, moment)
    journals.close()
    assert JournalFolder(path.parent, copies=target).open("B1").condition.kind == "fine"
    assert stored(path) == [0, 1, 2, 3, 0]


def test_with_no_copy_of_it_one_is_told_how_to_go_on(path: Path) -> None:
    cut(path, 4, "neatly")
    with pytest.raises(NothingMissing, match="floor recover B1 --without"):
        recover_journal(path, None, without=False, files=REAL_FILES)


@pytest.mark.parametrize("how", WAYS)
def test_a_terminal_that_had_it_open_keeps_what_it_knows(path: Path, target: Path, moment: Moment, how: str) -> None:
    journals, other = JournalFolder(path.parent, copies=target), JournalFolder(path.parent, copies=target)
    journal = journals.open("B1")
    other.open("B1")
    cut(path, 4, how)

    assert journal.refresh() == []
    assert other.open("B1").refresh() == []
    assert len(list(path.parent.glob("B1.json.seen-*"))) == 1, "kept once, however many terminals had it open"
    assert journal.condition.kind == "read-only"
    assert len(journal.entries) == 9
    with pytest.raises(ReadOnly):
        add(journals, moment)

    assert "B1.json.seen-1 has 5 more" in JournalFolder(path.parent, copies=target).open("B1").condition.sentence
    assert recover_journal(path, target, without=False, files=REAL_FILES).now == 9


@pytest.mark.parametrize("keep", [4, 8])
def test_a_terminal_that_found_its_file_cut_takes_nothing_more_from_it_until_it_is_opened_again(
    tmp_path: Path, moment: Moment, keep: int
) -> None:
    """Not even what another program puts back in place: what is shown stays what the sentence speaks of."""
    folder = tmp_path / "record"
    ahead, behind = JournalFolder(folder), JournalFolder(folder)
    ahead.create("B1")
    add(ahead, moment, 6)
    journal = behind.open("B1")
    add(ahead, moment, 3)
    ahead.close()
    whole = (folder / "B1.json").read_bytes()
    cut(folder / "B1.json", keep, "neatly")
    with pytest.raises(ReadOnly, match="damaged at entry 7" if keep < 6 else "1 entry is missing"):
        add(behind, moment)
    known = list(journal.entries)

    (folder / "B1.json").write_bytes(whole)

    assert journal.refresh() == []
    with journal.turn() as turn:
        assert turn.news == []
    assert list(journal.entries) == known
    assert len(JournalFolder(folder).open("B1").entries) == 9


def test_another_file_in_its_place_is_noticed(path: Path, tmp_path: Path, moment: Moment) -> None:
    other = JournalFolder(tmp_path / "other")
    other.create("B1")
    add(other, Moment(moment.at, "boot-2", 1.0), 12)
    path.write_bytes(other.open("B1").path.read_bytes())
    condition = JournalFolder(path.parent).open("B1").condition
    assert "Entry 9 of the record of B1 is not the one that was acknowledged" in condition.sentence


def test_a_record_that_is_gone_is_missed_and_its_name_not_given_away(path: Path, target: Path) -> None:
    path.unlink()
    journals = JournalFolder(path.parent, copies=target)
    assert journals.lost() == ["B1"]
    with pytest.raises(NameTaken, match="though it held 9 entries.*has 7 more: bring them back"):
        journals.create("B1")
    done = recover_journal(journals.place("B1"), target, without=False, files=REAL_FILES)
    assert (done.now, done.acknowledged) == (7, 9)
    assert journals.lost() == []
    assert JournalFolder(path.parent, copies=target).open("B1").condition.kind == "fine"


@pytest.mark.parametrize("noted", [True, False])
def test_a_record_that_is_gone_is_given_up(path: Path, target: Path, noted: bool) -> None:
    path.unlink()
    if not noted:
        locate_mark(path).unlink()

    done = recover_journal(path, target, without=True, files=REAL_FILES)

    assert (done.now, done.acknowledged) == (0, 9 if noted else 7)
    journals = JournalFolder(path.parent, copies=target)
    assert (journals.names(), journals.lost()) == ([], [])
    assert journals.create("B1").condition.kind == "fine", "its name is free, though a copy has a longer journal of it"


@pytest.mark.parametrize("without", [True, False])
def test_a_record_that_nobody_knows_of_is_neither_brought_back_nor_given_up(path: Path, without: bool) -> None:
    with pytest.raises(NoSuchJournal, match="no record of B2 .* and no copy of it"):
        recover_journal(path.with_name("B2.json"), None, without=without, files=REAL_FILES)


def test_no_copy_of_a_record_cut_short_lets_an_older_one_go(path: Path, target: Path, now: datetime) -> None:
    cut(path, 4, "neatly")
    with pytest.raises(BackupFailed, match="5 entries are missing"):
        back_up_journals(JournalFolder(path.parent, copies=target), target, now, keep=1)
    assert len(list_copies(target)) == 2


def test_a_copy_brought_back_on_purpose_is_not_cut_short(path: Path, target: Path, now: datetime) -> None:
    journals = JournalFolder(path.parent, copies=target)
    back_up_journals(journals, target, now)
    journals.close()
    restore_folder(list_copies(target)[0], path.parent)
    assert JournalFolder(path.parent, copies=target).open("B1").condition.kind == "fine"
    assert stored(path) == list(range(7))


def test_the_mark_goes_along_when_a_batch_is_archived(path: Path, target: Path) -> None:
    journals = JournalFolder(path.parent, copies=target)
    journals.archive("B1")
    closed = path.parent / "closed" / "B1.json"
    assert read_mark(closed) is not None
    assert journals.lost() == []
    journals.close()
    cut(closed, 4, "neatly")
    assert "5 entries are missing" in JournalFolder(path.parent, copies=target).open("B1").condition.sentence
    recover_journal(closed, target, without=False, files=REAL_FILES)
    assert closed.read_bytes().endswith(b'"}\n}}\n'), "what is closed keeps no blanks ready"


def test_entries_after_a_spoilt_first_line_are_not_given_up_for_an_older_copy(path: Path, target: Path) -> None:
    """The copy holds seven entries, the file all nine behind a first line that cannot be read."""
    path.write_bytes(b"?" + path.read_bytes()[1:])
    assert len(JournalFolder(path.parent, copies=target).open("B1").entries) == 9

    with pytest.raises(NothingMissing, match="No copy has more of the record of B1 than its 9 entries"):
        recover_journal(path, target, without=False, files=REAL_FILES)
    assert recover_journal(path, target, without=True, files=REAL_FILES).now == 9

    assert stored(path) == [*range(7), 0, 1]
    assert JournalFolder(path.parent, copies=target).open("B1").condition.kind == "fine"


def test_what_stands_behind_a_damaged_place_is_joined_to_what_the_copy_brings_back(path: Path, target: Path) -> None:
    """The copy holds seven entries; the file is damaged at the fifth and sound from there to the ninth."""
    lines = path.read_bytes().split(b"\n")
    lines[5] = lines[5].replace(b'"kind":"count"', b'"kind":"cOunt"')
    path.write_bytes(b"\n".join(lines))
    assert len(JournalFolder(path.parent, copies=target).open("B1").entries) == 4

    done = recover_journal(path, target, without=False, files=REAL_FILES)

    assert (done.before, done.now, done.acknowledged) == (4, 9, 9)
    assert stored(path) == [*range(7), 0, 1]
    assert JournalFolder(path.parent, copies=target).open("B1").condition.kind == "fine"


@pytest.fixture
def branch(path: Path, tmp_path: Path, moment: Moment) -> bytes:
    """Another continuation of the record's first five entries, of 25 in all."""
    other = tmp_path / "branch" / "B1.json"
    other.parent.mkdir()
    other.write_bytes(path.read_bytes())
    cut(other, 5, "neatly")
    journals = JournalFolder(other.parent)
    add(journals, Moment(moment.at, "boot-2", 1.0), 20)
    journals.close()
    return other.read_bytes()


@pytest.mark.parametrize("how", WAYS)
def test_a_file_replaced_by_a_bundle_is_not_recovered(path: Path, target: Path, branch: bytes, how: str) -> None:
    """A lead has given it up; that it is the longest says nothing."""
    path.with_name("B1.json.parted-1").write_bytes(branch)
    cut(path, 4, how)

    assert (
        f"{list_copies(target)[-1].name} has 3 more"
        in JournalFolder(path.parent, copies=target).open("B1").condition.sentence
    )
    assert recover_journal(path, target, without=False, files=REAL_FILES).now == 7
    assert stored(path) == list(range(7))


@pytest.mark.parametrize("given_up", [0, 1])
def test_of_two_copies_of_one_length_that_of_the_branch_given_up_comes_last(
    path: Path, target: Path, branch: bytes, given_up: int
) -> None:
    path.with_name("B1.json.parted-1").write_bytes(branch)
    whole = path.read_bytes()
    cut(path, 4, "neatly")
    locate_mark(path).unlink()
    [copy] = list_copies(target)
    copies = [copy, copy.with_name("record-29990101T000000Z")]
    shutil.copytree(copy, copies[1])
    for number, each in enumerate(copies):
        (each / "B1.json").write_bytes(branch if number == given_up else whole)
        cut(each / "B1.json", 7, "neatly")

    recover_journal(path, target, without=False, files=REAL_FILES)
    assert stored(path) == list(range(7))


def test_a_file_replaced_by_a_bundle_is_not_offered_even_if_alone(path: Path, branch: bytes) -> None:
    path.with_name("B1.json.parted-1").write_bytes(branch)
    cut(path, 4, "neatly")
    locate_mark(path).unlink()

    assert JournalFolder(path.parent).open("B1").condition.kind == "fine"


def test_a_copy_that_does_not_hold_what_is_here_does_not_count(path: Path, target: Path, moment: Moment) -> None:
    """The record was cut short, its mark is gone, and it went on since."""
    cut(path, 4, "neatly")
    locate_mark(path).unlink()
    journals = JournalFolder(path.parent)
    add(journals, Moment(moment.at, "boot-2", 1.0))
    journals.close()
    locate_mark(path).unlink()

    assert JournalFolder(path.parent, copies=target).open("B1").condition.kind == "fine"


@pytest.mark.parametrize("reaches", [9, 25])
def test_a_copy_of_another_branch_is_not_brought_back(path: Path, target: Path, branch: bytes, reaches: int) -> None:
    """It reaches as far as the mark, but has a different entry there."""
    [copy] = list_copies(target)
    (copy / "B1.json").write_bytes(branch)
    if reaches < 25:
        cut(copy / "B1.json", reaches, "neatly")
    path.unlink()
    assert "No copy in this shop has more" in describe_lost_journal(path, target)

    path.with_name("B1.json.short-1").write_bytes(branch)
    (copy / "B1.json").write_bytes(b"\n".join(branch.split(b"\n")[:4]))
    assert f"{copy.name} has 3 more" in describe_lost_journal(path, target), (
        "as far as that goes, nobody can tell the two apart"
    )


def test_a_copy_from_before_a_branch_was_given_up_serves_where_there_is_no_other(
    path: Path, target: Path, branch: bytes
) -> None:
    path.with_name("B1.json.parted-1").write_bytes(branch)
    [copy] = list_copies(target)
    (copy / "B1.json").write_bytes(branch)
    cut(copy / "B1.json", 5, "neatly")
    cut(path, 4, "neatly")

    assert recover_journal(path, target, without=False, files=REAL_FILES).now == 5


@pytest.mark.parametrize("how", WAYS)
@pytest.mark.parametrize("keep", [3, 5])
def test_a_terminal_that_is_behind_writes_nothing_to_a_file_that_was_cut(
    tmp_path: Path, moment: Moment, how: str, keep: int
) -> None:
    """Everything it knows is there; the mark beside the journal knows more."""
    folder = tmp_path / "record"
    ahead, behind = JournalFolder(folder), JournalFolder(folder)
    ahead.create("B1")
    add(ahead, moment, 3)
    journal = behind.open("B1")
    add(ahead, moment, 6)
    ahead.close()
    cut(folder / "B1.json", keep, how)
    before = (folder / "B1.json").read_bytes()

    with pytest.raises(ReadOnly, match=f"ends at entry {keep}, but entry 9 was acknowledged: {9 - keep} entries"):
        add(behind, moment)

    assert len(journal.entries) == keep
    assert (folder / "B1.json").read_bytes() == before
    assert (mark := read_mark(folder / "B1.json")) is not None
    assert mark.entries == 9
    with pytest.raises(ReadOnly):
        add(behind, moment)


@pytest.mark.parametrize("odd", ["pipe", "device", "large", "nested"])
def test_a_note_that_is_none_is_neither_waited_for_nor_read_without_end(path: Path, odd: str, moment: Moment) -> None:
    note = locate_mark(path)
    note.unlink()
    if odd == "pipe":
        os.mkfifo(note)
    elif odd == "device":
        note.symlink_to("/dev/zero")
    else:
        note.write_bytes(b"[" * (4000 if odd == "nested" else 5_000_000))

    assert read_mark(path) is None
    journals = JournalFolder(path.parent)
    add(journals, moment)
    assert len(journals.open("B1").entries) == 10
