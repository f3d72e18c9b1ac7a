"""The record folder: journals by name, closed ones archived and unread, no name that leaves the folder."""

from __future__ import annotations

import fcntl
import os
import stat
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from floor.entry import Draft, Moment, parse_time
from floor.ledger import Busy, InvalidName, Journal, JournalFolder, NameTaken, NoSuchJournal, ReadOnly, Replaced
from floor.ledger.errors import NotStorable
from floor.ledger.verify import verify_journal
from tests.ledger.faults import FaultyFiles


def add(journal: Journal, moment: Moment, kind: str = "count") -> None:
    with journal.turn() as turn:
        turn.append([Draft(kind, {})], moment, "AB")


def test_journals_are_found_by_name(journals: JournalFolder, folder: Path) -> None:
    journals.create("shop")
    journals.create("B0007")
    (folder / "notes.txt").write_text("not a journal")
    (folder / ".B0008.json.new").write_text("left by a crash")
    (folder / "B0007.json.torn-1").write_text("kept bytes")

    assert journals.names() == ["B0007", "shop"]
    assert journals.closed_names() == []
    assert journals.open("B0007") is journals.open("B0007")
    assert len(journals.open("shop").entries) == 0
    for look in (journals.open, journals.text, journals.archive):
        with pytest.raises(NoSuchJournal, match="There is no record of B0009"):
            look("B0009")


@pytest.mark.parametrize("name", [
    "", ".", "..", "../B1", "a/b", "/etc/passwd", "a\\b", "closed/B1", "B1.json", "-x", "_x", "x" * 65, "é", "a b",
    "a\n", "a\0",
])  # fmt: skip
def test_no_name_leaves_the_folder(journals: JournalFolder, folder: Path, name: str) -> None:
    for attempt in (journals.create, journals.open, journals.archive):
        with pytest.raises(InvalidName, match="use 1 to 64 letters, digits"):
            attempt(name)
    assert sorted(file.name for file in folder.parent.rglob("*")) == ["closed", "record"]


def test_others_on_the_machine_cannot_look_into_the_record(journals: JournalFolder, folder: Path) -> None:
    for made in (folder, folder / "closed"):
        assert stat.S_IMODE(made.stat().st_mode) & 0o007 == 0


def test_a_journal_is_found_and_missed_where_it_was(journals: JournalFolder, folder: Path) -> None:
    for name in ("B1", "B2"):
        journals.create(name)
    journals.archive("B2")
    for place in (folder, folder / "closed"):
        (place / ".no name of a journal.mark").write_text("{}")
    assert (journals.place("B1"), journals.place("B2")) == (folder / "B1.json", folder / "closed" / "B2.json")
    assert (journals.lost(), journals.lost_closed()) == ([], [])

    for name in ("B1", "B2"):
        journals.place(name).unlink()

    assert (journals.lost(), journals.lost_closed()) == (["B1"], ["B2"])
    assert (journals.place("B1"), journals.place("B2")) == (folder / "B1.json", folder / "closed" / "B2.json")
    for name in ("B1", "B2"):
        with pytest.raises(NameTaken, match="is not in .* any more"):
            journals.create(name)


def test_a_journal_is_looked_at_while_another_terminal_reads_it(journals: JournalFolder, moment: Moment) -> None:
    journal = journals.create("B1")
    add(journal, moment)
    with journal.path.open("rb") as reader:
        fcntl.flock(reader, fcntl.LOCK_SH)
        assert journals.text("B1").raw == reader.read()


def test_a_taken_name_is_refused_open_or_closed(journals: JournalFolder, folder: Path, moment: Moment) -> None:
    add(journals.create("B1"), moment)
    other = JournalFolder(folder)
    with pytest.raises(NameTaken, match="There is a record named B1 already"):
        other.create("B1")
    journals.archive("B1")
    with pytest.raises(NameTaken):
        other.create("B1")
    assert len(other.open("B1").entries) == 1


