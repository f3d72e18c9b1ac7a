"""A batch goes to another machine complete, once, and never to two places at a time."""

from __future__ import annotations

import json
import stat
from pathlib import Path

import pytest
from tinydb import TinyDB

from floor.entry import Draft, Entry, Moment
from floor.ledger import BundleRefused, Journal, JournalFolder, NewerFormat, NotStorable, ReadOnly
from floor.ledger.bundle import read_bundle, receive_bundle, write_bundle
from floor.ledger.file_format import encode_header
from floor.ledger.hash_chain import encode_canonical, sha256, strip_hash
from floor.ledger.verify import verify_journal


def add(journal: Journal, moment: Moment, kind: str = "count") -> Entry:
    with journal.turn() as turn:
        return turn.append([Draft(kind, {})], moment, "AB")[0]


@pytest.fixture
def other(tmp_path: Path) -> JournalFolder:
    return JournalFolder(tmp_path / "other machine")


@pytest.fixture
def bundle(journal: Journal, tmp_path: Path) -> Path:
    write_bundle(journal, tmp_path / "B0007.bundle")
    return tmp_path / "B0007.bundle"


def test_bundle_brings_the_whole_history(journal: Journal, bundle: Path, other: JournalFolder) -> None:
    name, entries = read_bundle(bundle)
    received = receive_bundle(other, bundle)

    assert (name, entries) == ("B0007", list(journal.entries))
    assert list(received.journal.entries) == received.news == entries
    assert received.journal.head == journal.head
    assert verify_journal(received.journal).sound
    assert list(JournalFolder(other.folder).open("B0007").entries) == entries
    assert stat.S_IMODE(bundle.stat().st_mode) & 0o137 == 0
    with TinyDB(bundle, access_mode="r") as stock:
        assert len(stock.table("entries")) == 4


def test_bundle_taken_in_twice_is_refused(journal: Journal, bundle: Path, other: JournalFolder, moment: Moment) -> None:
    received = receive_bundle(other, bundle).journal
    with pytest.raises(BundleRefused, match="was taken in before"):
        receive_bundle(other, bundle)
    add(received, moment)
    with pytest.raises(BundleRefused, match="was taken in before"):
        receive_bundle(other, bundle)
    assert len(received.entries) == 5


def test_batch_comes_back_as_the_continuation(
    journal: Journal, journals: JournalFolder, bundle: Path, other: JournalFolder, moment: Moment
) -> None:
    there = receive_bundle(other, bundle).journal
    added = [add(there, moment, kind) for kind in ("loaded", "count")]
    write_bundle(there, bundle.with_name("back"))

    returned = receive_bundle(journals, bundle.with_name("back"))

    assert returned.journal is journal
    assert returned.news == added
    assert journal.head == there.head
    assert list(JournalFolder(journals.folder).open("B0007").entries) == list(there.entries)


def test_copies_that_have_parted_are_refused_with_the_place(
    journal: Journal, journals: JournalFolder, bundle: Path, other: JournalFolder, moment: Moment
) -> None:
    there = receive_bundle(other, bundle).journal
    add(there, moment, "loaded")
    add(there, moment, "count")
    add(journal, moment, "scrap")
    write_bundle(there, bundle.with_name("back"))

    said = "entry 5 here is 'scrap' by 'AB' of 2026.* in the bundle 'loaded'"
    with pytest.raises(BundleRefused, match=said) as refused:
        receive_bundle(journals, bundle.with_name("back"))

    assert refused.value.seq == 5
    assert len(journal.entries) == 5


def test_closed_batch_is_not_continued(
    journals: JournalFolder, journal: Journal, bundle: Path, other: JournalFolder, moment: Moment
) -> None:
    there = receive_bundle(other, bundle).journal
    add(there, moment)
    write_bundle(there, bundle.with_name("back"))
    journals.archive("B0007")

    for file in (bundle, bundle.with_name("back")):
        with pytest.raises(BundleRefused, match="is here and closed, as B0007. Nothing was taken in"):
            receive_bundle(journals, file)


def test_an_unrelated_journal_of_the_same_name_takes_the_spare_one(
    bundle: Path, journal: Journal, other: JournalFolder, moment: Moment
) -> None:
    add(other.create("B0007"), moment)
    got = receive_bundle(other, bundle, "B0008")
    assert got.journal.name == "B0008"
    assert list(got.journal.entries) == list(journal.entries)
    assert len(other.open("B0007").entries) == 1
    with pytest.raises(BundleRefused, match="This bundle of B0008 was taken in before"):
        receive_bundle(other, bundle, "B0009")


