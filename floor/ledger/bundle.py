"""Write a half-done batch to one file for another machine, and receive such a file.

A bundle is a journal file whose first line also gives its number of entries and head hash, so a copy cut short on the
way is noticed. It is data: nothing in it is run, and the one name in it is checked before it becomes a file name.

A batch is active in one place only. Before writing the bundle, the sender appends an entry that marks the batch as
sent. The bundle carries that entry along, so what the other machine adds continues it, and the batch can come back the
same way.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path

from floor.dataclass import dataclass
from floor.entry import Entry, parse_time
from floor.ledger.errors import BundleRefused, InvalidName, LedgerError, NameTaken, ReadOnly
from floor.ledger.file_format import CLOSING, TailKind, encode_header, encode_journal, read_groups, read_header
from floor.ledger.files import REAL_FILES, Files, find_free_path, read_whole, translate_os_errors, write_whole
from floor.ledger.high_water_mark import write_mark
from floor.ledger.journal import Journal
from floor.ledger.journal_folder import JournalFolder, check_name
from floor.ledger.open_and_repair import check_format
from floor.ledger.recover_from_copies import PARTED

MAX_BUNDLE = 64 << 20
"""Bytes: 1.5 times a batch of 100,000 entries at 430 bytes each, as measured in the demo."""
MAX_DENSITY = 0.25
"""Largest share of brackets and commas in a large bundle; a batch has 0.05. Each takes about thirty bytes of
    memory."""
YEARS = range(2000, 2200)
"""Years in which an entry may be written: no clock is that wrong, and sums of times stay in the calendar."""


@dataclass(frozen=True, slots=True)
class ReceivedJournal:
    """A journal received in a bundle, and its entries that were not here before."""

    journal: Journal
    news: Sequence[Entry]
    kept: Path | None = None
    """The copy that was here and was replaced."""


def write_bundle(journal: Journal, path: Path | str, *, files: Files = REAL_FILES) -> None:
    """Write all known entries of a journal as one file, all or nothing.

    Raises:
        ReadOnly: the journal is damaged and cannot be sent.
        BundleRefused: the file already exists.
        WriteFailed
    """
    path = Path(path)
    journal.refresh()
    if journal.condition.kind == "read-only":
        raise ReadOnly(f"{journal.name} is not bundled: {journal.condition.sentence}")
    if path.exists():
        raise BundleRefused(f"There is a file {path} already. Choose another name; nothing was written.")
    with translate_os_errors(f"Writing the bundle {path}"):
        first = encode_header(journal.name, entries=len(journal.entries), head=journal.head)
        write_whole(files, path, first + journal.text() + CLOSING)


def read_bundle(path: Path | str, *, files: Files = REAL_FILES) -> tuple[str, list[Entry]]:
    """Read a bundle and check every entry of it.

    Returns:
        The batch's name and its entries.

    Raises:
        BundleRefused: it is not a bundle, not a complete one, or not one to trust.
        NewerFormat
    """
    path = Path(path)
    try:
        raw = read_whole(files, path, MAX_BUNDLE)
    except ValueError:
        raise BundleRefused(f"{path} is larger than {MAX_BUNDLE >> 20} MB, which no batch is.") from None
    except OSError as error:
        raise BundleRefused(f"{path} cannot be read: {error.strerror}. Look whether the path is right.") from None
    if len(raw) > 1 << 20 and sum(raw.count(one) for one in b"[{,") > MAX_DENSITY * len(raw):
        raise BundleRefused(f"{path} is not read: no batch holds that many small values.")
    found = read_header(raw)
    if found is None or "head" not in found[0]:
        raise BundleRefused(f"{path} is not a bundle. Write one on the other machine with `floor bundle`.")
    about, start = found
    try:
        name = check_name(about["book"])  # type: ignore[arg-type]
    except (InvalidName, KeyError):
        raise BundleRefused(f"{path} names no batch that could be filed.") from None
    check_format(name, about)
    reading = read_groups(raw, start=start)
    head = reading.entries[-1].hash if reading.entries else ""
    whole = reading.end is TailKind.WHOLE and (about.get("entries"), about["head"]) == (len(reading.entries), head)
    if not whole or not head:
        raise BundleRefused(
            f"{path} is not whole: it is sound up to entry {len(reading.entries)} of "
            f"{about.get('entries')}. Copy it again from the other machine.",
            len(reading.entries) + 1,
        )
    for entry in reading.entries:
        if not _plain(entry):
            raise BundleRefused(f"{path}: entry {entry.seq} is not one that Floor writes.", entry.seq)
    return name, reading.entries


def receive_bundle(
    journals: JournalFolder,
    path: Path | str,
    spare: str = "",
    *,
    instead: bool = False,
    head: str = "",
    files: Files = REAL_FILES,
) -> ReceivedJournal:
    """Receive a bundle: as a new journal, or as the continuation of the one here.

    The hash of its first entry identifies the journal, not its name: every shop numbers its batches from 1.

    Args:
        spare: a free name, if its own is taken here by another journal.
        instead: replace a copy here that went on differently; that copy is kept beside it.
        head: hash of its last entry when reviewed; refuse a different file that took its place.

    Raises:
        BundleRefused: it was received before, or the two copies differ; ``seq`` is where.
        NewerFormat, WriteFailed, ReadOnly: nothing was received.
    """
    sent_as, entries = read_bundle(path, files=files)
    if head and entries[-1].hash != head:
        raise BundleRefused(f"{path} was changed since it was looked at. Nothing was taken in; look at it again.")
    name = _here(journals, sent_as, entries[0])
    if not name:
        taken = sent_as in journals.names() or sent_as in journals.closed_names()
        name = spare if taken and spare else sent_as
        try:
            return ReceivedJournal(journals.create(name, entries), entries)
        except NameTaken:  # another terminal may have just received it: compare with that
            if name in journals.lost() or journals.open(name).entries[:1] != entries[:1]:
                raise
    journal = journals.open(name)
    with journal.turn() as turn:
        have = len(journal.entries)
        for ours, theirs in zip(journal.entries, entries, strict=False):
            if ours.hash != theirs.hash:
                if instead:
                    break
                raise BundleRefused(
                    f"{name} has gone on in two places: entry {ours.seq} here is {ours.kind!r:.40} by {ours.by!r:.10} "
                    f"of {ours.at}, in the bundle {theirs.kind!r:.40} by {theirs.by!r:.10} of {theirs.at}. Nothing was "
                    "taken in. Decide which copy is right: to have the bundle's, floor receive FILE --instead; the one "
                    "here is kept then.",
                    ours.seq,
                )
        else:
            if have < len(entries):
                turn.adopt(entries[have:])
                return ReceivedJournal(journal, entries[have:])
            raise BundleRefused(
                f"This bundle of {name} was taken in before: all its {len(entries)} entries are here. "
                f"Where it counts as gone over, a lead makes it active: floor bundle {name} --withdraw "
                "WHY --by INITIALS"
            )
        kept = find_free_path(journal.path, PARTED)
        with translate_os_errors(f"Taking in {path}"):
            write_whole(files, kept, read_whole(files, journal.path))
            write_whole(files, journal.path, encode_journal(name, entries))
        write_mark(journal.path, len(entries), entries[-1].hash)
    return ReceivedJournal(journals.open(name), entries, kept)


def _here(journals: JournalFolder, sent_as: str, first: Entry) -> str:
    """The local name of the journal that starts with this entry; empty if it is not here.

    Raises:
        BundleRefused: it is here and closed.
    """
    for name in sorted(journals.names(), key=lambda name: name != sent_as):
        with suppress(LedgerError):  # a journal that cannot be read is not it, as far as anybody can tell
            begins = journals.open(name).entries[:1]
            if begins and begins[0].hash == first.hash:
                return name
    for name in journals.closed_names():
        raw = b""
        with suppress(LedgerError):
            raw = journals.text(name).raw
        if f'"hash":"{first.hash}"'.encode() in raw:
            raise BundleRefused(f"This batch is here and closed, as {name}. Nothing was taken in.")
    return ""


def _plain(entry: Entry) -> bool:
    """Whether every field has the type it has in our own entries."""
    texts = (entry.at, entry.boot, entry.by, entry.kind)
    if not all(isinstance(text, str) for text in texts) or not isinstance(entry.body, dict):
        return False
    if type(entry.tz) is not int or abs(entry.tz) >= 24 * 60:
        return False
    if type(entry.up) not in (int, float) or not 0 <= entry.up < 1e12:  # refuses nan too
        return False
    try:
        at = parse_time(entry.at)
        return at.tzinfo is not None and at.year in YEARS
    except ValueError:
        return False