def test_of_processes_that_make_the_same_journal_one_does(journals: JournalFolder, folder: Path) -> None:
    """All wait for a newline, so that they begin at once."""
    script = (
        "import sys; from floor.ledger import JournalFolder, NameTaken\n"
        "journals = JournalFolder(sys.argv[1]); sys.stdin.readline()\n"
        "try: journals.create('B1'); print('made')\n"
        "except NameTaken: print('taken')"
    )
    racers = [
        subprocess.Popen(
            [sys.executable, "-c", script, str(folder)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )
        for _ in range(4)
    ]
    for racer in racers:
        racer.stdin.write("\n")
        racer.stdin.flush()
    said = sorted(racer.communicate()[0].strip() for racer in racers)

    assert said == ["made", "taken", "taken", "taken"]
    assert journals.names() == ["B1"]


def test_a_terminal_killed_in_its_turn_holds_nobody_up(journals: JournalFolder, folder: Path, moment: Moment) -> None:
    journal = journals.create("B1")
    script = (
        "import sys; from floor.ledger import JournalFolder\n"
        "with JournalFolder(sys.argv[1]).open('B1').turn(): print('held', flush=True); sys.stdin.read()"
    )
    command = [sys.executable, "-c", script, str(folder)]
    holder = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE)
    assert holder.stdout.readline() == b"held\n"
    with pytest.raises(Busy):
        add(journal, moment)

    holder.kill()
    holder.communicate()

    add(journal, moment)  # without waiting: the journals of these tests have no patience
    assert len(JournalFolder(folder).open("B1").entries) == 1


def test_closing_a_batch_puts_it_aside_and_it_can_still_be_read(
    journals: JournalFolder, folder: Path, moment: Moment
) -> None:
    journal = journals.create("B1")
    add(journal, moment)
    journals.archive("B1")
    journals.archive("B1")

    assert (journals.names(), journals.closed_names()) == ([], ["B1"])
    assert journals.open("B1") is journal
    for found in (journal, JournalFolder(folder).open("B1")):
        assert found.closed
        assert found.condition.kind == "fine"
        assert len(found.entries) == 1
        with pytest.raises(ReadOnly, match="B1 is closed"):
            add(found, moment)
    assert journal.path.read_bytes().endswith(b'"}\n}}\n')  # its blanks were given back
    assert verify_journal(journal).sound


def test_a_batch_that_is_archived_is_on_the_disk_there_and_here(journals: JournalFolder, folder: Path) -> None:
    """Also if a power cut came between the rename and the sync, and it is archived again."""
    synced: list[Path] = []

    class Watching(FaultyFiles):
        def sync_folder(self, path: Path) -> None:
            synced.append(path)
            super().sync_folder(path)

    journals.create("B1")
    journals.close()
    for _ in range(2):
        JournalFolder(folder, files=Watching()).archive("B1")
        assert synced == [folder / "closed", folder]
        synced.clear()


def test_a_terminal_that_had_the_batch_open_notices_that_it_was_closed(
    journals: JournalFolder, folder: Path, moment: Moment
) -> None:
    other = JournalFolder(folder)
    journal = other.open(journals.create("B1").name)
    journals.archive("B1")
    assert journal.refresh() == []
    with pytest.raises(Replaced, match="the batch was closed at another terminal"):
        add(journal, moment)
    assert other.open("B1").closed


def test_a_damaged_journal_is_archived_as_it_is(journals: JournalFolder, moment: Moment) -> None:
    journal = journals.create("B1")
    for _ in range(3):
        add(journal, moment)
    journals.close()
    damaged = journal.path.read_bytes().replace(b'"seq":2', b'"seq":3')
    journal.path.write_bytes(damaged)

    journals.archive("B1")

    assert journals.open("B1").path.read_bytes() == damaged