def test_the_name_of_a_closed_journal_is_taken_too(
    bundle: Path, journal: Journal, other: JournalFolder, moment: Moment
) -> None:
    add(other.create("B0007"), moment)
    other.archive("B0007")
    assert receive_bundle(other, bundle, "B0008").journal.name == "B0008"


def test_what_was_looked_at_is_taken_in_and_no_other_file_in_its_place(
    bundle: Path, journal: Journal, other: JournalFolder
) -> None:
    with pytest.raises(BundleRefused, match="was changed since it was looked at. Nothing was taken in"):
        receive_bundle(other, bundle, head="0" * 64)
    assert other.names() == []
    assert receive_bundle(other, bundle, head=journal.entries[-1].hash).journal.name == "B0007"


def test_a_parted_copy_gives_way_where_that_is_decided_and_is_kept(
    journals: JournalFolder, journal: Journal, bundle: Path, other: JournalFolder, moment: Moment
) -> None:
    there = receive_bundle(other, bundle).journal
    add(there, moment)
    write_bundle(there, back := bundle.with_name("back"))
    add(journal, Moment(moment.at, "boot-2", 3.0))
    ours = list(journal.entries)
    with pytest.raises(BundleRefused, match="two places.*floor receive FILE --instead"):
        receive_bundle(journals, back)

    got = receive_bundle(journals, back, instead=True)

    assert list(got.journal.entries) == list(there.entries)
    assert got.journal.condition.kind == "fine"
    assert got.kept is not None
    kept = json.loads(got.kept.read_bytes())["entries"]
    assert [entry["hash"] for entry in kept.values()] == [entry.hash for entry in ours]


def test_bundle_cut_short_anywhere_is_refused(bundle: Path, other: JournalFolder) -> None:
    raw = bundle.read_bytes()
    for length in range(0, len(raw) - 1, 13):
        bundle.write_bytes(raw[:length])
        with pytest.raises(BundleRefused):
            receive_bundle(other, bundle)
    lines = raw.split(b"\n")
    bundle.write_bytes(b"\n".join([*lines[:2], lines[2].rstrip(b","), b"}}", b""]))  # whole lines, fewer of them
    with pytest.raises(BundleRefused, match="sound up to entry 3 of 4. Copy it again"):
        receive_bundle(other, bundle)
    assert other.names() == []


def test_altered_bundle_is_refused_with_the_entry(bundle: Path, other: JournalFolder) -> None:
    raw = bundle.read_bytes()
    bundle.write_bytes(raw.replace(b"loaded", b"Loaded"))
    with pytest.raises(BundleRefused, match="sound up to entry 1 of 4") as refused:
        receive_bundle(other, bundle)
    assert refused.value.seq == 2


@pytest.mark.parametrize("name", ["../../etc/x", "/tmp/x", "..", "closed/x", ""])
def test_no_path_from_a_bundle_leaves_the_folder(bundle: Path, other: JournalFolder, name: str) -> None:
    bundle.write_bytes(bundle.read_bytes().replace(b'"book":"B0007"', b'"book":' + json.dumps(name).encode(), 1))
    before = sorted(other.folder.parent.rglob("*"))
    with pytest.raises(BundleRefused, match="names no batch that could be filed"):
        receive_bundle(other, bundle)
    assert sorted(other.folder.parent.rglob("*")) == before


def test_what_is_no_bundle_is_refused(
    bundle: Path, other: JournalFolder, journal: Journal, monkeypatch: pytest.MonkeyPatch
) -> None:
    with pytest.raises(BundleRefused, match="is not a bundle"):
        receive_bundle(other, journal.path)
    with pytest.raises(BundleRefused, match="cannot be read: No such file"):
        receive_bundle(other, bundle.with_name("missing"))
    with pytest.raises(BundleRefused, match="cannot be read: Is a directory"):
        receive_bundle(other, bundle.parent)
    raw = bundle.read_bytes()
    bundle.write_bytes(raw.replace(b'"format":1', b'"format":9', 1))
    with pytest.raises(NewerFormat, match="format 9"):
        receive_bundle(other, bundle)
    bundle.write_bytes(raw)
    monkeypatch.setattr("floor.ledger.bundle.MAX_BUNDLE", 100)
    with pytest.raises(BundleRefused, match="is larger than"):
        receive_bundle(other, bundle)


