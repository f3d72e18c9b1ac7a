"""Verify names the first entry altered, removed, inserted or reordered; a paper pins the rest."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from tinydb import TinyDB

from floor.entry import Draft, Moment
from floor.ledger import Journal, JournalFolder, NewerFormat, NoSuchJournal, ReadOnly
from floor.ledger.files import hold_lock
from floor.ledger.hash_chain import encode_canonical, sha256
from floor.ledger.high_water_mark import write_mark
from floor.ledger.verify import verify_journal

Lines = list[bytes]


@pytest.fixture
def path(journals: JournalFolder, moment: Moment) -> Path:
    """A closed file of nine entries, one on each line."""
    journal = journals.create("B1")
    for number in range(9):
        with journal.turn() as turn:
            turn.append([Draft("count", {"good": number})], moment, "AB")
    return journal.path


def by_line(path: Path, change: Callable[[Lines], Lines]) -> None:
    """Edit a file's entry lines as somebody with a text editor would, commas and numbers put right."""
    first, *lines = path.read_bytes().rstrip().removesuffix(b"\n}}").split(b"\n")
    lines = change([line.rstrip(b",") for line in lines])
    path.write_bytes(first + b"\n" + b",\n".join(lines) + b"\n}}\n")


def as_data(path: Path, change: Callable[[dict[str, Any]], None]) -> None:
    """Edit a file as any JSON program would."""
    data = json.loads(path.read_bytes())
    change(data["entries"])
    path.write_text(json.dumps(data))


def rehash(document: dict[str, Any]) -> None:
    document.pop("hash")
    document["hash"] = sha256(encode_canonical(document).encode()).hexdigest()


def rehash_as(document: dict[str, Any], **fields: Any) -> None:
    document.update(fields)
    rehash(document)


def alter(documents: dict[str, Any]) -> None:
    documents["5"]["body"]["good"] = 99


def alter_and_rehash(documents: dict[str, Any]) -> None:
    alter(documents)
    rehash(documents["5"])


def insert_forged(documents: dict[str, Any]) -> None:
    items = list(documents.items())
    forged = dict(documents["5"], body={"good": 1}, seq=6, prev=documents["5"]["hash"])
    rehash(forged)
    documents.clear()
    documents.update([*items[:5], ("x", forged), *items[5:]])


TAMPERINGS = {
    "altered": (5, "altered", lambda path: as_data(path, alter)),
    "altered in place": (5, "altered", lambda path: by_line(path, lambda x: [y.replace(b'd":4', b'd":7') for y in x])),
    "who altered": (1, "altered", lambda path: as_data(path, lambda d: d["1"].update(by="ZZ"))),
    "time altered": (9, "altered", lambda path: as_data(path, lambda d: d["9"].update(at="2026-11-25T10:02:01.124Z"))),
    "altered and rehashed": (5, "altered", lambda path: as_data(path, alter_and_rehash)),
    "a field taken out": (5, "altered", lambda path: as_data(path, lambda d: d["5"].pop("by"))),
    "a field put in": (5, "altered", lambda path: as_data(path, lambda d: d["5"].update(more=1))),
    "replaced by text": (5, "altered", lambda path: as_data(path, lambda d: d.update({"5": "gone"}))),
    "renumbered": (5, "altered", lambda path: path.write_bytes(path.read_bytes().replace(b'\n"5":', b'\n"50":'))),
    "last renumbered": (9, "altered", lambda path: as_data(path, lambda d: rehash_as(d["9"], seq=10))),
    "last linked elsewhere": (8, "altered", lambda path: as_data(path, lambda d: rehash_as(d["9"], prev="0" * 64))),
    "removed": (5, "removed", lambda path: as_data(path, lambda d: d.pop("5"))),
    "line removed": (5, "removed", lambda path: by_line(path, lambda x: x[:4] + x[5:])),
    "first removed": (1, "removed", lambda path: by_line(path, lambda x: x[1:])),
    "three removed": (3, "removed", lambda path: by_line(path, lambda x: x[:2] + x[5:])),
    "swapped": (5, "reordered", lambda path: by_line(path, lambda x: [*x[:4], x[5], x[4], *x[6:]])),
    "moved back": (3, "reordered", lambda path: by_line(path, lambda x: [*x[:2], *x[3:6], x[2], *x[6:]])),
    "moved forward": (3, "reordered", lambda path: by_line(path, lambda x: [*x[:2], x[6], *x[2:6], *x[7:]])),
    "reversed": (1, "reordered", lambda path: by_line(path, lambda x: x[::-1])),
    "copied": (6, "inserted", lambda path: by_line(path, lambda x: [*x[:5], x[4], *x[5:]])),
    "copied further down": (8, "inserted", lambda path: by_line(path, lambda x: [*x[:7], x[2], *x[7:]])),
    "copied further up": (3, "inserted", lambda path: by_line(path, lambda x: [*x[:2], x[6], *x[2:]])),
    "forged and inserted": (6, "inserted", lambda path: as_data(path, insert_forged)),
    "junk inserted": (4, "inserted", lambda path: by_line(path, lambda x: [*x[:3], x[3].replace(b"AB", b"Z"), *x[3:]])),
    "cut off": (9, "cut off", lambda path: path.write_bytes(path.read_bytes().rstrip()[:-30])),
    "no JSON from there": (5, "unreadable", lambda path: by_line(path, lambda x: [*x[:4], b"???", *x[5:]])),
}


