"""One shop: its people, its open batches, and the only way a command becomes durable entries.

A command is decided inside the journal's turn, on the newest state: what other terminals just wrote is read first. The
state here changes only once the entries are on the disk.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING

from floor.batch.command import Command, Context, OtherBatches, Person, Refused, refuse_closed_batch
from floor.batch.corrections.from_paper import TranscribeAct
from floor.batch.events import make_drafts
from floor.batch.fold import advance, fold
from floor.batch.gates.verifiers import list_signatures
from floor.batch.gauge import Gauge
from floor.batch.lifecycle.commands import OpenBatch
from floor.batch.lifecycle.transfer import TakeInBatch
from floor.batch.state import Batch
from floor.batch.worklist.due_task import DueTask
from floor.batch.worklist.tasks import list_due_tasks
from floor.entry import Draft, Entry, Moment
from floor.ledger import JournalWriter, LedgerError
from floor.shop.closed_gauge_uses import ClosedUses, choose_uses, may_name, name_closed_batches
from floor.shop.effects_on_other_batches import (
    draft_effects,
    draft_shop_entries,
    draft_tool_changes,
    find_effects,
    find_setup_effects,
    is_shop_wide,
)
from floor.shop.events import PartOpened
from floor.shop.gauge_register import draft_gauge_suspicion, draft_gauge_withdrawal, find_suspect_reports
from floor.shop.open_batches import LoadedBatch
from floor.shop.other_batches import gather_other_batches
from floor.shop.registers import Registers
from floor.shop.second_signature import PinToken
from floor.shop.shop_record import fold_shop_record, lack_pin

if TYPE_CHECKING:
    from floor.checklist.patching import Change
    from floor.shop.lessons import LessonFile

_BATCH_NAME = re.compile(r"B(\d{4,})")


class Shop(Registers):
    """A shop folder open in this terminal, and what to do in it."""

    def due(self, now: Moment | None = None) -> list[DueTask]:
        """What needs a person now and next, across all open batches."""
        return list_due_tasks(self.batches, now or self.now(), {id: self.elsewhere(id) for id in self._held})

    def do(self, id: str, command: Command, by: str, *seconds: PinToken) -> list[Entry]:
        """Carry out a command on a batch: decided on the newest state, durable on return.

        Args:
            seconds: from `check_second`, one for each other person who also signs in the command.

        Raises:
            Refused: the state does not allow it; nothing was written, or only that it was refused.
            LedgerError: the disk does not allow it; nothing was written.
        """
        with self._shop_wide(command, id) as shop_turn:
            self._need_known(by)
            held = self._held_in_place(id)
            self._need_record()
            if held is None:
                raise Refused("closed", f"batch {id} is closed or not here", "choose an open batch")
            with held.journal.turn() as turn:
                self._take_in(id, held, turn.news)
                context = self.context(id, by, command.at if isinstance(command, TranscribeAct) else None)
                if not isinstance(command, TakeInBatch):
                    refuse_closed_batch(held.batch)
                try:
                    drafts = command.decide(held.batch, context)
                except Refused as refused:
                    if refused.attempt is not None:
                        try:
                            entries = turn.append(make_drafts(refused.attempt), context.now, by)
                            held.batch = advance(held.batch, entries)
                        except LedgerError as error:  # why it is refused comes before a full disk
                            self.troubles.append(str(error))
                    raise
                self._need_signed(held.batch, drafts, by, seconds, context)
                turn.need_writable()
                # Others first: a crash in between then voids or wears too much, never too little.
                worn = context.elsewhere.worn
                self._tell_others(id, find_effects(held.batch, command, drafts, worn), context)
                self._keep(shop_turn, draft_shop_entries(held.batch, command, drafts, self.people, worn), context)
                entries = turn.append(drafts, context.now, by)
            held.batch = advance(held.batch, entries)
            self._receipts.used(seconds)
            self._keep(shop_turn, draft_tool_changes(drafts, self.people), context)
        self._put_aside_if_closed(id)
        return entries

    def open_batch(self, command: OpenBatch, by: str, *seconds: PinToken) -> Batch:
        """Open a batch under the command's id, with the work already done.

        Raises:
            Refused, LedgerError: nothing was written.
        """
        from floor.shop.approvals import judge_approval  # few terminals open a batch
        from floor.shop.weaker_checklist import compare_with_earlier

        with self._shop_wide(command, command.id) as shop_turn:  # so no station goes out of service unseen
            self._need_known(by)
            context = self.context(command.id, by)
            before, strongest = compare_with_earlier(self, command.checklist)
            command = replace(command, before=before)
            command = judge_approval(self.approvals, command, approved_only=self.approved_checklists_only)
            drafts = command.decide_new(context)
            self._need_signed(None, drafts, by, seconds, context)
            self._tell_others(command.id, find_setup_effects(drafts, command.id), context)
            journal = self.journals.create(command.id)
            with journal.turn() as turn:
                entries = turn.append(drafts, context.now, by)
            newest = PartOpened(part=command.checklist.part.number, batch=command.id, strongest=strongest)
            self._keep(shop_turn, make_drafts(newest), context)
            self._receipts.used(seconds)
            batch = fold(entries)
            self._held[command.id] = LoadedBatch(journal, batch)
        return batch

    def find_closed_uses(self, serial: str) -> ClosedUses:
        """The closed batches that a gauge may have measured: seconds of work where there are many, in any thread."""
        from floor.shop.closed_summaries import read_closed  # only a suspect gauge asks for closed batches

        names = self.closed()
        return ClosedUses(
            frozenset(names), choose_uses(read_closed(self.folder, names, lambda raw: may_name(raw, serial)), serial)
        )

    def withdraw_gauge(
        self, serial: str, reason: str, suspect: bool, by: str, closed: ClosedUses | None = None
    ) -> None:
        """Take a gauge out of use.

        Args:
            suspect: its readings since its last good check are; each open batch that has some is told, and the register
                names each closed one.
            closed: from `find_closed_uses`, if somebody has looked already.
        """
        if closed is None:
            closed = self.find_closed_uses(serial) if suspect else ClosedUses()
        self._tell_of_gauge(lambda gauges, now: draft_gauge_withdrawal(gauges, serial, reason, suspect), by, closed)

    def call_gauge_suspect(
        self, serial: str, reason: str, since: str, by: str, closed: ClosedUses | None = None
    ) -> None:
        """Call the readings of a withdrawn gauge suspect; each open batch that has some is told, each closed one named.

        Args:
            since: ISO date of its last good check, or "n" if nobody knows.
            closed: from `find_closed_uses`, if somebody has looked already.
        """
        if closed is None:
            closed = self.find_closed_uses(serial)
        self._tell_of_gauge(lambda gauges, now: draft_gauge_suspicion(gauges, serial, reason, since, now), by, closed)

    def take_lessons(self, id: str, changes: Sequence[Change], by: str) -> LessonFile:
        """Write what a batch taught into its checklist's file; open batches keep the checklist they were opened with.

        On record first: a file that has changed without anybody's name would be worse than a name without a change,
        and that shows, as the file then still says what it did.

        Raises:
            Refused, LedgerError: nothing was written.
        """
        from floor.shop.lessons import make_lesson_taken, prepare_patch  # few batches teach anything

        batch = self.batch(id)
        with self._journal.turn() as turn:
            fold_shop_record(turn.news, self.people)
            self._need_record()
            self._need_known(by)
            context = self.context(id, by)
            context.need_lead("taking a lesson into a checklist")
            with prepare_patch(self.folder, batch, changes) as patch:
                turn.need_writable()
                patch.need_unchanged()
                self._keep(turn, make_drafts(make_lesson_taken(batch, patch.file, changes)), context)
                patch.place()
        return patch.file

    def find_next_id(self) -> str:
        """The next free batch name: B0001, B0002 …"""
        gone = [*self.journals.lost(), *self.journals.lost_closed()]
        names = [*self.journals.names(), *self.journals.closed_names(), *gone, *self.people.opened]
        numbers = [int(match[1]) for name in names if (match := _BATCH_NAME.fullmatch(name))]
        return f"B{max(numbers, default=0) + 1:04d}"

    def context(self, id: str, by: str, then: datetime | None = None) -> Context:
        """The world as a command on this batch sees it; ``then`` is a past time for what was at the stations."""
        return Context(
            now=self.now(),
            by=Person(by, lead=self.may_lead(by)),
            elsewhere=self.elsewhere(id, then),
            leads=self.people.leads,
            people=frozenset(person.initials for person in self.people.active),
        )

    def elsewhere(self, id: str, then: datetime | None = None) -> OtherBatches:
        """What other open batches occupy, now or at a past time; for a carrier both count."""
        others = [
            held.batch
            for other, held in self._held.items()
            if other != id and not held.batch.closed and not held.batch.gone
        ]
        return gather_other_batches(
            others, self.people, self.registered_gauges_only, self.long_shift_hours, self.handover_questions, then
        )

    # --- inside ------------------------------------------------------------------------------------------------

    def _tell_of_gauge(
        self, draft: Callable[[dict[str, Gauge], datetime], list[Draft]], by: str, known: ClosedUses
    ) -> None:
        """Write an entry about a gauge; the batches that must know are told before.

        Args:
            known: the closed batches that it may have measured, looked up before the turn, as they are many and never
                change; those closed since are read within it.
        """
        from floor.shop.closed_summaries import read_closed

        with self._journal.turn() as turn:
            fold_shop_record(turn.news, self.people)
            self.refresh()
            self._need_record()
            self._need_known(by)
            gauges, context = self.people.gauges, self.context("", by)
            drafts = draft(gauges, context.now.at)
            reports = find_suspect_reports(gauges, drafts, context.now.at)
            if reports:
                closed = [*known.batches, *read_closed(self.folder, sorted({*self.closed()} - known.looked_at))]
                closed += [(batch.id, batch) for batch in self.batches if batch.gone]
                drafts = name_closed_batches(drafts, reports, closed)
            self._tell_others("", reports, context)
            self._keep(turn, drafts, context)

    @contextmanager
    def _shop_wide(self, command: Command | OpenBatch, id: str) -> Iterator[JournalWriter | None]:
        """The turn at the shop's own journal, for commands that take it.

        Raises:
            Replaced: the record is out of reach, or another one.
        """
        if not self._journal.in_place():
            self.refresh()
        self._need_record()
        held = self._held.get(id)
        if not is_shop_wide(command, held.batch if held is not None else None):
            fold_shop_record(self._journal.refresh(), self.people)
            yield None
            return
        with self._journal.turn() as turn:
            fold_shop_record(turn.news, self.people)
            self.refresh()
            self._need_record()
            yield turn

    def _keep(self, turn: JournalWriter | None, drafts: list[Draft], context: Context) -> None:
        """Write into the shop's own journal, within its turn."""
        if turn is not None and drafts:
            fold_shop_record(turn.append(drafts, context.now, context.by.initials), self.people)

    def _tell_others(self, id: str, news: Sequence[Command], context: Context) -> None:
        """An event at a station also voids what other batches proved there, and wears their tools."""
        with ExitStack() as turns:
            telling = []
            for other, held in list(self._held.items()) if news else ():
                if other == id or held.journal.condition.kind == "read-only":
                    continue
                turn = turns.enter_context(held.journal.turn())
                self._take_in(other, held, turn.news)
                telling.append((held, turn, draft_effects(held.batch, news, context)))
            for held, turn, theirs in telling:  # only if none of them refuses
                held.batch = advance(held.batch, turn.append(theirs, context.now, context.by.initials))

    def _need_signed(
        self, batch: Batch | None, drafts: list[Draft], by: str, seconds: Sequence[PinToken], context: Context
    ) -> None:
        """Whoever signs in these entries has given their PIN, here or to sign in, unless nobody in the shop has one."""
        for initials in sorted(list_signatures(batch, drafts, by)) if self.people.has_pins else ():
            known = self.people.known.get(initials)
            if known is not None and not known.has_pin:
                raise lack_pin(known)
            if initials != by:
                self._receipts.need(initials, seconds, context.now)
