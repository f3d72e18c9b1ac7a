"""The record of a shop as this terminal holds it: its open batches, kept up with what other terminals write.

A batch whose file is damaged, moved away or changed for another one is said, and the others go on.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from datetime import tzinfo
from pathlib import Path

from floor.batch.command import Refused
from floor.batch.fold import Inapplicable, advance, fold
from floor.batch.state import Batch
from floor.dataclass import dataclass
from floor.entry import Entry, Moment
from floor.ledger import Busy, Journal, JournalFolder, LedgerError, NameTaken, NoSuchJournal, Replaced
from floor.ledger.copies import SHOP_JOURNAL
from floor.shop.clock import Clock, read_clock
from floor.shop.load_settings import load_zone
from floor.shop.settings import SettingsError
from floor.shop.shop_record import ShopRecord, fold_shop_record
from floor.wall import convert_to_zone

RECORD = "record"
"""The folder in the shop's folder that holds the record."""
COPIES = "backups"
"""The folder in the shop's folder that holds the copies of the record."""


@dataclass(slots=True)
class LoadedBatch:
    """An open batch with its journal."""

    journal: Journal
    batch: Batch


@dataclass(frozen=True, slots=True)
class UnreadableBatch:
    """A batch that cannot be read: why, and what its file was like, so that it is tried again when that changes."""

    sentence: str
    like: tuple[int, ...]
    busy: bool = False
    """Another terminal held it and did not answer: tried again at each look, without waiting."""