CONTENT = "was altered: its content does not give its hash."
SAID = {
    "altered": (4, f"Entry 5 {CONTENT}"),
    "altered in place": (4, f"Entry 5 {CONTENT}"),
    "who altered": (0, f"Entry 1 {CONTENT}"),
    "time altered": (8, f"Entry 9 {CONTENT}"),
    "altered and rehashed": (4, "Entry 5 was altered and given a new hash: entry 6 was written after another one."),
    "a field taken out": (4, f"Entry 5 {CONTENT}"),
    "a field put in": (4, f"Entry 5 {CONTENT}"),
    "replaced by text": (4, f"Entry 5 {CONTENT}"),
    "renumbered": (4, "Entry 5 was altered: it is numbered 50 and 5."),
    "last renumbered": (8, "Entry 9 was altered: it is numbered 9 and 10."),
    "last linked elsewhere": (7, "Entry 8 was altered and given a new hash: entry 9 was written after another one."),
    "removed": (4, "Entry 5 was removed: entry 6 follows entry 4."),
    "line removed": (4, "Entry 5 was removed: entry 6 follows entry 4."),
    "first removed": (0, "Entry 1 was removed: entry 2 follows entry 0."),
    "three removed": (2, "Entries 3 to 5 were removed: entry 6 follows entry 2."),
    "swapped": (4, "Entries were reordered: entry 6 stands where 5 belongs."),
    "moved back": (2, "Entries were reordered: entry 4 stands where 3 belongs."),
    "moved forward": (2, "Entries were reordered: entry 7 stands where 3 belongs."),
    "reversed": (0, "Entries were reordered: entry 9 stands where 1 belongs."),
    "copied": (5, "What stands as entry 6 was inserted: it is entry 5 again."),
    "copied further down": (7, "What stands as entry 8 was inserted: it is entry 3 again."),
    "copied further up": (2, "What stands as entry 3 was inserted: it is entry 7 again."),
    "forged and inserted": (5, "What stands as entry 6 was inserted: the next one links past it."),
    "junk inserted": (3, "What stands as entry 4 was inserted: the next one links past it."),
    "cut off": (8, "What follows entry 8 was cut off while it was being written. Opening B1 repairs it."),
    "no JSON from there": (4, "From entry 5 on, at byte 1143, the file cannot be read."),
}
"""How many are sound before it, and what is said."""


@pytest.mark.parametrize("case", TAMPERINGS)
def test_what_was_done_is_reported_and_what_is_sound_before_it_counted(path: Path, case: str) -> None:
    whole = verify_journal(path)
    hashes = [entry["hash"] for entry in json.loads(path.read_bytes())["entries"].values()]
    assert whole.sentence == f"B1: all 9 entries intact. Head {hashes[-1]}."
    TAMPERINGS[case][2](path)

    verdict = verify_journal(path)

    sound, said = SAID[case]
    assert (verdict.name, verdict.entries, verdict.sentence) == ("B1", sound, f"B1: {said}")
    assert verdict.head == (hashes[sound - 1] if sound else "")


@pytest.mark.parametrize(
    ("pinned", "said"),
    [
        ("", ""),
        ("  ", ""),
        ("{head}", ""),
        ("{head:.8} ", ""),
        ("{first:.8}", ""),
        ("{HEAD}", ""),
        ("{head:.7}", "Give at least 8 characters of the hash on the paper."),
        (
            "00000000",
            "No entry has the hash 00000000 that the paper names: the record was rewritten or cut short since.",
        ),
    ],
)
def test_a_paper_gives_at_least_8_characters_of_any_entrys_hash(path: Path, pinned: str, said: str) -> None:
    hashes = [entry["hash"] for entry in json.loads(path.read_bytes())["entries"].values()]
    pin = pinned.format(head=hashes[-1], HEAD=hashes[-1].upper(), first=hashes[0])

    verdict = verify_journal(path, pin)

    assert verdict.sound is not bool(said)
    assert verdict.entries == 9
    if said:
        assert verdict.fault is not None
        assert (verdict.fault.kind, verdict.fault.seq, verdict.sentence) == ("removed", 9, f"B1: {said}")