def forge(journal: Journal, path: Path, field: dict[str, object]) -> tuple[Path, str]:
    """A bundle of the first entry with other values, and its hash, which is right."""
    forged = strip_hash(journal.entries[0]) | field
    digest = sha256(encode_canonical(forged).encode()).hexdigest()
    text = encode_canonical(forged)[:-1] + f',"hash":"{digest}"}}'
    path.write_bytes(encode_header("B1", entries=1, head=digest) + f'\n"1":{text}\n}}}}\n'.encode())
    return path, digest


def test_a_bundle_may_have_64_megabytes_and_no_byte_more(tmp_path: Path) -> None:
    for more, said in ((0, "is not a bundle"), (1, "is larger than 64 MB, which no batch is")):
        with (tmp_path / "large").open("wb") as file:
            file.truncate((64 << 20) + more)
        with pytest.raises(BundleRefused, match=said):
            read_bundle(tmp_path / "large")


@pytest.mark.parametrize("field", [
    {"at": 5}, {"at": "yesterday"}, {"at": "2026-11-25T10:02:01"}, {"tz": 1.5}, {"tz": True}, {"tz": 9999},
    {"tz": 1440}, {"tz": -1440}, {"up": "x"}, {"by": None}, {"kind": []}, {"body": "x"}, {"boot": 1},
    {"up": -0.1}, {"up": 1e12}, {"up": True}, {"at": "1999-12-31T23:59:59.999Z"}, {"at": "2200-01-01T00:00:00.000Z"},
])  # fmt: skip
def test_entry_of_other_types_is_refused_though_its_hash_is_right(
    journal: Journal, tmp_path: Path, other: JournalFolder, field: dict[str, object]
) -> None:
    path, digest = forge(journal, tmp_path / "forged", field)

    with pytest.raises(BundleRefused, match="entry 1 is not one that Floor writes") as refused:
        receive_bundle(other, path)
    assert refused.value.seq == 1


@pytest.mark.parametrize("field", [
    {"up": 0}, {"up": 0.0}, {"up": 999_999_999_999.9}, {"tz": 1439}, {"tz": -1439}, {"tz": 0}, {"boot": ""},
    {"at": "2000-01-01T00:00:00.000Z"}, {"at": "2199-12-31T23:59:59.999Z"}, {"body": {}},
])  # fmt: skip
def test_an_entry_just_within_what_a_clock_can_say_is_taken(
    journal: Journal, tmp_path: Path, other: JournalFolder, field: dict[str, object]
) -> None:
    path, digest = forge(journal, tmp_path / "forged", field)

    assert receive_bundle(other, path).journal.head == digest


def test_entries_that_do_not_give_their_hash_make_no_journal(journals: JournalFolder, journal: Journal) -> None:
    forged = Entry(**(strip_hash(journal.entries[0]) | {"by": "ZZ", "hash": journal.entries[0].hash}))
    with pytest.raises(NotStorable, match="Entry 1 does not carry the hash"):
        journals.create("B9", [forged])
    assert journals.names() == ["B0007"]


def test_bundle_does_not_overwrite_and_a_damaged_journal_is_not_sent(
    journal: Journal, journals: JournalFolder, bundle: Path
) -> None:
    before = bundle.read_bytes()
    with pytest.raises(BundleRefused, match="There is a file"):
        write_bundle(journal, bundle)
    assert bundle.read_bytes() == before
    journals.close()
    journal.path.write_bytes(journal.path.read_bytes().replace(b"loaded", b"Loaded"))
    with pytest.raises(ReadOnly, match="B0007 is not bundled: The record of B0007 is damaged"):
        write_bundle(journals.open("B0007"), bundle.with_name("second"))


def test_two_terminals_take_the_same_bundle_in(
    bundle: Path, other: JournalFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The other one files it between the look at the folder and the making of the journal."""
    receive_bundle(JournalFolder(other.folder), bundle)
    monkeypatch.setattr(other, "names", list)
    with pytest.raises(BundleRefused, match="was taken in before"):
        receive_bundle(other, bundle)