class OpenBatches:
    """A shop folder whose record is open in this terminal."""

    def __init__(self, folder: Path | str, clock: Clock = read_clock) -> None:
        """Open the folder, making it where there is none.

        Raises:
            LedgerError: the record cannot be opened; the sentence says what to do.
        """
        self.folder = Path(folder)
        self.clock = clock
        self.zone: tzinfo | None = None
        """That of ``shop.toml`` when it was opened; None for the clock's own."""
        self.troubles: list[str] = []
        """Sentences about what was repaired, or is damaged or missing, for the person at the terminal."""
        self.away = ""
        """Why the record is out of reach at this moment; empty where it is not."""
        self.replaced: list[str] = []
        """What was changed for another record under this terminal, in sentences; emptied by who has shown them."""
        self._held: dict[str, LoadedBatch] = {}
        self._out: dict[str, UnreadableBatch] = {}
        self.journals = JournalFolder(self.folder / RECORD, copies=self.folder / COPIES)
        self._open_journals()

    def now(self) -> Moment:
        now = self.clock()
        return now if self.zone is None else replace(now, at=convert_to_zone(now.at, self.zone))

    @property
    def batches(self) -> list[Batch]:
        """The open batches, oldest first."""
        return [self._held[name].batch for name in sorted(self._held)]

    def batch(self, id: str) -> Batch:
        """An open batch, or a closed one, which is read when it is asked for.

        Raises:
            Refused: there is none of this name, or nothing of it can be read. Of a damaged one what can be read
                is given, and its ``damage`` says what is missing.
        """
        held = self._held.get(id)
        if held is not None:
            held.batch.damage = _damage(held.journal)  # it may have come since it was opened
            return held.batch
        try:
            journal = self.journals.open(id)
            return _read(journal)
        except Inapplicable as error:
            wrong = f"batch {id} cannot be opened: {error.wrong}"
            raise Refused("unknown", wrong, error.remedy or "choose one of the list") from error
        except (LedgerError, ValueError) as error:
            raise Refused("unknown", f"batch {id} cannot be opened: {error}", "choose one of the list") from error

    def name_of(self, first: str) -> str:
        """The name of the open batch whose first entry has this hash; empty where it is not here."""
        return next((name for name, held in self._held.items() if held.batch.entries[0].hash == first), "")

    def closed(self) -> list[str]:
        """Names of the closed batches; none of them is read."""
        return sorted(self.journals.closed_names())

    def explain_read_only(self, id: str) -> str:
        """Empty, or the sentence why the record of the batch can only be read."""
        held = self._held.get(id)
        if held is None or held.journal.condition.kind != "read-only":
            return ""
        return held.journal.condition.sentence

    def head(self, id: str) -> str:
        """Hash of the batch's last entry: what a paper carries to pin the record."""
        return self.journals.open(id).head

    @property
    def out(self) -> dict[str, str]:
        """Batches that cannot be read, each with the reason."""
        return {name: out.sentence for name, out in sorted(self._out.items())}

    def refresh(self) -> bool:
        """Take in what other terminals wrote; whether there was anything."""
        if not self._journal.in_place():
            return self._come_back()
        changed, self.away = bool(self.away), ""
        news = self._journal.refresh()
        fold_shop_record(news, self.people)
        for id in [id for id, held in self._held.items() if not held.journal.in_place()]:
            self._change_for_what_is_there(id)
            changed = True
        changed |= self._take_in_new_journals() or bool(news)
        for id, held in list(self._held.items()):
            entries = held.journal.refresh()
            if entries:
                changed = True
                with suppress(Refused):  # said among the troubles
                    self._take_in(id, held, entries)
                    self._put_aside_if_closed(id)
        return changed

    def reload(self, id: str) -> None:
        """Fold a batch again from its journal, after entries came to it by another way than a turn."""
        journal = self.journals.open(id)
        self._held[id] = LoadedBatch(journal, _read(journal))

    def close(self) -> None:
        self.journals.close()

    def _open_journals(self) -> None:
        try:
            self.zone = load_zone(self.folder)
        except SettingsError as error:
            self.troubles.append(str(error))
        self._journal = self._shop_journal()
        self._say_condition(self._journal)
        self.people: ShopRecord = fold_shop_record(self._journal.entries)
        self._take_in_new_journals()

    def _shop_journal(self) -> Journal:
        """The shop's own journal; made in a new folder, never beside batches that had one."""
        if SHOP_JOURNAL in self.journals.names():
            return self.journals.open(SHOP_JOURNAL)
        lost = SHOP_JOURNAL in self.journals.lost() or _copied(self.folder / COPIES)
        if self.journals.names() or self.journals.closed_names() or lost:
            from floor.ledger.recovery import describe_lost_journal  # hardly ever needed

            why = describe_lost_journal(self.journals.place(SHOP_JOURNAL), self.journals.copies)
            raise NoSuchJournal(
                f"{why} It holds the people and their PINs; without it whoever signs in first would be a lead."
            )
        try:
            return self.journals.create(SHOP_JOURNAL)
        except NameTaken:  # another terminal opened the same new shop a moment ago
            return self.journals.open(SHOP_JOURNAL)

    def _come_back(self) -> bool:
        """The record is no longer the one that was opened: out of reach for a while, or changed for another one."""
        before = self.away
        if SHOP_JOURNAL not in self.journals.names():
            self.away = (
                f"The record in {self.journals.folder} is out of reach: nothing can be entered. Check "
                "that its disk or share is there; Floor goes on by itself once it is."
            )
            return self.away != before
        known = {id: held.batch.entries[-1].hash for id, held in self._held.items()}
        self._held, self._out, self.troubles = {}, {}, []
        self.journals.close()
        try:
            self._open_journals()
        except (LedgerError, OSError) as error:
            self.away = f"The record is out of reach: {error}"
            return self.away != before
        self.away = ""
        if any(id not in self._held or self._parted(self._held[id], head) for id, head in known.items()):
            self.replaced.append(
                f"The record in {self.journals.folder} was replaced by another, as when a copy is "
                "brought back. What is shown now comes from it; check it before going on."
            )
        return True

    def _change_for_what_is_there(self, id: str) -> None:
        """The file of an open batch was moved away or changed for another one."""
        head = self._held.pop(id).batch.entries[-1].hash
        self._take_in_new_journals()
        there = self._held.get(id)
        if there is not None and self._parted(there, head):
            self.replaced.append(
                f"The record of {id} was replaced by another, as when a copy is brought back. "
                "What is shown now comes from it; check it before going on."
            )
        elif there is None and id not in self.journals.closed_names():
            why = self._out[id].sentence if id in self._out else ""
            self.replaced.append(f"The record of {id} is no longer in {self.journals.folder}. {why}".strip())

    @staticmethod
    def _parted(held: LoadedBatch, head: str) -> bool:
        """Whether a batch is not the continuation of one that ended with this hash."""
        return not any(entry.hash == head for entry in reversed(held.journal.entries))

    def _held_in_place(self, id: str) -> LoadedBatch | None:
        """An open batch; where another terminal closed it, or a backup came back, what is there now."""
        held = self._held.get(id)
        if held is not None and not held.journal.in_place():
            self.refresh()
        return self._held.get(id)

    def _take_in(self, id: str, held: LoadedBatch, news: Sequence[Entry]) -> None:
        """Entries of other terminals; one that this program does not understand puts the batch out of its reach."""
        try:
            held.batch = advance(held.batch, news)
        except Inapplicable as error:
            del self._held[id]
            self._leave_out(id, f"Batch {id} cannot be read any further: {error}")
            wrong = f"batch {id} cannot be read any further: {error.wrong}"
            raise Refused("unknown", wrong, error.remedy or "use the newest Floor for it") from error

    def _take_in_new_journals(self) -> bool:
        before, taken = set(self._out), False
        names = self.journals.names()
        again = {
            name: self._out.pop(name)
            for name in list(self._out)
            if name in self._held or self._out[name].busy or self._like(name) != self._out[name].like
        }
        for name in names:
            if name != SHOP_JOURNAL and name not in self._held and name not in self._out:
                taken |= self._take_in_journal(name, again.get(name))
        for name in self.journals.lost():
            if name not in self._out:
                from floor.ledger.recovery import describe_lost_journal  # hardly ever needed

                self._leave_out(name, describe_lost_journal(self.journals.place(name), self.journals.copies))
        return taken or set(self._out) != before

    def _take_in_journal(self, name: str, was: UnreadableBatch | None) -> bool:
        """Read the journal of a batch that is not held; what cannot be read is left out, with a sentence said once.

        Args:
            was: why it was left out before, where it was.
        """
        try:
            journal = self.journals.open(name, patience=0.0 if was is not None and was.busy else None)
            if not journal.entries:
                if journal.condition.kind != "fine":  # damaged from its first line on
                    self._leave_out(name, f"{journal.condition.sentence}{_way_back(journal)}")
                return False
            batch = _read(journal)
        except Busy as busy:
            if was is not None and was.busy:
                self._out[name] = was  # said once
            else:
                self._leave_out(name, f"Batch {name} cannot be opened: {busy}", busy=True)
            return False
        except (LedgerError, Inapplicable, ValueError, ArithmeticError) as error:
            self._leave_out(name, f"Batch {name} cannot be opened: {error}")
            return False
        if batch.id != name and (not batch.gone or journal.condition.kind == "read-only"):
            self._leave_out(
                name,
                f"{name}.json in {self.journals.folder} is the record of {batch.id}: a copy, or "
                "renamed. It is left out; the other batches go on. Move it out of the record "
                "folder, or give it back its name.",
            )
            return False
        self._held[name] = LoadedBatch(journal, batch)
        self._say_condition(journal)
        self._put_aside_if_closed(name)
        return True

    def _leave_out(self, name: str, sentence: str, *, busy: bool = False) -> None:
        self._out[name] = UnreadableBatch(sentence, self._like(name), busy)
        self.troubles.append(sentence)

    def _like(self, name: str) -> tuple[int, ...]:
        """What a batch's file is like; nothing where it is not there."""
        like: tuple[int, ...] = ()
        for look in (os.lstat, os.stat):
            with suppress(OSError):
                found = look(self.journals.folder / f"{name}.json")
                like += found.st_ino, found.st_size, found.st_mode, found.st_ctime_ns
        return like

    def _put_aside_if_closed(self, id: str) -> None:
        """A closed batch leaves the folder that opening a shop reads."""
        if self._held[id].batch.closed is not None:
            del self._held[id]
            try:
                self.journals.archive(id)
            except LedgerError as error:
                self._leave_out(id, f"Batch {id} is closed but could not be moved to the closed ones: {error}")

    def _say_condition(self, journal: Journal) -> None:
        if journal.condition.kind != "fine":
            self.troubles.append(journal.condition.sentence)

    def _need_record(self) -> None:
        """Nothing is decided on a record that is out of reach, or of which nobody has seen that it is another one."""
        if self.away or self.replaced:
            raise Replaced(f"{self.away or self.replaced[0]} Nothing was written.")


def _copied(copies: Path) -> bool:
    """Whether a copy of the record holds the shop's own journal."""
    return any(copies.glob(f"record-*/{SHOP_JOURNAL}.json"))


def _read(journal: Journal) -> Batch:
    """The batch of a journal, with what is damaged of it.

    Raises:
        ValueError, Inapplicable: nothing of it can be read.
    """
    damage = _damage(journal)
    if not journal.entries and damage:
        raise ValueError(damage)
    batch = fold(journal.entries)
    batch.damage = damage
    return batch


def _way_back(journal: Journal) -> str:
    """What to do about a journal of which nothing can be read, where its condition does not say it."""
    if journal.condition.remedy:
        return ""
    return (
        f" Bring it back from a copy with floor recover {journal.name} --by INITIALS, or receive the batch from "
        "another machine."
    )


def _damage(journal: Journal) -> str:
    """What is damaged of a journal; one that may only be read, as the disk says, has no place where it is."""
    return journal.condition.sentence if journal.condition.kind == "read-only" and journal.condition.place else ""
