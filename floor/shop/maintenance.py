"""Keep the record safe and move batches: backups, recovery, bundles."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import NamedTuple

from floor.batch.command import Refused
from floor.batch.corrections.commands import Note
from floor.batch.event_base import Event
from floor.batch.events import BatchClosed, BatchOpened, GoneOver, TakenIn, make_drafts, read_if_kind
from floor.batch.fold import Inapplicable, fold
from floor.batch.handover.page import build_handover_page
from floor.batch.lifecycle.transfer import TakeInBatch, TransferBatch
from floor.batch.state import Batch
from floor.batch.worklist.tasks import list_due_tasks
from floor.checklist.rules import RELIED_ON
from floor.entry import Draft, Entry, Moment
from floor.ledger import REAL_FILES, Journal, JournalFolder, LedgerError, WriteFailed
from floor.ledger.backup import KEEP, back_up_journals, is_same_shop, require_journals, restore_folder
from floor.ledger.bundle import read_bundle, receive_bundle, write_bundle
from floor.ledger.compare_with_copies import find_differences, find_missing_numbers
from floor.ledger.copies import SHOP_JOURNAL, list_copies
from floor.ledger.files import is_folder_in_use, read_whole
from floor.ledger.high_water_mark import locate_mark
from floor.ledger.journal_folder import CLOSED, RawJournal
from floor.ledger.recover_from_copies import RecoveryResult, describe_copy, read_sound_part, recover_journal
from floor.shop.events import BatchGivenUp, PartOpened, RecordRecovered, RecordRestored
from floor.shop.load_settings import PIN_RULE, load_rule
from floor.shop.open_batches import COPIES, RECORD
from floor.shop.settings import SettingsError
from floor.shop.shop import Shop
from floor.shop.shop_record import ShopRecord, draft_sign_in, fold_shop_record
from floor.wall import get_local_day


def get_backup_folder(shop: Shop) -> Path:
    return shop.folder / COPIES


def is_backup_due(shop: Shop, now: datetime) -> bool:
    """Whether no copy has been made today by the shop's clock."""
    folder = get_backup_folder(shop)
    if not folder.is_dir():
        return True
    made = [datetime.fromtimestamp(path.stat().st_mtime, UTC) for path in list_copies(folder)]
    return not any(get_local_day(at, now) == get_local_day(now) for at in made)


def make_backup(shop: Shop, target: Path | None = None, keep: int = KEEP) -> Path:
    """Make a verified copy of the record, by default in the shop's own backup folder.

    Raises:
        LedgerError: with what is wrong and what was kept.
    """
    return back_up_journals(shop.journals, target or get_backup_folder(shop), shop.now().at, keep=keep)


def send_batch(shop: Shop, id: str, path: Path, to: str, by: str) -> str:
    """Mark a batch as sent and write its bundle; if already marked, only write it again.

    Writing to that place is tried before the batch is marked.

    Returns:
        Where an earlier bundle of it went; empty if this is the first.

    Raises:
        Refused, LedgerError: the sentence says what was done and what was not.
    """
    if path.exists():
        raise Refused("input", f"there is a file {path} already", "choose another name; nothing was written")
    before = shop.batch(id).gone
    if not before:
        _try_out(shop.journals.open(id), path)
        shop.do(id, TransferBatch(to), by)
    try:
        write_bundle(shop.journals.open(id), path)
    except LedgerError as error:
        raise WriteFailed(
            f"{error} {id} is marked as gone over; write its bundle elsewhere with the same command, or "
            f"make it active here again with floor bundle {id} --withdraw WHY."
        ) from error
    return before


def _try_out(journal: Journal, path: Path) -> None:
    """Write a bundle beside its destination, and delete it again.

    Raises:
        LedgerError: it does not work; names the place as the person gave it.
    """
    trial = path.with_name(f".{path.name}.trial")
    try:
        trial.unlink(missing_ok=True)
        write_bundle(journal, trial)
        trial.unlink()
    except (WriteFailed, OSError) as error:
        cause = error if isinstance(error, OSError) else error.__cause__
        why = getattr(cause, "strerror", error)
        raise WriteFailed(
            f"The bundle {path} cannot be written: {why}. Choose another place; {journal.name} is active here as "
            "before."
        ) from error


class ReceivedBatch(NamedTuple):
    """A batch received."""

    name: str
    sent_as: str
    """Its name at the sender."""
    kept: Path | None = None
    """The copy that was here and was replaced."""


