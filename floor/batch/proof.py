"""What was proved, how long it holds, and what is set up at a station: set-up, tools, lots."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from datetime import date, datetime
from typing import Any, Literal, NamedTuple

from floor.dataclass import dataclass


class OffsetKey(NamedTuple):
    """A work offset, probed for a load at a station."""

    gate: Literal["probed"]
    load: int
    station: str
    offset: str


class ToolKey(NamedTuple):
    """A tool in a station, whoever loaded it."""

    gate: Literal["tool loaded"]
    station: str
    tool: int


class LotKey(NamedTuple):
    """The lot of a material that is in use."""

    gate: Literal["lot recorded"]
    what: str


class RunKey(NamedTuple):
    """A line of one run."""

    gate: str
    scope: Literal["run"]
    run: int
    line: str


class SetupKey(NamedTuple):
    """A line of all runs on one set-up."""

    gate: str
    scope: Literal["setup"]
    setup: int
    line: str


class ShiftKey(NamedTuple):
    """A line of all runs of an operation in one shift."""

    gate: str
    scope: Literal["shift"]
    shift: int
    op: int
    line: str


class StationShiftKey(NamedTuple):
    """The same for an operation that several stations can do: each proves its own."""

    gate: str
    scope: Literal["shift"]
    shift: int
    op: int
    line: str
    station: str


ProofKey = OffsetKey | ToolKey | LotKey | RunKey | SetupKey | ShiftKey | StationShiftKey
"""What a proof serves; stored as a list of its fields."""


@dataclass(frozen=True, slots=True)
class LineMark:
    """What the record says of one line of a walk."""

    how: Literal["done", "skipped"]
    seq: int
    at: datetime
    by: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class Proof:
    """What proves a gate, until something voids it. Earlier attempts stay in the record."""

    seq: int
    at: datetime
    by: str
    values: dict[str, Any]
    run: int
    """The run it was recorded in (it may serve others); 0 if stated when a batch was entered late."""
    station: str
    load: int


class OffsetPlace(NamedTuple):
    """Where a carrier sits, for one operation, as work turned over is higher or lower: offsets there are alike."""

    station: str
    op: int
    carrier: str
    number: int
    offset: str


class ProbedPlace(NamedTuple):
    """The same for all batches of a part."""

    part: str
    place: OffsetPlace


class ProbedLast(NamedTuple):
    """What was probed last there."""

    at: float
    """Seconds since 1970, by the entry's clock."""
    values: dict[str, float]


class ProbedValues(NamedTuple):
    """What was probed once."""

    seq: int
    load: int
    values: dict[str, Any]


class AirReading(NamedTuple):
    """The air of the room at one moment."""

    seq: int
    at: datetime
    temperature: float
    """°C."""
    humidity: float
    """Relative, percent."""


@dataclass(frozen=True, slots=True)
class ProgramCheck:
    """What was found in the file of a set-up's program when it was last read."""

    seq: int
    at: datetime
    by: str
    file: str
    sha256: str
    faults: tuple[Any, ...]
    """Its findings (`floor.batch.gates.events.ProgramFinding`) that block the gate."""
    notes: tuple[Any, ...]
    """The other findings."""
    offsets: tuple[Any, ...]
    """The work offsets that it moves in (`floor.batch.gates.events.ProgramOffset`)."""
    seconds: float
    untimed: bool
    left_out: int


@dataclass(frozen=True, slots=True)
class VoidedProof:
    """Why a proof no longer stands."""

    why: str
    at: datetime
    seq: int
    proof: Proof | None = None
    """The proof that stood until then; None if there was none."""


@dataclass(slots=True)
class Setup:
    """A station made ready for one operation, until something else is set up there."""

    number: int
    station: str
    op: int
    at: datetime
    marks: dict[str, LineMark] = field(default_factory=dict)
    stands: bool = True
    why_not: str = ""
    instead_of: int = 0
    """The set-up there before this one; 0 for none."""
    never_made: bool = False
    """Whether its run was put back before anything was done for it, so that it took nothing down."""


@dataclass(slots=True)
class ToolState:
    """A tool in a station since it was last changed."""

    length: float | None
    since: datetime
    used: float = 0.0
    """Wear in seconds of cutting or pieces, by its card, including wear from other batches."""


@dataclass(frozen=True, slots=True)
class Lot:
    lot: str
    use_by: date | None
    seq: int
    at: datetime


@dataclass(frozen=True, slots=True)
class CorrectedLot:
    """The lot that an entry is folded with since it was corrected."""

    what: str
    was: str
    """As the entry has it."""
    lot: str
    use_by: str
    seq: int
    """The entry that corrects it."""
    by: str
    reason: str

    def __str__(self) -> str:
        return f"entered as {self.was}, corrected by {self.by}: {self.reason}"


def is_past_use_by(use_by: date | None, today: date) -> bool:
    """Whether a lot may not be used any more: it may through the whole day on its label."""
    return use_by is not None and use_by < today


def read_lot(proof: Proof) -> Lot:
    """The lot that a proof records."""
    return Lot(str(proof.values["lot"]), read_use_by_date(proof.values), proof.seq, proof.at)


def read_use_by_date(values: Mapping[str, Any]) -> date | None:
    """The last day of a lot as recorded; None if it has none."""
    return date.fromisoformat(values["use_by"]) if values.get("use_by") else None
