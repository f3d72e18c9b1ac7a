"""Opening a batch for an order: what is asked before, a weaker checklist, one half done, and the entry itself."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from floor.batch.gates.samples import describe_lots_before
from floor.batch.lifecycle.commands import Before, OpenBatch
from floor.batch.lifecycle.enter_half_done import EnterLate
from floor.batch.trials.pieces import format_test_pieces
from floor.checklist.model import Checklist
from floor.checklist.weakening import Weakening, describe_weakening
from floor.ledger import NameTaken
from floor.screens.forms.dialogs import ConfirmDialog
from floor.screens.forms.fields import Errors, FieldSpec, Values
from floor.screens.frame.screen import FloorScreen
from floor.screens.shop.earlier_start import EarlierStart
from floor.screens.shop.order_entry import Order
from floor.shop.checklists import ChecklistFile
from floor.shop.second_signature import PinToken
from floor.shop.weaker_checklist import find_weaker
from floor.text import capitalize_first

MOST_LOST = 8
"""Points of a weaker checklist that its form lists; the record has them all."""


class OrderOpening:
    """The way from an order to its batch, for one order form.

    The checklist is frozen into the batch as it was read.
    """

    def __init__(
        self,
        screen: FloorScreen,
        one: ChecklistFile,
        checklist: Checklist,
        earlier: EarlierStart,
        before: FloorScreen | None,
    ) -> None:
        """
        Args:
            before: the screen that the checklist was chosen on, which goes once the batch is open.
        """
        self.screen, self.one, self.checklist, self.earlier, self.before = screen, one, checklist, earlier, before
        self.session = screen.session
        self.weaker_why = ("", "")
        """Which lead opens a checklist that protects less than the last one of the part, and why."""

    def ask(self, order: Order, go: Callable[[], None]) -> None:
        """Say what is about to be opened: Enter in a field that may stay empty opens no batch by itself."""
        said = [f"{order.ordered} ordered", f"{order.start} to start"]
        said += [f"due {order.due}"] if order.due is not None else []
        said += [f"reference {order.reference.strip()}"] if order.reference.strip() else []
        said += [format_test_pieces(order.tests)] if order.tests else []
        part = self.checklist.part
        question = f"Open a batch of {part.number} {part.revision}? {', '.join(said)}."
        stricter = [one for one in self.earlier.lots_before if one.severity != "normal"]
        question += "".join(f"\n{capitalize_first(describe_lots_before(self.checklist, one))}." for one in stricter)
        before = find_weaker(self.session.shop, self.checklist)
        if before is not None:
            self._ask_why_weaker(before, self.make_command(order), question, go)
        else:
            self.screen.floor.push_screen(ConfirmDialog(question), lambda yes: go() if yes else None)

    def _ask_why_weaker(self, before: Before, command: OpenBatch, question: str, go: Callable[[], None]) -> None:
        """What this checklist lacks of the last one of the part: a lead says why it is opened all the same."""

        def attempt(given: Values) -> Errors:
            context = self.session.shop.context(command.id, self.session.who)
            replace(command, before=before, weaker_why=given["why"]).decide_new(context)
            self.weaker_why = (self.session.who, given["why"])
            return {}

        lost = [f"This checklist protects less than that of {before.batch}:", *_list_lost(before.lost)]
        lost += [f"All in all since {before.strongest}:", *_list_lost(before.earlier)] if before.earlier else []
        text = "\n".join([*lost, question])
        fields = [FieldSpec("why", "Why (a lead)", needed=True)]
        self.screen.ask_form("A weaker checklist", fields, attempt, go, text, "why")

    def enter_half_done(self, order: Order) -> None:
        """Have it entered where everything is, then open it."""
        from floor.screens.batch.half_done import HalfDoneScreen  # most batches are opened new

        command = self.make_command(order)

        def tell() -> None:
            def open_(late: EnterLate, tokens: tuple[PinToken, ...]) -> None:
                self.open(order, late, tokens)

            self.screen.floor.go(HalfDoneScreen(self.session, command, open_))

        before = find_weaker(self.session.shop, self.checklist)
        if before is not None:
            self._ask_why_weaker(before, command, "It is under way already.", tell)
        else:
            tell()

    def make_command(self, order: Order, late: EnterLate | None = None) -> OpenBatch:
        """What opens it; the reason for a weaker checklist is that of the lead who gave it."""
        lead, why = self.weaker_why
        return OpenBatch(
            self.session.shop.find_next_id(),
            self.checklist,
            self.one.digest,
            self.one.name,
            order.ordered,
            order.start,
            order.due,
            order.reference,
            late,
            weaker_why=why if lead == self.session.who else "",
            earlier=self.earlier.told,
            tests=order.tests,
            lots_before=self.earlier.lots_before,
        )

    def open(self, order: Order, late: EnterLate | None = None, tokens: tuple[PinToken, ...] = ()) -> None:
        """Record it, and go to the batch."""
        while True:
            command = self.make_command(order, late)
            try:
                self.session.shop.open_batch(command, self.session.who, *tokens)
                break
            except NameTaken:  # another terminal opened a batch this very moment
                continue
        self.session.typed.pop(self.one.digest, None)
        floor = self.screen.floor
        told = floor.screen
        if late is not None and isinstance(told, FloorScreen):
            floor.leave(told)
        floor.leave(self.screen)
        if self.before is not None:
            floor.leave(self.before)
        floor.go_batch(command.id)


def _list_lost(lost: Sequence[Weakening]) -> list[str]:
    """What a weaker checklist lacks, in words; of many the first ones."""
    said = [describe_weakening(*one) for one in lost[:MOST_LOST]]
    return said + ([f"and {len(lost) - MOST_LOST} more"] if len(lost) > MOST_LOST else [])