class Actor(NamedTuple):
    """A person named in the entries of a received batch."""

    initials: str
    entries: int
    last: datetime
    pin_here: bool
    """A person of this shop with a PIN here: nobody here checked that it was really them."""


class BundleReview(NamedTuple):
    """A bundle read and reviewed, with nothing installed yet."""

    path: Path
    sent_as: str
    head: str
    """Hash of its last entry."""
    here: str
    """The batch's name here; empty if it is not here."""
    part: str
    """Number and revision of the part."""
    never_sent: bool
    """Whether it continues a batch that is active here and was never sent."""
    actors: tuple[Actor, ...]
    """The entries that would come in: all, or those added elsewhere."""


def review_bundle(shop: Shop, path: Path) -> BundleReview:
    """Read a bundle and judge it like entries made here: it can be folded, shown and worked on.

    Raises:
        Refused, LedgerError: it cannot be received.
    """
    name, entries = read_bundle(path)
    if name == SHOP_JOURNAL or entries[0].kind != BatchOpened.KIND:
        raise Refused("input", f"{path} is the record of no batch", "choose a bundle of a batch")
    if entries[-1].kind != GoneOver.KIND:
        raise Refused("input", f"{path} was not sent over with floor bundle", "send it from where it is active")
    batch = _sound(shop, path, entries)
    here = shop.name_of(entries[0].hash)
    ours = shop.batch(here).entries if here else []
    known = {entry.hash for entry in ours}
    news = [entry for entry in entries if entry.hash not in known]
    goes_on = len(news) + len(ours) == len(entries)
    part = f"{batch.checklist.part.number} {batch.checklist.part.revision}"
    never_sent = goes_on and bool(here) and not shop.batch(here).gone
    return BundleReview(path, name, entries[-1].hash, here, part, never_sent, _actors(shop, news))


def _sound(shop: Shop, path: Path, entries: list[Entry]) -> Batch:
    """The batch of a bundle, once it is certain that everything here can handle it."""
    try:
        batch, alive, now = fold(entries), fold(entries[:-1]), shop.now()
        why = next((finding.wrong for rule in RELIED_ON for finding in rule(batch.checklist)), "")
        if not why:
            list_due_tasks([alive], now, {})
            build_handover_page(alive, now)  # also walks the runs under way
            return batch
    except Inapplicable as error:
        raise Refused(
            "unknown",
            f"{path} holds what this Floor does not understand, as when it comes from a newer one: {error.wrong}",
            "nothing was taken in; update Floor here to the other machine's version, then give the command again",
        ) from error
    except Exception as error:  # a forged record that fails here would fail for the whole shop once it is in
        why = type(error).__name__
    raise Refused(
        "input", f"{path} holds no batch that can be worked on: {why}", "nothing was taken in; have it sent again"
    )


def _actors(shop: Shop, entries: Sequence[Entry]) -> tuple[Actor, ...]:
    counted = Counter(entry.by for entry in entries)
    last = {entry.by: entry.time for entry in entries}
    known = shop.people.known
    return tuple(Actor(by, count, last[by], by in known and known[by].has_pin) for by, count in counted.most_common())


def receive_batch(shop: Shop, offer: BundleReview, by: str, *, instead: bool = False) -> ReceivedBatch:
    """Receive a bundle and make the batch active here, under the next free name if its own is taken.

    A batch already here is received only if it was sent from here: otherwise nobody else can have continued it.

    Args:
        instead: replace the copy here if both went on; that copy is kept.

    Raises:
        Refused, LedgerError: nothing was taken in.
    """
    shop.context(offer.sent_as, by).need_lead("taking a batch in")
    if offer.never_sent and not instead:
        raise Refused(
            "not now",
            f"{offer.here} is active here and was sent to nobody, so what the bundle adds cannot belong to it",
            "ask where it comes from; a lead can take it in anyway with --instead",
        )
    got = receive_bundle(shop.journals, offer.path, shop.find_next_id(), instead=instead, head=offer.head)
    shop.reload(got.journal.name)
    shop.do(got.journal.name, TakeInBatch(f"from {got.journal.entries[-1].by}", name=got.journal.name), by)
    return ReceivedBatch(got.journal.name, offer.sent_as, got.kept)


