"""A shop's open batches in this terminal, kept up to date with what other terminals write.

A batch whose file is damaged, moved away or swapped is reported; the others go on.
"""

from __future__ import annotations

import os
import weakref
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
from floor.ledger.files import hold_folder_open
from floor.shop.clock import Clock, read_clock
from floor.shop.gauge_register import describe_half_told
from floor.shop.load_settings import APPROVAL_RULE, GAUGE_RULE, PIN_RULE, load_handover_rules, load_rule, load_zone
from floor.shop.settings import SettingsError
from floor.shop.shop_record import ShopRecord, fold_shop_record
from floor.wall import convert_to_zone

RECORD = "record"
"""The record folder, inside the shop's folder."""
MOST_NAMED = 12
"""Batches that a refusal names."""
COPIES = "backups"
"""The backup folder, inside the shop's folder."""


@dataclass(slots=True)
class LoadedBatch:
    """An open batch with its journal."""

    journal: Journal
    batch: Batch


@dataclass(frozen=True, slots=True)
class UnreadableBatch:
    """A batch that cannot be read: why, and what its file looked like, so it is tried again when that changes."""

    sentence: str
    like: tuple[int, ...]
    busy: bool = False
    """Another terminal held it too long: try again each time, without waiting."""


class OpenBatches:
    """A shop folder open in this terminal."""

    def __init__(self, folder: Path | str, clock: Clock = read_clock) -> None:
        """Open the folder, creating it if missing.

        Raises:
            LedgerError: the record cannot be opened; the sentence says what to do.
        """
        self.folder = Path(folder)
        self.clock = clock
        self.zone: tzinfo | None = None
        """The zone in ``shop.toml`` when opened; None for the clock's own."""
        self.registered_gauges_only = False
        """Whether ``shop.toml`` said so when opened, or could not be read."""
        self.pin_for_everyone = False
        """Whether ``shop.toml`` said so when opened."""
        self.approved_checklists_only = False
        """Likewise: whether nobody at all opens a batch from one that no lead approved."""
        self.long_shift_hours = 0.0
        self.handover_questions: tuple[str, ...] = ()
        self.until_right: dict[str, list[str]] = {}
        """What is wrong in ``shop.toml`` as far as opening reads it → what applies until it is right."""
        self.troubles: list[str] = []
        """What was repaired, or is damaged or missing, in sentences for the person at the terminal."""
        self.away = ""
        """Why the record is out of reach right now; empty if it is not."""
        self.replaced: list[str] = []
        """Records swapped while open here, in sentences; cleared by whoever shows them."""
        self._held: dict[str, LoadedBatch] = {}
        self._out: dict[str, UnreadableBatch] = {}
        self._seen_closed: set[str] = set()
        self.journals = JournalFolder(self.folder / RECORD, copies=self.folder / COPIES)
        self._open_journals()
        held = hold_folder_open(self.folder)  # its record has locks of its own
        self._let_go = weakref.finalize(self, os.close, held) if held is not None else None

    def now(self) -> Moment:
        now = self.clock()
        return now if self.zone is None else replace(now, at=convert_to_zone(now.at, self.zone))

    @property
    def batches(self) -> list[Batch]:
        """The open batches, oldest first."""
        return [self._held[name].batch for name in sorted(self._held)]

    def batch(self, id: str) -> Batch:
        """An open batch, or a closed one, which is read on demand.

        Raises:
            Refused: there is none of this name, or it cannot be read at all. A damaged one is given as far as
                readable, and its ``damage`` says what is missing.
        """
        held = self._held.get(id)
        if held is not None:
            held.batch.damage = describe_damage(held.journal)  # it may have come since opening
            return self._with_news(held.batch)
        try:
            journal = self.journals.open(id)
            return self._with_news(_read(journal))
        except NoSuchJournal:
            raise Refused("unknown", f"there is no batch {id}", self._say_which()) from None
        except Inapplicable as error:
            wrong = f"batch {id} cannot be opened: {error.wrong}"
            raise Refused("unknown", wrong, error.remedy or self._say_which()) from error
        except (LedgerError, ValueError) as error:
            raise Refused("unknown", f"batch {id} cannot be opened: {error}", self._say_which()) from error

    def _say_which(self) -> str:
        """Which batches are open: at a command line no list shows them."""
        known = [batch.id for batch in self.batches][:MOST_NAMED]
        return f"open: {', '.join(known)}" if known else "no batch is open"

    def _with_news(self, batch: Batch) -> Batch:
        """A batch with what the shop's record says of it: it was told nothing once it took no entries."""
        batch.afterwards = tuple(map(str, self.people.suspect_afterwards.get(batch.entries[0].hash, ())))
        return batch

    @property
    def first_hash(self) -> str:
        """Hash of the first entry of the shop's own record, which tells it from every other; empty in a new one."""
        return self._journal.entries[0].hash if self._journal.entries else ""

    def name_of(self, first: str) -> str:
        """The name of the open batch whose first entry has this hash; empty if it is not here."""
        return next((name for name, held in self._held.items() if held.batch.entries[0].hash == first), "")

    def closed(self) -> list[str]:
        """Names of the closed batches, without reading them."""
        return sorted(self.journals.closed_names())

    def explain_read_only(self, id: str) -> str:
        """Why the batch's record can only be read, as a sentence; empty if it can be written."""
        held = self._held.get(id)
        if held is None or held.journal.condition.kind != "read-only":
            return ""
        return held.journal.condition.sentence

    def head(self, id: str) -> str:
        """Hash of the batch's last entry, printed on papers to pin the record."""
        return self.journals.open(id).head

    @property
    def out(self) -> dict[str, str]:
        """Batches that cannot be read, with the reason."""
        return {name: out.sentence for name, out in sorted(self._out.items())}

    def refresh(self) -> bool:
        """Read what other terminals wrote; returns whether there was anything."""
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
                with suppress(Refused):  # reported with the other troubles
                    self._take_in(id, held, entries)
                    self._put_aside_if_closed(id)
        return changed

    def reload(self, id: str) -> None:
        """Fold a batch again from its journal, after entries came by other ways than a turn."""
        journal = self.journals.open(id)
        self._held[id] = LoadedBatch(journal, _read(journal))

    def close(self) -> None:
        self.journals.close()
        if self._let_go is not None:
            self._let_go()

    def _open_journals(self) -> None:
        self.until_right = {}
        try:
            self.zone = load_zone(self.folder)
        except SettingsError as error:
            self._note_wrong(error, "times are shown by this machine's clock")
        self.registered_gauges_only = self._load_rule(GAUGE_RULE, "only gauges of the register are taken", True)
        # A slip in the file must not make everybody choose a PIN, which they keep, nor stop the opening of batches.
        self.pin_for_everyone = self._load_rule(PIN_RULE, "only those with a PIN are asked for it", False)
        self.approved_checklists_only = self._load_rule(APPROVAL_RULE, "a lead may open an unapproved checklist", False)
        self.long_shift_hours, self.handover_questions = load_handover_rules(self.folder)
        self._journal = self._shop_journal()
        self._say_condition(self._journal)
        self.people: ShopRecord = fold_shop_record(self._journal.entries)
        self._take_in_new_journals()
        self.troubles += describe_half_told(self.people.gauges, self.batches)

    def _load_rule(self, name: str, otherwise: str, cautious: bool) -> bool:
        """A rule of the shop; where nobody can tell, the cautious answer, and what that means is noted."""
        try:
            return load_rule(self.folder, name)
        except SettingsError as error:
            self._note_wrong(error, otherwise)
            return cautious

    def _note_wrong(self, error: SettingsError, otherwise: str) -> None:
        self.until_right.setdefault(str(error), []).append(otherwise)

    @property
    def settings_troubles(self) -> list[str]:
        """What is wrong in ``shop.toml`` as far as opening reads it, in sentences, and what applies meanwhile."""
        return [f"{wrong} Until then {'; '.join(meanwhile)}." for wrong, meanwhile in self.until_right.items()]

    def _shop_journal(self) -> Journal:
        """The shop's own journal; created in a new folder, never beside batches that had one."""
        if SHOP_JOURNAL in self.journals.names():
            return self.journals.open(SHOP_JOURNAL)
        lost = SHOP_JOURNAL in self.journals.lost() or _copied(self.folder / COPIES)
        if self.journals.names() or self.journals.closed_names() or lost:
            from floor.ledger.recover_from_copies import describe_lost_journal  # hardly ever needed

            why = describe_lost_journal(self.journals.place(SHOP_JOURNAL), self.journals.copies)
            raise NoSuchJournal(
                f"{why} It holds the people and their PINs; without it whoever signs in first would be a lead."
            )
        try:
            return self.journals.create(SHOP_JOURNAL)
        except NameTaken:  # another terminal just opened the same new shop
            return self.journals.open(SHOP_JOURNAL)

    def _come_back(self) -> bool:
        """The record is no longer the one opened: out of reach for a while, or swapped."""
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
        """The file of an open batch was moved away or swapped."""
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
        """Whether a batch does not continue one that ended with this hash."""
        return not any(entry.hash == head for entry in reversed(held.journal.entries))

    def _held_in_place(self, id: str) -> LoadedBatch | None:
        """An open batch; what is there now if another terminal closed it or a backup was restored."""
        held = self._held.get(id)
        if held is not None and not held.journal.in_place():
            self.refresh()
        return self._held.get(id)

    def _take_in(self, id: str, held: LoadedBatch, news: Sequence[Entry]) -> None:
        """Read entries of other terminals; one this program does not understand puts the batch out of reach."""
        try:
            held.batch = advance(held.batch, news)
        except Inapplicable as error:
            del self._held[id]
            self._leave_out(id, f"Batch {id} cannot be read any further: {error}")
            wrong = f"batch {id} cannot be read any further: {error.wrong}"
            raise Refused("unknown", wrong, error.remedy or "use the newest Floor for it") from error

    def _take_in_new_journals(self) -> bool:
        before, taken = set(self._out), False
        with suppress(LedgerError):  # a record that cannot be written is read as it is
            self.journals.bring_back_misplaced()
        names = self.journals.names()
        again = {
            name: self._out.pop(name)
            for name in list(self._out)
            if name in self._held or self._out[name].busy or self._like(name) != self._out[name].like
        }
        for name in names:
            if name != SHOP_JOURNAL and name not in self._held and name not in self._out:
                taken |= self._take_in_journal(name, again.get(name))
        for name in (*self.journals.lost(), *self._find_vanished(names)):
            if name not in self._out:
                from floor.ledger.recover_from_copies import describe_lost_journal  # hardly ever needed

                self._leave_out(name, describe_lost_journal(self.journals.place(name), self.journals.copies))
        return taken or set(self._out) != before

    def _find_vanished(self, names: Sequence[str]) -> list[str]:
        """The batches opened here of which neither file nor mark is left; the closed ones are listed only if need be.

        Args:
            names: of the journals of open batches.
        """
        gone = self.people.opened.difference(names, self._seen_closed, self.people.given_up)
        if gone:
            self._seen_closed = {*self.journals.closed_names(), *self.journals.lost_closed()}
        return sorted(gone.difference(self._seen_closed, self.journals.lost()))

    def _take_in_journal(self, name: str, was: UnreadableBatch | None) -> bool:
        """Read the journal of a batch not loaded yet; if it cannot be read, leave it out and report that once.

        Args:
            was: why it was left out before, if it was.
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
                self._out[name] = was  # reported once
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
        """What a batch's file looks like; None if it is not there."""
        like: tuple[int, ...] = ()
        for look in (os.lstat, os.stat):
            with suppress(OSError):
                found = look(self.journals.folder / f"{name}.json")
                like += found.st_ino, found.st_size, found.st_mode, found.st_ctime_ns
        return like

    def _put_aside_if_closed(self, id: str) -> None:
        """Move a closed batch out of the folder that opening a shop reads."""
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
        """Refuse decisions on a record that is out of reach, or was swapped without anybody having seen it."""
        if self.away or self.replaced:
            raise Replaced(f"{self.away or self.replaced[0]} Nothing was written.")


def _copied(copies: Path) -> bool:
    """Whether a copy of the record has the shop's own journal."""
    return any(copies.glob(f"record-*/{SHOP_JOURNAL}.json"))


def _read(journal: Journal) -> Batch:
    """The batch of a journal, and what is damaged.

    Raises:
        ValueError, Inapplicable: it cannot be read at all.
    """
    damage = describe_damage(journal)
    if not journal.entries and damage:
        raise ValueError(damage)
    batch = fold(journal.entries)
    batch.damage = damage
    return batch


def _way_back(journal: Journal) -> str:
    """What to do about an unreadable journal, if its condition does not say."""
    if journal.condition.remedy:
        return ""
    return (
        f" Bring it back from a copy with floor recover {journal.name} --by INITIALS, or receive the batch from "
        "another machine."
    )


def describe_damage(journal: Journal) -> str:
    """What is damaged in a journal; for one that is merely read-only there is no place."""
    return journal.condition.sentence if journal.condition.kind == "read-only" and journal.condition.place else ""
