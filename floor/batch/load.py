"""Where each piece is, and the loads that carry them."""

from __future__ import annotations

from dataclasses import field
from datetime import datetime
from typing import Literal

from floor.dataclass import dataclass

Where = Literal["waiting", "load", "hold", "spare", "stopped", "trial", "scrap", "regraded", "returned", "finished"]
LOST: tuple[Where, ...] = ("scrap", "regraded", "returned")
"""Where a nonconforming piece ends that never fills the order."""


@dataclass(frozen=True, slots=True)
class PiecePlace:
    """Where a piece is: always in exactly one place."""

    where: Where
    op: int = 0
    """waiting: the operation it waits for. hold and where it is lost: the operation where it was found.
    spare, stopped, trial: the operation that it would go through next."""
    load: int = 0
    """load: the load it rides on. hold, spare, stopped, trial: the load it was taken from, 0 for none."""
    reason: str = ""
    rework: str = ""
    """waiting, spare, stopped, trial: the rework that keeps it apart. hold: the rework it was sent to, not started."""
    seq: int = 0
    """The entry that put it there."""
    sits: bool = False
    """hold, scrap: it is still in its place on the carrier of its load, which holds it fast."""
    off: bool = False
    """hold: it came off that carrier and must be loaded again to go on."""
    on: str = ""
    """hold: the rework it has started and will continue."""

    @property
    def heap(self) -> str:
        """Key of the heap it is counted with at a handover; empty if it is no longer counted."""
        if self.sits:
            return f"load {self.load}"
        heaps = {"load": f"load {self.load}", "waiting": f"waiting {self.op} {self.rework}".strip()}
        return heaps.get(self.where, self.where if self.where in ("hold", "spare") else "")


@dataclass(slots=True)
class Detour:
    """Some pieces of a load go back by themselves while the load stays on its carrier."""

    rework: str
    """The rework route; empty if they make up for operations the load passed while they were held."""
    pieces: frozenset[int]
    found: int
    """The operation that found them; after it, the load is together again."""
    at: int | None
    """The operation they go to next; None when finished."""


@dataclass(slots=True)
class Load:
    """Pieces riding together on one carrier, from where it is loaded to where it is emptied."""

    number: int
    carrier: str
    carrier_number: int
    slots: tuple[int | None, ...]
    """The piece in each place of the carrier; without places, just the pieces."""
    first_op: int
    next_op: int | None
    """The operation the whole load is in or goes to next; None when its leg is finished."""
    formed: datetime
    seq: int
    rework: str = ""
    placed: bool = False
    """Whether somebody named the piece in each place; otherwise that rests on the order of loading."""
    ahead: int | None = None
    """The operation of the run under way, if that is done before its turn."""
    early: frozenset[int] = frozenset()
    """Operations that it passed before their turn and has not come to since."""
    made_of: frozenset[int] = frozenset()
    """The earlier loads that its pieces rode on, where they were moved by hand between two runs."""
    run: int | None = None
    """The run under way."""
    detours: list[Detour] = field(default_factory=list)
    behind: list[Detour] = field(default_factory=list)
    """Detours that start when the run under way is released."""
    dissolved: datetime | None = None

    @property
    def at(self) -> int | None:
        """The operation it is in or goes to next, a detour included."""
        return self.detours[-1].at if self.detours else self.ahead or self.next_op

    @property
    def pieces(self) -> tuple[int, ...]:
        """Every piece that was put on it."""
        return tuple(piece for piece in self.slots if piece is not None)


def format_heap(key: str) -> str:
    """The key of a heap in words: ``load 3``, ``waiting for op 60``, ``on hold``."""
    kind, _, of = key.partition(" ")
    op, _, rework = of.partition(" ")
    waiting = f"waiting for op {op}{' in rework' if rework else ''}"
    return {"waiting": waiting, "hold": "on hold", "spare": "kept as spares"}.get(kind, key)