def recover_batch(shop: Shop, id: str, by: str, *, without: bool) -> str:
    """Recover the missing part of a batch's record, or go on without it, on record.

    Raises:
        Refused, LedgerError: nothing was changed.
    """
    shop.context(id, by).need_lead("deciding on a record that was cut short")
    done = recover_journal(
        shop.journals.place(id),
        shop.journals.copies,
        without=without,
        files=REAL_FILES,
        was_here=id in shop.people.opened - shop.people.given_up,
    )
    said = _said(id, done)
    if not done.now:
        _enter(shop.folder, make_drafts(BatchGivenUp(batch=id)), shop.now(), by)
    else:
        shop.journals.close()
        again = Shop(shop.folder, shop.clock)
        with suppress(Refused):  # a batch that is closed or was sent takes no note
            again.do(id, Note(said, abnormal=True, next_shift=True), by)
        again.close()
    return said


class Authority(NamedTuple):
    """The people who decide who may restore or give up a record, and where they are known from."""

    people: ShopRecord
    source: Path


def find_authority(folder: Path, copy: Path | None = None) -> Authority | None:
    """The people in a shop's record or, if it knows no lead, in the newest copy that does; None if none does.

    So deleting the people makes nobody a lead.

    Args:
        copy: another copy, asked last.
    """
    kept = folder / COPIES
    places = [folder / RECORD, *(reversed(list_copies(kept)) if kept.is_dir() else ()), *([copy] if copy else ())]
    for place in places:
        with suppress(OSError, LookupError, TypeError, ValueError):  # use what can be read of a damaged one
            people = fold_shop_record(read_sound_part(read_whole(REAL_FILES, place / f"{SHOP_JOURNAL}.json")).entries)
            if people.leads:
                return Authority(people, place)
    return None


def authorize_lead(folder: Path, known: Authority | None, by: str, pin: str, now: Moment) -> str:
    """Initials of the lead who decides on the record as a whole; ``-`` if no copy knows one.

    Raises:
        Refused: wrong PIN, none where everyone needs one, or not a lead; a wrong try is recorded, if there is a
            record.
    """
    if known is None:
        return "-"
    if not by.strip():
        leads = ", ".join(sorted(known.people.leads))
        raise Refused("authority", "bringing a record back or giving it up needs a lead", f"add --by, one of {leads}")
    person, drafts, refused = draft_sign_in(known.people, by, pin, now, everyone=_is_pin_for_everyone(folder))
    if drafts and known.source == folder / RECORD:
        with suppress(LedgerError):
            _enter(folder, drafts, now, person.initials)
    if refused is not None:
        raise refused
    if person.initials not in known.people.leads:
        leads = ", ".join(sorted(known.people.leads))
        raise Refused("authority", "bringing a record back or giving it up needs a lead", f"ask {leads}")
    return person.initials


def _is_pin_for_everyone(folder: Path) -> bool:
    """The shop's rule, which stands beside the record; a slip in the file makes none, as when the shop is opened."""
    try:
        return load_rule(folder, PIN_RULE)
    except SettingsError:
        return False


class NewerHere(NamedTuple):
    """A journal that has gone on since a copy, or is not in it."""

    name: str
    entries: int
    """How many of them the copy does not have."""
    last: datetime
    in_copy: bool


def list_newer_here(folder: Path, copy: Path) -> list[NewerHere]:
    """What a shop's record has that a copy of it lacks; what cannot be read is left out."""
    found = []
    for path in sorted([*(folder / RECORD).glob("*.json"), *(folder / RECORD / "closed").glob("*.json")]):
        there = next((one for one in (copy / path.name, copy / "closed" / path.name) if one.exists()), None)
        with suppress(LedgerError, OSError, LookupError, TypeError, ValueError):
            entries = read_sound_part(read_whole(REAL_FILES, path)).entries
            known = {entry.hash for entry in _read_entries(there)} if there is not None else set()
            newer = [entry for entry in entries if entry.hash not in known]
            if newer:
                found.append(NewerHere(path.stem, len(newer), newer[-1].time, there is not None))
    return found


def _read_entries(path: Path) -> Sequence[Entry]:
    return read_sound_part(read_whole(REAL_FILES, path)).entries


def require_restorable(folder: Path, copy: Path, *, other_shop: bool = False) -> None:
    """Refuse what cannot be restored, before anybody gives a PIN.

    Args:
        other_shop: even if the copy is of another shop.

    Raises:
        Refused: the copy is not there or of another shop, or a terminal has the shop open.
        LedgerError: it holds no record.
    """
    if not copy.is_dir():
        raise Refused("input", f"there is no folder {copy}", "give the folder of one copy, backups/record-…")
    require_journals(copy)
    if not other_shop and not is_same_shop(copy, folder / RECORD):
        raise Refused(
            "input",
            f"{copy} is a copy of another shop",
            "choose a copy of this shop; to change over to that one, add --other-shop",
        )
    if is_folder_in_use(folder):
        raise Refused("busy", "the shop is open at a terminal", "quit Floor there (Ctrl+Q), then restore")


