"""The shop's registers: its people with PINs and qualifications, and its gauges; each change is an entry of its own."""

from __future__ import annotations

import secrets
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from floor.batch.command import Refused, lack_pin_given
from floor.batch.gates.suspect_gauges import list_checks_with
from floor.batch.gauge import Gauge
from floor.entry import Draft
from floor.shop.clock import Clock, read_clock
from floor.shop.gauge_register import (
    NO,
    draft_gauge,
    draft_gauge_change,
    draft_gauge_return,
    require_gauge,
)
from floor.shop.open_batches import OpenBatches
from floor.shop.qualifications import draft_qualification, draft_qualification_withdrawal
from floor.shop.second_signature import PinToken, PinTokens
from floor.shop.shop_record import (
    ShopPerson,
    ShopRecord,
    draft_person,
    draft_person_change,
    draft_pin,
    draft_sign_in,
    fold_shop_record,
    lack_pin,
    require_person,
)
from floor.text import sanitize

if TYPE_CHECKING:
    from floor.shop.approvals import Approvals
    from floor.shop.checklists import ChecklistFile


class Registers(OpenBatches):
    """A shop folder open in this terminal, with who works there and what they measure with."""

    def __init__(self, folder: Path | str, clock: Clock = read_clock) -> None:
        """Open the folder, creating it if missing. Raises like `OpenBatches`."""
        self._receipts = PinTokens()
        self._given: dict[str, str] = {}
        """Initials → hash of the PIN that they gave at this terminal."""
        super().__init__(folder, clock)

    # --- people ------------------------------------------------------------------------------------------------

    def may_lead(self, initials: str) -> bool:
        """Whether this person decides as a lead at this terminal: by the PIN that they gave here.

        As long as nobody in the shop has a PIN, as on its first day, a lead needs none.
        """
        person = self.people.known.get(initials)
        if person is None or person.left or not person.lead:
            return False
        return self._has_given(person) if person.has_pin else not self.people.has_pins

    def add_person(self, initials: str, name: str, lead: bool, by: str, pin: str = "") -> ShopPerson:
        def decide() -> list[Draft]:
            self._need_pin_given(by, "adding a person")
            return draft_person(self.people, initials, name, lead, by, pin, secrets.token_bytes(16))

        self._shop_entries(decide, by)
        person = self.people.known[sanitize(initials, 8).upper()]
        self._note_given(person, by)
        return person

    def change_person(self, initials: str, by: str, *, name: str, lead: bool, left: bool) -> None:
        def decide() -> list[Draft]:
            self._need_pin_given(by, "changing a person")
            return draft_person_change(self.people, initials, by, name=name, lead=lead, left=left)

        self._shop_entries(decide, by)

    def set_pin(self, initials: str, pin: str, by: str, *, first: bool = False) -> None:
        """Set a PIN; ``first``: only if there is none yet."""
        owner = sanitize(initials, 8).upper()

        def decide() -> list[Draft]:
            person = self.people.known.get(owner)
            if by != owner:
                self._need_pin_given(by, f"setting the PIN of {owner}")
            elif not first and person is not None and person.has_pin and not self._has_given(person):
                raise lack_pin_given(by, "a new PIN")  # signed in before a lead set the one of now
            return draft_pin(self.people, initials, pin, secrets.token_bytes(16), by, first=first)

        self._shop_entries(decide, by)
        self._note_given(self.people.known[owner], by)

    def sign_in(self, initials: str, pin: str = "") -> ShopPerson:
        """The person, if the PIN is right (or none is set).

        Raises:
            Refused: unknown, wrong PIN, or too many wrong tries; each wrong try is recorded. A lead without a PIN,
                unless nobody has one; anybody without one, where everyone needs it.
        """
        person = self._check_pin(initials, pin)
        self._note_given(person, person.initials)
        return person

    def _check_pin(self, initials: str, pin: str) -> ShopPerson:
        outcome: list[tuple[ShopPerson, Refused | None]] = []

        def decide() -> list[Draft]:
            person, drafts, refused = draft_sign_in(
                self.people, initials, pin, self.now(), everyone=self.pin_for_everyone
            )
            outcome.append((person, refused))
            return drafts

        self._shop_entries(decide, sanitize(initials, 8).upper() or "-")
        person, refused = outcome[-1]
        if refused is not None:
            raise refused
        return person

    def asks_pin(self, person: ShopPerson) -> bool:
        """Whether this person signs in by a PIN, and chooses one first if they have none."""
        return person.has_pin or person.lead or self.pin_for_everyone

    def check_second(self, initials: str, pin: str) -> PinToken:
        """Token for `do` that this person, signing second, gave the right PIN.

        Whoever signs second by signing in has a PIN too, or signing in would be the way around this.

        Raises:
            Refused: as `sign_in`, or the person has no PIN, though others have.
        """
        person = self._check_pin(initials, pin)
        if not person.has_pin and self.people.has_pins:
            raise lack_pin(person)
        return self._receipts.give(person.initials, self.now())

    def _note_given(self, person: ShopPerson, by: str) -> None:
        """Whose PIN was typed here by its owner."""
        if by == person.initials and person.has_pin:
            self._given[by] = person.hash

    def _has_given(self, person: ShopPerson) -> bool:
        """Whether this person gave here the PIN that they have now."""
        return self._given.get(person.initials) == person.hash

    def _need_pin_given(self, by: str, what: str) -> None:
        if by in self.people.leads and not self.may_lead(by):
            raise lack_pin_given(by, what)

    def _shop_entries(self, decide: Callable[[], list[Draft]], by: str) -> None:
        with self._journal.turn() as turn:
            fold_shop_record(turn.news, self.people)
            drafts = decide()
            if drafts:
                fold_shop_record(turn.append(drafts, self.now(), by), self.people)

    # --- gauges ------------------------------------------------------------------------------------------------

    def add_gauge(self, serial: str, name: str, due: str, by: str, calibrated: str = NO) -> Gauge:
        """``due`` is an ISO date; ``calibrated`` too, or `NO` if nobody knows."""
        self._register_entries(
            lambda known, now: draft_gauge(known.gauges, known.leads, serial, name, due, calibrated, by, now), by
        )
        return require_gauge(self.people.gauges, serial)

    def change_gauge(self, serial: str, name: str, due: str, by: str, calibrated: str = "") -> None:
        """``calibrated`` is an ISO date, or `NO`; it must be given with another due date."""
        self._register_entries(
            lambda known, now: draft_gauge_change(known.gauges, known.leads, serial, name, due, calibrated, by, now), by
        )

    def count_gauge_checks(self, gauge: Gauge) -> dict[str, int]:
        """Open batch → how many of its checks used a gauge since its last good check; those without are left out."""
        found = {batch.id: len(list_checks_with(batch, gauge.serial, gauge.checked)) for batch in self.batches}
        return {id: many for id, many in found.items() if many}

    def return_gauge(self, serial: str, due: str, reason: str, by: str) -> None:
        self._register_entries(
            lambda known, now: draft_gauge_return(known.gauges, known.leads, serial, due, reason, by, now), by
        )

    # --- qualifications ------------------------------------------------------------------------------------------

    def enter_qualification(self, initials: str, what: str, since: str, until: str, by: str) -> None:
        """Enter or renew it; ``since`` and ``until`` are ISO dates, both included."""
        self._register_entries(
            lambda known, now: draft_qualification(
                known.leads, require_person(known, initials).initials, what, since, until, by, now
            ),
            by,
            "changing the register of qualifications",
        )

    def withdraw_qualification(self, initials: str, what: str, reason: str, by: str) -> None:
        self._register_entries(
            lambda known, now: draft_qualification_withdrawal(known.qualified, known.leads, initials, what, reason, by),
            by,
            "changing the register of qualifications",
        )

    def _register_entries(
        self,
        draft: Callable[[ShopRecord, datetime], list[Draft]],
        by: str,
        what: str = "changing the register of gauges",
    ) -> None:
        def decide() -> list[Draft]:
            self._need_known(by)
            self._need_pin_given(by, what)
            return draft(self.people, self.now().at)

        self._shop_entries(decide, by)

    # --- checklists ------------------------------------------------------------------------------------------------

    @property
    def approvals(self) -> Approvals:
        """Which checklists the leads approved."""
        from floor.shop.approvals import list_approvals  # few terminals open a batch

        return list_approvals(self._journal.entries)

    def approve_checklist(self, file: ChecklistFile, by: str) -> None:
        """Approve the content of a checklist's file, as it was read, for work on its part."""
        from floor.shop.approvals import draft_approval

        self._register_entries(
            lambda known, now: draft_approval(self.approvals, file, known.leads, by), by, "approving a checklist"
        )

    # --- inside ----------------------------------------------------------------------------------------------------

    def _need_known(self, by: str) -> None:
        """Every entry names a person of the shop, from the first one on; by their PIN where everyone needs one."""
        known = self.people.known.get(by)
        if self.people.known and (known is None or known.left):
            raise Refused("authority", f"{by or 'nobody'} is not a person of this shop", "sign in first")
        if self.pin_for_everyone and known is not None and not (known.has_pin and self._has_given(known)):
            raise lack_pin_given(by, "work in this shop") if known.has_pin else lack_pin(known)
