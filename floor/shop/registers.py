"""The shop's registers: its people with their PINs, and its gauges; each change is an entry in its own record."""

from __future__ import annotations

import secrets
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from floor.batch.command import Refused
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
from floor.shop.second_signature import PinToken, PinTokens
from floor.shop.shop_record import (
    ShopPerson,
    ShopRecord,
    draft_person,
    draft_person_change,
    draft_pin,
    draft_sign_in,
    fold_shop_record,
)
from floor.text import sanitize


class Registers(OpenBatches):
    """A shop folder open in this terminal, with who works there and what they measure with."""

    def __init__(self, folder: Path | str, clock: Clock = read_clock) -> None:
        """Open the folder, creating it if missing. Raises like `OpenBatches`."""
        self._receipts = PinTokens()
        super().__init__(folder, clock)

    # --- people ------------------------------------------------------------------------------------------------

    def add_person(self, initials: str, name: str, lead: bool, by: str) -> ShopPerson:
        self._shop_entries(lambda: draft_person(self.people, initials, name, lead, by), by)
        return self.people.known[sanitize(initials, 8).upper()]

    def change_person(self, initials: str, by: str, *, name: str, lead: bool, left: bool) -> None:
        self._shop_entries(lambda: draft_person_change(self.people, initials, by, name=name, lead=lead, left=left), by)

    def set_pin(self, initials: str, pin: str, by: str) -> None:
        self._shop_entries(lambda: draft_pin(self.people, initials, pin, secrets.token_bytes(16), by), by)

    def sign_in(self, initials: str, pin: str = "") -> ShopPerson:
        """The person, if the PIN is right (or none is set).

        Raises:
            Refused: unknown, wrong PIN, or too many wrong tries; each wrong try is recorded.
        """
        outcome: list[tuple[ShopPerson, Refused | None]] = []

        def decide() -> list[Draft]:
            person, drafts, refused = draft_sign_in(self.people, initials, pin, self.now())
            outcome.append((person, refused))
            return drafts

        self._shop_entries(decide, sanitize(initials, 8).upper() or "-")
        person, refused = outcome[-1]
        if refused is not None:
            raise refused
        return person

    def check_second(self, initials: str, pin: str) -> PinToken:
        """Token for `do` that this person, signing second, gave the right PIN.

        Raises:
            Refused: as `sign_in`, or the person has no PIN yet.
        """
        person = self.sign_in(initials, pin)
        if not person.has_pin:
            remedy = "they or a lead set one (p on What next)"
            raise Refused("authority", f"{person.initials} has no PIN to sign with", remedy, field="pin")
        return self._receipts.give(person.initials, self.now())

    def _shop_entries(self, decide: Callable[[], list[Draft]], by: str) -> None:
        with self._journal.turn() as turn:
            fold_shop_record(turn.news, self.people)
            drafts = decide()
            if drafts:
                fold_shop_record(turn.append(drafts, self.now(), by), self.people)

    # --- gauges ------------------------------------------------------------------------------------------------

    def add_gauge(self, serial: str, name: str, due: str, by: str, calibrated: str = NO) -> Gauge:
        """``due`` is an ISO date; ``calibrated`` too, or `NO` if nobody knows."""
        self._gauge_entries(
            lambda known, now: draft_gauge(known.gauges, known.leads, serial, name, due, calibrated, by, now), by
        )
        return require_gauge(self.people.gauges, serial)

    def change_gauge(self, serial: str, name: str, due: str, by: str, calibrated: str = "") -> None:
        """``calibrated`` is an ISO date, or `NO`; it must be given with another due date."""
        self._gauge_entries(
            lambda known, now: draft_gauge_change(known.gauges, known.leads, serial, name, due, calibrated, by, now), by
        )

    def count_gauge_checks(self, gauge: Gauge) -> dict[str, int]:
        """Open batch → how many of its checks used a gauge since its last good check; those without are left out."""
        found = {batch.id: len(list_checks_with(batch, gauge.serial, gauge.checked)) for batch in self.batches}
        return {id: many for id, many in found.items() if many}

    def return_gauge(self, serial: str, due: str, reason: str, by: str) -> None:
        self._gauge_entries(
            lambda known, now: draft_gauge_return(known.gauges, known.leads, serial, due, reason, by, now), by
        )

    def _gauge_entries(self, draft: Callable[[ShopRecord, datetime], list[Draft]], by: str) -> None:
        def decide() -> list[Draft]:
            self._need_known(by)
            return draft(self.people, self.now().at)

        self._shop_entries(decide, by)

    # --- inside ----------------------------------------------------------------------------------------------------

    def _need_known(self, by: str) -> None:
        """Every entry names a person of the shop, from the first one on."""
        known = self.people.known.get(by)
        if self.people.known and (known is None or known.left):
            raise Refused("authority", f"{by or 'nobody'} is not a person of this shop", "sign in first")
