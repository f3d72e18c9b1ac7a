"""One shop: its people, its open batches, and the one way a command becomes durable entries.

A command is decided inside the book's turn, on the newest state: what another terminal wrote a moment ago is
taken in first. Only when the entries are on the disk does the state here follow.
"""

from __future__ import annotations

import os
import re
import secrets
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass, replace
from datetime import datetime, tzinfo
from pathlib import Path

from floor.batch.commands.base import Command, Context, Elsewhere, Person, Refused, alive, clean
from floor.batch.commands.moving import TakeIn
from floor.batch.commands.opening import OpenBatch
from floor.batch.commands.transcribing import Transcribed, carriers_then, runs_then
from floor.batch.fold import Inapplicable, advance, fold
from floor.batch.nextup import Due, next_up
from floor.batch.people import Known, People, add_person, change_person, fold_people, set_pin, sign_in
from floor.batch.room import takes
from floor.batch.state import Batch
from floor.batch.verifying import signatures
from floor.entry import Draft, Entry, Moment
from floor.ledger import Book, Busy, LedgerError, NameTaken, NoSuchBook, Replaced, Shelf, Turn
from floor.ledger.shelf import SHOP_BOOK
from floor.shop.clock import Clock, real_clock
from floor.shop.receipts import Receipt, Receipts
from floor.shop.settings import SettingsError, load_zone
from floor.shop.telling import left_behind, news_for, set_up, shop_wide, taken_away, told, worn_elsewhere
from floor.wall import on_wall

RECORD = "record"
"""The folder in the shop's folder that holds the record."""
COPIES = "backups"
"""The folder in the shop's folder that holds the copies of the record."""
_BATCH_NAME = re.compile(r"B(\d{4,})")


@dataclass(slots=True)
class Held:
    """An open batch with its book."""

    book: Book
    batch: Batch


@dataclass(frozen=True, slots=True)
class Out:
    """A batch that cannot be read: why, and what its file was like, so that it is tried again when that changes."""

    sentence: str
    like: tuple[int, ...]
    busy: bool = False
    """Another terminal held it and did not answer: tried again at each look, without waiting."""


