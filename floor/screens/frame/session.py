"""What every screen works at: the shop, and who is signed in at this terminal."""

from __future__ import annotations

from dataclasses import field
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, NamedTuple

from floor.batch.command import Command, Context
from floor.batch.corrections.from_paper import Act, TranscribeAct
from floor.batch.lifecycle.half_done import PaperProof, PlacedPieces
from floor.batch.state import Batch
from floor.batch.worklist.due_task import DueTask
from floor.dataclass import dataclass
from floor.entry import Entry, Moment
from floor.screens.plan.background_plan import Planner
from floor.shop import Shop
from floor.shop.second_signature import PinToken

if TYPE_CHECKING:
    from floor.batch.quality.drifts import Drifting, DriftWatch

TICK = timedelta(seconds=0.1)
"""What was worked out within this time, and since the last entry, is not worked out again: one tick of the clock rings
and shows."""


@dataclass(frozen=True, slots=True)
class Transcription:
    """When the next act that is entered was done, by the paper; who has seen that, and the evidence of their pin."""

    at: datetime
    second: str = ""
    receipt: PinToken | None = None


class Told(NamedTuple):
    """What was told of a batch under way that was not opened."""

    rows: tuple[PlacedPieces, ...] = ()
    shown: tuple[PaperProof, ...] = ()
    at: datetime | None = None
    """As of when; None for the time at which it is told."""
    second: str = ""
    """Who saw the papers."""


@dataclass(slots=True)
class Session:
    """The shop as this terminal has it open."""

    shop: Shop
    who: str = ""
    """Initials of the person signed in; empty for nobody."""
    planner: Planner = field(default_factory=Planner)
    paper: Transcription | None = None
    typed: dict[str, dict[str, str]] = field(default_factory=dict)
    """What was typed into the form of a batch that was not opened, by the digest of its checklist."""

    told: dict[str, Told] = field(default_factory=dict)
    """By the digest of its checklist."""

    _drifts: DriftWatch | None = None
    _due: tuple[Moment, tuple[tuple[str, int], ...], list[DueTask]] | None = None

    def due(self) -> list[DueTask]:
        """What needs a person now and next, across all open batches, as of now."""
        now, entered = self.now(), tuple((batch.id, batch.seq) for batch in self.shop.batches)
        if self._due is not None:
            then, before, found = self._due
            if before == entered and then.boot == now.boot and abs(now.at - then.at) < TICK:
                return list(found)
        found = self.shop.due(now)
        self._due = now, entered, found
        return list(found)

    def find_drifts(self, batch: Batch) -> list[Drifting]:
        """The characteristics of a batch that drift, as far as measured."""
        from floor.batch.quality.drifts import DriftWatch  # the first screen asks nothing

        if self._drifts is None:
            self._drifts = DriftWatch()
        return self._drifts.find(batch)

    def sign_in(self, initials: str) -> None:
        """Work goes on in this person's name; a paper time was for the next act of whoever gave it."""
        if initials != self.who:
            self.who, self.paper = initials, None

    def sign_out(self) -> None:
        self.sign_in("")

    def now(self) -> Moment:
        return self.shop.now()

    def batch(self, id: str) -> Batch:
        return self.shop.batch(id)

    def do(self, id: str, command: Command, *seconds: PinToken) -> list[Entry]:
        """Carry out a command as the person signed in; see `Shop.do`."""
        paper, entered = self.paper, self.as_entered(command)
        if paper is None or not isinstance(entered, TranscribeAct):
            return self.shop.do(id, command, self.who, *seconds)
        signed = (*seconds, paper.receipt) if paper.receipt is not None else seconds
        entries = self.shop.do(id, entered, self.who, *signed)
        self.paper = None  # each act has its own time
        return entries

    def as_entered(self, command: Command) -> Command:
        """The command, or its entry from paper, where the next act was done earlier."""
        if self.paper is None or not isinstance(command, Act):
            return command
        return TranscribeAct(command, self.paper.at, self.paper.second)

    def context(self, id: str) -> Context:
        return self.shop.context(id, self.who)

    @property
    def is_lead(self) -> bool:
        return self.shop.may_lead(self.who)