def test_two_files_of_one_name_are_not_guessed_about(journals: JournalFolder, folder: Path) -> None:
    journals.create("B1")
    (folder / "closed" / "B1.json").write_bytes(b"{}")
    with pytest.raises(NameTaken, match="There are two records named B1"):
        journals.archive("B1")
    with pytest.raises(NoSuchJournal):
        journals.archive("B2")


def test_opening_a_shop_reads_no_journal(journals: JournalFolder, folder: Path, moment: Moment) -> None:
    for number in range(5):
        add(journals.create(f"B{number}"), moment)
        journals.archive(f"B{number}")
    add(journals.create("shop"), moment)
    opened: list[Path] = []

    class Watching(FaultyFiles):
        def open(self, path: Path, flags: int) -> int:
            opened.append(path)
            return super().open(path, flags)

    fresh = JournalFolder(folder, files=Watching())
    assert (fresh.names(), len(fresh.closed_names())) == (["shop"], 5)
    assert opened == []
    fresh.open("shop")
    assert opened == [folder / "shop.json"]


def test_a_journal_that_was_let_go_refuses_and_is_opened_again(journals: JournalFolder, moment: Moment) -> None:
    journal = journals.create("B1")
    add(journal, moment)
    journals.close()
    journals.close()
    assert journal.refresh() == []
    with pytest.raises(Replaced, match="was let go"):
        add(journal, moment)
    add(journals.open("B1"), moment)
    assert len(journals.open("B1").entries) == 2


def test_the_clock_has_no_say_in_the_order(journals: JournalFolder, folder: Path) -> None:
    """Back an hour, then forward ten years: the chain follows number and hash, and keeps what the clock showed."""
    start = datetime(2026, 11, 25, 10, tzinfo=UTC)
    times = [start, start - timedelta(hours=1), start + timedelta(days=3653), start]
    journal = journals.create("B1")
    for number, at in enumerate(times):
        add(journal, Moment(at, "boot", float(number)))

    again = JournalFolder(folder).open("B1")

    assert [parse_time(entry.at) for entry in again.entries] == times
    assert [entry.seq for entry in again.entries] == [1, 2, 3, 4]
    assert verify_journal(again).sound


def test_turns_are_one_at_a_time_and_end(journals: JournalFolder, moment: Moment) -> None:
    journal = journals.create("B1")
    with journal.turn() as turn:
        with pytest.raises(RuntimeError, match="within a turn"), journal.turn():
            pass
        assert journal.refresh() == []
        assert turn.append([], moment, "AB") == []
        turn.append([Draft("x", {})], moment, "AB")
    with pytest.raises(RuntimeError, match="with-block"):
        turn.append([Draft("x", {})], moment, "AB")


def test_importing_the_ledger_loads_no_heavy_library() -> None:
    script = "import sys, floor.ledger; print(*sorted({m.split('.')[0] for m in sys.modules}))"
    environment = {name: value for name, value in os.environ.items() if not name.startswith("COV")}
    loaded = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True, env=environment)
    assert not {"tinydb", "pydantic", "textual", "rich", "sqlite3", "shutil", "asyncio"} & set(loaded.stdout.split())


def test_the_first_entry_is_read_alone(journals: JournalFolder, moment: Moment) -> None:
    journal = journals.create("B1")
    assert journals.read_first("B1") is None
    with journal.turn() as turn:
        entries = turn.append([Draft("count", {"good": number}) for number in range(3)], moment, "AB")
    assert journals.read_first("B1") == entries[0]
    assert journals.read_first("B2") is None


def test_a_clock_without_a_zone_writes_nothing(journals: JournalFolder, moment: Moment) -> None:
    journal = journals.create("B1")
    naive = Moment(moment.at.replace(tzinfo=None), moment.boot, moment.up)
    with pytest.raises(NotStorable, match="a time without a zone"), journal.turn() as turn:
        turn.append([Draft("count", {})], naive, "AB")
    assert not journal.entries
