"""Tokens: evidence that a second person's PIN was just checked at this terminal. Never stored.

A name alone would be nobody's signature. Each who signs gives one, also who saw a paper and who signs a check on it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import field

from floor.batch.command import Refused
from floor.dataclass import dataclass
from floor.entry import Moment

GOOD_FOR = 120.0
"""Seconds in which a checked PIN must be used (shop decision: the second person is still there)."""


@dataclass(frozen=True, slots=True, eq=False)
class PinToken:
    """One checked PIN of one person. Only the shop that issued it accepts it, once."""

    initials: str
    at: Moment


@dataclass(slots=True)
class PinTokens:
    """Tokens issued and not yet used."""

    _out: list[PinToken] = field(default_factory=list)

    def give(self, initials: str, now: Moment) -> PinToken:
        receipt = PinToken(initials, now)
        self._out = [one for one in self._out if _fresh(one, now)] + [receipt]
        return receipt

    def need(self, initials: str, receipts: Iterable[PinToken], now: Moment) -> None:
        """Refuse a signature of this person without a token."""
        receipt = next((one for one in receipts if one.initials == initials), None)
        if receipt is None or not any(one is receipt for one in self._out):
            raise Refused("authority", f"{initials} has a PIN and it was not checked", f"have {initials} enter it")
        if not _fresh(receipt, now):
            raise Refused("authority", f"the PIN of {initials} was checked too long ago", f"have {initials} enter it")

    def used(self, receipts: Iterable[PinToken]) -> None:
        gone = list(receipts)
        self._out = [one for one in self._out if not any(one is other for other in gone)]


def _fresh(receipt: PinToken, now: Moment) -> bool:
    # Uptime, not the clock, which can be set. Without it a token counts as expired, never as fresh forever.
    return receipt.at.boot == now.boot and 0 <= now.up - receipt.at.up <= GOOD_FOR