def restore_copy(folder: Path, copy: Path, by: str, now: Moment) -> Path | None:
    """Restore a copy as the record, on record; returns where the former record is now.

    Args:
        copy: from `require_restorable`.
        by: from `authorize_lead`.

    Raises:
        LedgerError: nothing was changed.
    """
    former = restore_folder(copy, folder / RECORD)
    was = former.name if former else None
    _enter(folder, make_drafts(RecordRestored(copy=copy.name, former=was)), now, by)
    return former


def _enter(folder: Path, drafts: list[Draft], now: Moment, by: str) -> None:
    """Write into the shop's own journal, creating it if missing. Raises `LedgerError`."""
    journals = JournalFolder(folder / RECORD, copies=folder / COPIES)
    journal = journals.open(SHOP_JOURNAL) if SHOP_JOURNAL in journals.names() else journals.create(SHOP_JOURNAL)
    with journal.turn() as turn:
        turn.append(drafts, now, by)
    journals.close()


def recover_people(folder: Path, by: str, now: Moment, *, without: bool) -> str:
    """Recover the missing part of the shop's own journal, or go on without it, on record.

    Args:
        by: from `authorize_lead`.

    Raises:
        LedgerError: nothing was changed.
    """
    journals = JournalFolder(folder / RECORD, copies=folder / COPIES)
    path = journals.place(SHOP_JOURNAL)
    if without and not path.exists():
        locate_mark(path).unlink(missing_ok=True)
        said = "The people and their PINs are given up. The first person added is a lead."
    else:
        said = _said(SHOP_JOURNAL, recover_journal(path, journals.copies, without=without, files=REAL_FILES))
    _enter(folder, make_drafts(RecordRecovered(said=said)), now, by)
    return said


def compare_with_copies(journals: JournalFolder) -> list[str]:
    """How the record differs from its copies, in sentences, and batches with nothing left."""
    given_up, opened, came_in = set[str](), set[str](), set()
    with suppress(LedgerError):
        own = read_sound_part(journals.text(SHOP_JOURNAL).raw).entries
        given_up = {one.batch for entry in own if (one := read_if_kind(entry, BatchGivenUp)) is not None}
        opened = {part.batch for entry in own if (part := read_if_kind(entry, PartOpened)) is not None}
    found = find_differences(journals, given_up)
    for name in (*journals.names(), *journals.closed_names()):
        with suppress(LedgerError):
            if _has_entry(journals.text(name), TakenIn):
                came_in.add(name)
    missed = [name for name in find_missing_numbers(journals, came_in, given_up, opened) if name not in found]
    return [
        *found.values(),
        *(
            f"{name} is not in the record, though {'it was opened here' if name in opened else 'a later batch is'}: "
            "nothing of it is left here. "
            "Look for a copy of it elsewhere."
            for name in missed
        ),
    ]


def describe_put_aside(journals: JournalFolder, text: RawJournal) -> str:
    """What is wrong with a whole journal that is among the closed ones and was never closed, and what to do; empty if
    nothing is.
    """
    name = text.place.stem
    if text.place.parent.name != CLOSED or _has_entry(text, BatchClosed):
        return ""
    return f"{name} is among the closed batches, but nobody closed it. Move {name}.json back to {journals.folder}."


def _has_entry(text: RawJournal, kind: type[Event]) -> bool:
    """Whether a journal has an entry of this kind, found without reading each."""
    return f'"kind":"{kind.KIND}"'.encode() in text.raw


def _said(name: str, done: RecoveryResult) -> str:
    if not done.now:
        return f"The record of {name} is given up; Floor misses it no longer."
    said = f"The record of {name} ended at entry {done.before}."
    if done.source is not None:
        back = _count_off(done.before + 1, done.now, "was", "were")
        said += f" {back} brought back from {describe_copy(done.source)}."
    if done.acknowledged > done.now:
        lost = _count_off(done.now + 1, done.acknowledged, "is", "are")
        said += f" {lost} lost: look what was done then and enter it again."
    return said + (f" What was there is kept in {done.kept.name}." if done.kept else "")


def _count_off(first: int, last: int, one: str, more: str) -> str:
    """``Entry 4 is``, ``Entries 4 to 7 are``."""
    return f"Entry {first} {one}" if first == last else f"Entries {first} to {last} {more}"