class Shop:
    """A shop folder, open in this terminal."""

    def __init__(self, folder: Path | str, clock: Clock = real_clock) -> None:
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
        self._held: dict[str, Held] = {}
        self._out: dict[str, Out] = {}
        self._receipts = Receipts()
        self.shelf = Shelf(self.folder / RECORD, copies=self.folder / COPIES)
        self._open_books()

    def _open_books(self) -> None:
        try:
            self.zone = load_zone(self.folder)
        except SettingsError as error:
            self.troubles.append(str(error))
        self._book = self._shop_book()
        self._say_condition(self._book)
        self.people: People = fold_people(self._book.entries)
        self._take_in_new_books()

    def _shop_book(self) -> Book:
        """The shop's own book; made in a new folder, never beside batches that had one."""
        if SHOP_BOOK in self.shelf.names():
            return self.shelf.open(SHOP_BOOK)
        lost = SHOP_BOOK in self.shelf.lost() or _copied(self.folder / COPIES)
        if self.shelf.names() or self.shelf.closed_names() or lost:
            from floor.ledger.recovery import gone  # hardly ever needed

            raise NoSuchBook(f"{gone(self.shelf.place(SHOP_BOOK), self.shelf.copies)} It holds the people and their "
                             "pins; without it whoever signs in first would be a lead.")
        try:
            return self.shelf.create(SHOP_BOOK)
        except NameTaken:  # another terminal opened the same new shop a moment ago
            return self.shelf.open(SHOP_BOOK)

    def now(self) -> Moment:
        now = self.clock()
        return now if self.zone is None else replace(now, at=on_wall(now.at, self.zone))

    # --- batches -----------------------------------------------------------------------------------------------

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
            held.batch.damage = _damage(held.book)  # it may have come since it was opened
            return held.batch
        try:
            book = self.shelf.open(id)
            return _read(book)
        except (LedgerError, Inapplicable, ValueError) as error:
            raise Refused("unknown", f"batch {id} cannot be opened: {error}", "choose one of the list") from error

    def name_of(self, first: str) -> str:
        """The name of the open batch whose first entry has this hash; empty where it is not here."""
        return next((name for name, held in self._held.items() if held.batch.entries[0].hash == first), "")

    def closed(self) -> list[str]:
        """Names of the closed batches; none of them is read."""
        return sorted(self.shelf.closed_names())

    def writable(self, id: str) -> str:
        """Empty, or the sentence why the record of the batch can only be read."""
        held = self._held.get(id)
        if held is None or held.book.condition.kind != "read-only":
            return ""
        return held.book.condition.sentence

    def head(self, id: str) -> str:
        """Hash of the batch's last entry: what a paper carries to pin the record."""
        return self.shelf.open(id).head

    def refresh(self) -> bool:
        """Take in what other terminals wrote; whether there was anything."""
        if not self._book.in_place():
            return self._come_back()
        changed, self.away = bool(self.away), ""
        news = self._book.refresh()
        fold_people(news, self.people)
        for id in [id for id, held in self._held.items() if not held.book.in_place()]:
            self._change_for_what_is_there(id)
            changed = True
        changed |= self._take_in_new_books() or bool(news)
        for id, held in list(self._held.items()):
            entries = held.book.refresh()
            if entries:
                changed = True
                with suppress(Refused):  # said among the troubles
                    self._take_in(id, held, entries)
                    self._put_aside_if_closed(id)
        return changed

    def _come_back(self) -> bool:
        """The record is no longer the one that was opened: out of reach for a while, or changed for another one."""
        before = self.away
        if SHOP_BOOK not in self.shelf.names():
            self.away = (f"The record in {self.shelf.folder} is out of reach: nothing can be entered. Look whether its "
                         "disk or share is there; Floor goes on by itself when it is.")
            return self.away != before
        known = {id: held.batch.entries[-1].hash for id, held in self._held.items()}
        self._held, self._out, self.troubles = {}, {}, []
        self.shelf.close()
        try:
            self._open_books()
        except (LedgerError, OSError) as error:
            self.away = f"The record is out of reach: {error}"
            return self.away != before
        self.away = ""
        if any(id not in self._held or self._parted(self._held[id], head) for id, head in known.items()):
            self.replaced.append(f"The record in {self.shelf.folder} was changed for another one, as when a copy is "
                                 "brought back. What is shown now is what it says; look at it before going on.")
        return True

    def _change_for_what_is_there(self, id: str) -> None:
        """The file of an open batch was moved away or changed for another one."""
        head = self._held.pop(id).batch.entries[-1].hash
        self._take_in_new_books()
        there = self._held.get(id)
        if there is not None and self._parted(there, head):
            self.replaced.append(f"The record of {id} was changed for another one, as when a copy is brought back. "
                                 "What is shown now is what it says; look at it before going on.")
        elif there is None and id not in self.shelf.closed_names():
            why = self._out[id].sentence if id in self._out else ""
            self.replaced.append(f"The record of {id} is no longer in {self.shelf.folder}. {why}".strip())

    @staticmethod
    def _parted(held: Held, head: str) -> bool:
        """Whether a batch is not the continuation of one that ended with this hash."""
        return not any(entry.hash == head for entry in reversed(held.book.entries))

    @property
    def out(self) -> dict[str, str]:
        """Batches that cannot be read, each with the reason."""
        return {name: out.sentence for name, out in sorted(self._out.items())}

    def reload(self, id: str) -> None:
        """Fold a batch anew from its book, after entries came to it by another way than a turn."""
        book = self.shelf.open(id)
        self._held[id] = Held(book, _read(book))

    def due(self, now: Moment | None = None) -> list[Due]:
        """What needs a person now and next, over all open batches."""
        return next_up(self.batches, now or self.now(), {id: self.elsewhere(id) for id in self._held})

    # --- commands ----------------------------------------------------------------------------------------------

    def do(self, id: str, command: Command, by: str, second: Receipt | None = None) -> list[Entry]:
        """Carry out a command on a batch: decided on the newest state, durable when this returns.

        Args:
            second: from `check_second`, where somebody else with a pin signs in the command too.

        Raises:
            Refused: the state does not allow it; nothing was written.
            LedgerError: the disk does not allow it; nothing was written.
        """
        with self._shop_wide(command) as shop_turn:
            self._need_known(by)
            held = self._held_in_place(id)
            self._need_record()
            if held is None:
                raise Refused("closed", f"batch {id} is closed or not here", "choose an open batch")
            with held.book.turn() as turn:
                self._take_in(id, held, turn.news)
                context = self.context(id, by, command.at if isinstance(command, Transcribed) else None)
                if not isinstance(command, TakeIn):
                    alive(held.batch)
                drafts = command.decide(held.batch, context)
                self._need_signed(drafts, by, second, context)
                turn.need_writable()
                # The others come first: a crash in between then voids or wears too much, never too little.
                worn = context.elsewhere.worn
                self._tell_others(id, news_for(held.batch, command, drafts, worn), context)
                self._keep(shop_turn, left_behind(held.batch, command, drafts, self.people, worn), context)
                entries = turn.append(drafts, context.now, by)
            held.batch = advance(held.batch, entries)
            self._receipts.used(second)
            self._keep(shop_turn, taken_away(drafts, self.people), context)
        self._put_aside_if_closed(id)
        return entries

    def open_batch(self, command: OpenBatch, by: str, second: Receipt | None = None) -> Batch:
        """Open a batch under the id of the command, with what was done of it already.

        Raises:
            Refused, LedgerError: nothing was written.
        """
        if not self._book.in_place():
            self.refresh()
        self._need_record()
        with self._shop_wide(command):  # so that no station goes out of service unseen
            self._need_record()
            self._need_known(by)
            context = self.context(command.id, by)
            drafts = command.decide_new(context)
            self._need_signed(drafts, by, second, context)
            self._tell_others(command.id, set_up(drafts, command.id), context)
            book = self.shelf.create(command.id)
            with book.turn() as turn:
                entries = turn.append(drafts, context.now, by)
            self._receipts.used(second)
            batch = fold(entries)
            self._held[command.id] = Held(book, batch)
        return batch

    def _need_signed(self, drafts: list[Draft], by: str, second: Receipt | None, context: Context) -> None:
        """Whoever signs in these entries beside the one who enters them has given their pin."""
        for initials in signatures(drafts) - {by}:
            known = self.people.known.get(initials)
            if known is not None and known.has_pin:
                self._receipts.need(initials, second, context.now)

    def next_id(self) -> str:
        """The next free batch name: B0001, B0002 …"""
        gone = [*self.shelf.lost(), *self.shelf.lost_closed()]
        names = [*self.shelf.names(), *self.shelf.closed_names(), *gone]
        numbers = [int(match[1]) for name in names if (match := _BATCH_NAME.fullmatch(name))]
        return f"B{max(numbers, default=0) + 1:04d}"

    def context(self, id: str, by: str, then: datetime | None = None) -> Context:
        """The world as a command on this batch sees it; ``then``: of the stations, what was there at that time."""
        known = self.people.known.get(by)
        return Context(
            now=self.now(),
            by=Person(by, lead=known is not None and known.lead and not known.left),
            elsewhere=self.elsewhere(id, then),
            leads=self.people.leads,
            people=frozenset(person.initials for person in self.people.active),
        )

    def elsewhere(self, id: str, then: datetime | None = None) -> Elsewhere:
        """What the other open batches hold of the shop; or held at a time, which for a carrier counts beside now."""
        runs: dict[str, tuple[str, ...]] = {}
        places: Counter[str] = Counter()
        carriers = set()
        others = [held.batch for other, held in self._held.items()
                  if other != id and not held.batch.closed and not held.batch.gone]  # fmt: skip
        for batch in others:
            for run in batch.open_runs() if then is None else runs_then(batch, then):
                runs[run.station] = (*runs.get(run.station, ()), f"{batch.load_name(run.load)} of {batch.id}")
                places[run.station] += takes(batch, run.station, batch.loads[run.load])
            carriers |= {(load.carrier, load.carrier_number) for load in batch.live_loads()}
            carriers |= carriers_then(batch, then) if then is not None else set()
        return Elsewhere(runs, frozenset(carriers), worn_elsewhere(others, self.people),
                         dict(self.people.outages), dict(places))

    # --- people ------------------------------------------------------------------------------------------------

    def add_person(self, initials: str, name: str, lead: bool, by: str) -> Known:
        self._shop_entries(lambda: add_person(self.people, initials, name, lead, by), by)
        return self.people.known[clean(initials, 8).upper()]

    def change_person(self, initials: str, by: str, *, name: str, lead: bool, left: bool) -> None:
        self._shop_entries(lambda: change_person(self.people, initials, by, name=name, lead=lead, left=left), by)

    def set_pin(self, initials: str, pin: str, by: str) -> None:
        self._shop_entries(lambda: set_pin(self.people, initials, pin, secrets.token_bytes(16), by), by)

    def sign_in(self, initials: str, pin: str = "") -> Known:
        """The person, when the pin is right (or none is set).

        Raises:
            Refused: unknown, wrong pin, or too many wrong tries; each wrong try is on record.
        """
        outcome: list[tuple[Known, Refused | None]] = []

        def decide() -> list[Draft]:
            person, drafts, refused = sign_in(self.people, initials, pin, self.now())
            outcome.append((person, refused))
            return drafts

        self._shop_entries(decide, clean(initials, 8).upper() or "-")
        person, refused = outcome[-1]
        if refused is not None:
            raise refused
        return person

    def check_second(self, initials: str, pin: str) -> Receipt:
        """Evidence for `do` that this person, who signs as the second, has given the right pin.

        Raises:
            Refused: as `sign_in`.
        """
        return self._receipts.give(self.sign_in(initials, pin).initials, self.now())

    def _shop_entries(self, decide: Callable[[], list[Draft]], by: str) -> None:
        with self._book.turn() as turn:
            fold_people(turn.news, self.people)
            drafts = decide()
            if drafts:
                fold_people(turn.append(drafts, self.now(), by), self.people)

    # --- inside ------------------------------------------------------------------------------------------------

    @contextmanager
    def _shop_wide(self, command: Command | OpenBatch) -> Iterator[Turn | None]:
        """The turn at the shop's own book, for commands that take it."""
        if not shop_wide(command):
            fold_people(self._book.refresh(), self.people)
            yield None
            return
        with self._book.turn() as turn:
            fold_people(turn.news, self.people)
            self.refresh()
            yield turn

    def _keep(self, turn: Turn | None, drafts: list[Draft], context: Context) -> None:
        """Write into the shop's own book, within its turn."""
        if turn is not None and drafts:
            fold_people(turn.append(drafts, context.now, context.by.initials), self.people)

    def _need_record(self) -> None:
        """Nothing is decided on a record that is out of reach, or of which nobody has seen that it is another one."""
        if self.away or self.replaced:
            raise Replaced(f"{self.away or self.replaced[0]} Nothing was written.")

    def _need_known(self, by: str) -> None:
        """Every entry names a person of the shop, from the first one on."""
        known = self.people.known.get(by)
        if self.people.known and (known is None or known.left):
            raise Refused("authority", f"{by or 'nobody'} is not a person of this shop", "sign in first")

    def _held_in_place(self, id: str) -> Held | None:
        """An open batch; where another terminal closed it, or a backup came back, what is there now."""
        held = self._held.get(id)
        if held is not None and not held.book.in_place():
            self.refresh()
        return self._held.get(id)

    def _take_in(self, id: str, held: Held, news: Sequence[Entry]) -> None:
        """Entries of other terminals; one that this program does not understand puts the batch out of its reach."""
        try:
            held.batch = advance(held.batch, news)
        except Inapplicable as error:
            del self._held[id]
            self._leave_out(id, f"Batch {id} cannot be read on: {error}")
            raise Refused("unknown", f"batch {id} cannot be read on: {error}", "use the newest Floor for it") from error

    def _tell_others(self, id: str, news: list[Command], context: Context) -> None:
        """What happens at a station voids what other batches proved there too, and wears their tools."""
        with ExitStack() as turns:
            telling = []
            for other, held in list(self._held.items()) if news else ():
                if other == id or held.book.condition.kind == "read-only":
                    continue
                turn = turns.enter_context(held.book.turn())
                self._take_in(other, held, turn.news)
                telling.append((held, turn, told(held.batch, news, context)))
            for held, turn, theirs in telling:  # only when none of them refuses
                held.batch = advance(held.batch, turn.append(theirs, context.now, context.by.initials))

    def _take_in_new_books(self) -> bool:
        before, taken = set(self._out), False
        names = self.shelf.names()
        again = {name: self._out.pop(name) for name in list(self._out)
                 if name in self._held or self._out[name].busy or self._like(name) != self._out[name].like}
        for name in names:
            if name == SHOP_BOOK or name in self._held or name in self._out:
                continue
            was = again.get(name)
            try:
                book = self.shelf.open(name, patience=0.0 if was is not None and was.busy else None)
                if not book.entries:
                    if book.condition.kind != "fine":  # damaged from its first line on
                        self._leave_out(name, f"{book.condition.sentence}{_way_back(book)}")
                    continue
                batch = _read(book)
            except Busy as busy:
                if was is not None and was.busy:
                    self._out[name] = was  # said once
                else:
                    self._leave_out(name, f"Batch {name} cannot be opened: {busy}", busy=True)
                continue
            except (LedgerError, Inapplicable, ValueError, ArithmeticError) as error:
                self._leave_out(name, f"Batch {name} cannot be opened: {error}")
                continue
            if batch.id != name and (not batch.gone or book.condition.kind == "read-only"):
                self._leave_out(name, f"{name}.json in {self.shelf.folder} is the record of {batch.id}: a copy, or "
                                      "renamed. It is left out; the other batches go on. Move it out of the record "
                                      "folder, or give it back its name.")
                continue
            self._held[name] = Held(book, batch)
            self._say_condition(book)
            self._put_aside_if_closed(name)
            taken = True
        for name in self.shelf.lost():
            if name not in self._out:
                from floor.ledger.recovery import gone  # hardly ever needed

                self._leave_out(name, gone(self.shelf.place(name), self.shelf.copies))
        return taken or set(self._out) != before

    def _leave_out(self, name: str, sentence: str, *, busy: bool = False) -> None:
        self._out[name] = Out(sentence, self._like(name), busy)
        self.troubles.append(sentence)

    def _like(self, name: str) -> tuple[int, ...]:
        """What a batch's file is like; nothing where it is not there."""
        like: tuple[int, ...] = ()
        for look in (os.lstat, os.stat):
            with suppress(OSError):
                found = look(self.shelf.folder / f"{name}.json")
                like += found.st_ino, found.st_size, found.st_mode, found.st_ctime_ns
        return like

    def _put_aside_if_closed(self, id: str) -> None:
        """A closed batch leaves the folder that opening a shop reads."""
        if self._held[id].batch.closed is not None:
            del self._held[id]
            try:
                self.shelf.archive(id)
            except LedgerError as error:
                self._leave_out(id, f"Batch {id} is closed and was not put aside: {error}")

    def _say_condition(self, book: Book) -> None:
        if book.condition.kind != "fine":
            self.troubles.append(book.condition.sentence)

    def close(self) -> None:
        self.shelf.close()


def _copied(copies: Path) -> bool:
    """Whether a copy of the record holds the shop's own book."""
    return any(copies.glob(f"record-*/{SHOP_BOOK}.json"))


def _read(book: Book) -> Batch:
    """The batch of a book, with what is damaged of it.

    Raises:
        ValueError, Inapplicable: nothing of it can be read.
    """
    damage = _damage(book)
    if not book.entries and damage:
        raise ValueError(damage)
    batch = fold(book.entries)
    batch.damage = damage
    return batch


def _way_back(book: Book) -> str:
    """What to do about a book of which nothing can be read, where its condition does not say it."""
    if "floor recover" in book.condition.sentence:
        return ""
    return (f" Bring it back from a copy with floor recover {book.name} --by INITIALS, or receive the batch from "
            "another machine.")


def _damage(book: Book) -> str:
    """What is damaged of a book; one that may only be read, as the disk says, has no place where it is."""
    return book.condition.sentence if book.condition.kind == "read-only" and book.condition.place else ""