@pytest.mark.parametrize("case", TAMPERINGS)
def test_first_tampered_entry_is_named(path: Path, case: str) -> None:
    seq, kind, tamper = TAMPERINGS[case]
    tamper(path)
    before = path.read_bytes()

    verdict = verify_journal(path)

    assert not verdict.sound
    assert (verdict.fault.kind, verdict.fault.seq) == (kind, seq), verdict.sentence
    assert str(seq) in verdict.sentence or str(seq - 1) in verdict.sentence
    assert path.read_bytes() == before


@pytest.mark.parametrize("case", [case for case in TAMPERINGS if case != "cut off"])
def test_a_tampered_journal_opens_read_only_with_the_place_named(path: Path, moment: Moment, case: str) -> None:
    TAMPERINGS[case][2](path)
    before = path.read_bytes()

    journal = JournalFolder(path.parent).open("B1")

    assert journal.condition.kind == "read-only"
    assert journal.condition.place
    assert "nothing more is written to it" in journal.condition.sentence.lower()
    assert [entry.body["good"] for entry in journal.entries] == list(range(len(journal.entries)))
    assert len(journal.entries) <= max(TAMPERINGS[case][0], 5)
    found = journal.condition
    assert journal.refresh() == []
    assert journal.condition == found
    with journal.turn() as turn, pytest.raises(ReadOnly):
        turn.append([Draft("x", {})], moment, "AB")
    assert journal.condition == found
    assert path.read_bytes() == before


def test_a_sound_journal_is_reported_sound(path: Path, journal: Journal) -> None:
    for verdict in (verify_journal(path), verify_journal(str(path)), verify_journal(journal)):
        assert verdict.sound
        assert f"all {verdict.entries} entries intact" in verdict.sentence
    assert verify_journal(journal).head == journal.head


def test_blanks_between_entries_are_not_as_floor_wrote_them(path: Path) -> None:
    raw = path.read_bytes()
    third = raw.index(b'"3":')
    path.write_bytes(raw[:third] + b" " + raw[third:])

    found = verify_journal(path)

    assert (found.fault.kind if found.fault else "", found.fault.seq if found.fault else 0) == ("altered", 3)
    assert "The bytes around entry 3 are not as Floor wrote it" in found.sentence


def test_a_record_is_verified_while_others_read_it(path: Path) -> None:
    with path.open("rb") as reader, hold_lock(reader.fileno(), "it", shared=True):
        assert verify_journal(path).sound


def test_a_paper_pins_the_record_even_against_a_rewrite_of_everything(
    path: Path, journals: JournalFolder, moment: Moment
) -> None:
    """What the chain alone cannot show: last entries removed, or everything rewritten."""
    head = journals.open("B1").head
    assert verify_journal(path, head).sound
    assert verify_journal(path, head[:12].upper()).sound
    with journals.open("B1").turn() as turn:
        turn.append([Draft("more", {})], moment, "AB")
    assert verify_journal(path, head).sound

    shorter = JournalFolder(path.parent / "other").create("B1", journals.open("B1").entries[:7])

    assert verify_journal(shorter).sound
    pinned = verify_journal(shorter, head)
    assert not pinned.sound
    assert head in pinned.sentence
    assert not verify_journal(path, "abc").sound  # too short to pin anything


def test_rewritten_by_stock_tinydb_without_a_change_is_sound_and_carried_forward(
    path: Path, journals: JournalFolder, moment: Moment
) -> None:
    entries = list(journals.open("B1").entries)
    journals.close()
    with TinyDB(path) as stock:
        stock.table("notes").insert({"by": "another program"})
        stock.drop_table("notes")
    old = path.read_bytes()
    assert verify_journal(path).sound
    head = entries[-1].hash
    for pinned in ("", head):
        assert verify_journal(path, pinned).sentence == (
            f"B1: all 9 entries intact. Head {head}. The file was laid out by another program."
        )
    assert not verify_journal(path, "0" * 64).sound

    journal = journals.open("B1")

    assert list(journal.entries) == entries
    assert journal.condition.kind == "repaired"
    assert "carried forward" in journal.condition.sentence
    (kept,) = path.parent.glob("B1.json.older-*")
    assert kept.read_bytes() == old
    with journal.turn() as turn:
        turn.append([Draft("x", {})], moment, "AB")
    assert JournalFolder(path.parent).open("B1").condition.kind == "fine"


def test_a_record_of_an_older_format_is_carried_forward(path: Path, journals: JournalFolder) -> None:
    entries = list(journals.open("B1").entries)
    journals.close()
    as_stock = {"entries": json.loads(path.read_bytes())["entries"]}  # format 0: a plain TinyDB, no word on itself
    path.write_text(json.dumps(as_stock))

    assert list(journals.open("B1").entries) == entries
    assert path.read_bytes().startswith(b'{"floor":{"1":{"book":"B1","format":1}},"entries":{\n"1":{')
    assert len(list(path.parent.glob("B1.json.older-*"))) == 1


@pytest.mark.parametrize("laid_out", ["as a line of ours", "by any program"])
def test_a_record_of_a_newer_format_is_refused_and_left_alone(
    path: Path, journals: JournalFolder, laid_out: str
) -> None:
    journals.close()
    raw = path.read_bytes().replace(b'"format":1', b'"format":2', 1)
    path.write_bytes(raw if laid_out == "as a line of ours" else json.dumps(json.loads(raw)).encode())
    before = path.read_bytes()

    for look in (lambda: journals.open("B1"), lambda: verify_journal(path)):
        with pytest.raises(NewerFormat, match="has format 2; this Floor reads 1 and older. Install the newer Floor"):
            look()

    assert path.read_bytes() == before
    assert [file.name for file in path.parent.glob("B1*")] == ["B1.json"]


def test_a_file_under_another_journals_name_is_noticed(path: Path, journals: JournalFolder) -> None:
    path.rename(path.with_name("B2.json"))

    verdict = verify_journal(path.with_name("B2.json"))

    assert not verdict.sound
    assert "says that it is the record of B1" in verdict.sentence
    assert journals.open("B2").condition.kind == "read-only"
    assert "Give it back its name" in journals.open("B2").condition.sentence


def test_torn_end_is_kept_beside_the_journal_and_said(path: Path, journals: JournalFolder) -> None:
    journals.close()
    whole = path.read_bytes()
    cut = whole.rstrip()[:-100]
    path.write_bytes(cut)
    write_mark(path, 8, json.loads(whole)["entries"]["8"]["hash"])  # the ninth was never acknowledged

    journal = journals.open("B1")

    assert len(journal.entries) == 8
    assert journal.condition.kind == "repaired"
    assert "was not whole, as a power cut leaves one that was never acknowledged" in journal.condition.sentence
    assert "nor a copy knows of anything after entry 8" in journal.condition.sentence
    (kept,) = path.parent.glob("B1.json.torn-*")
    assert kept.name in journal.condition.sentence
    assert cut.endswith(kept.read_bytes())
    with TinyDB(path, access_mode="r") as stock:
        assert len(stock.table("entries")) == 8
    journals.close()
    assert journals.open("B1").condition.kind == "fine"


def test_terminal_that_is_open_takes_out_what_a_killed_one_left(
    path: Path, journals: JournalFolder, moment: Moment
) -> None:
    journal = journals.open("B1")
    torn = b',\n"10":{"at":"2026-'
    with path.open("r+b") as file:
        file.seek(len(path.read_bytes().rstrip()) - 3)
        file.write(torn)
    assert journal.refresh() == []

    with journal.turn() as turn:
        turn.append([Draft("after", {})], moment, "AB")

    assert [entry.kind for entry in JournalFolder(path.parent).open("B1").entries[-2:]] == ["count", "after"]
    assert journal.condition.kind == "repaired"


def test_damage_met_while_open_stops_the_writing(path: Path, journals: JournalFolder, moment: Moment) -> None:
    journal, other = journals.open("B1"), JournalFolder(path.parent).open("B1")
    for _ in range(2):
        with other.turn() as turn:
            turn.append([Draft("count", {"good": 5})], moment, "AB")
    path.write_bytes(
        path.read_bytes().replace(
            b'"good":5},"boot":"boot-1","by":"AB","kind":"count","prev"',
            b'"good":6},"boot":"boot-1","by":"AB","kind":"count","prev"',
        )
    )

    with journal.turn() as turn, pytest.raises(ReadOnly, match="damaged at entry 10"):
        turn.append([Draft("x", {})], moment, "AB")

    assert journal.condition.kind == "read-only"


def test_missing_journal_is_reported(folder: Path) -> None:
    with pytest.raises(NoSuchJournal, match="There is no record"):
        verify_journal(folder / "B9.json")


def test_one_entry_is_not_all_entries(path: Path, journals: JournalFolder) -> None:
    first = JournalFolder(path.parent / "other").create("B1", journals.open("B1").entries[:1])
    assert verify_journal(first).sentence.startswith("B1: 1 entry intact. Head ")
