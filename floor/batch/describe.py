"""An entry in words: where it was made, what it says, whether it stands.

The words for each kind are with its subject (`describe` there).
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from floor.batch.corrections import describe as corrections
from floor.batch.counting import describe as counting
from floor.batch.describe_registry import DESCRIBED, format_line_title
from floor.batch.events import (
    EnteredLate,
    Event,
    NewerEvent,
    Proved,
    RunBegun,
    read_event,
    read_if_kind,
)
from floor.batch.gates import describe as gates
from floor.batch.gates.check_values import format_values
from floor.batch.gates.describe import format_proof_remarks, format_proof_values
from floor.batch.gates.fold_lots import correct_lot
from floor.batch.gates.proof_remarks import describe_proof_remarks
from floor.batch.handover import describe as handover
from floor.batch.lifecycle import describe as lifecycle
from floor.batch.moving import describe as moving
from floor.batch.state import Batch
from floor.batch.stations import describe as stations
from floor.batch.trials import describe as trials
from floor.batch.walk import describe as walk
from floor.dataclass import dataclass
from floor.entry import Entry, parse_wall
from floor.text import format_clock, format_wall_clock, name_pieces

DESCRIBED_BY = (corrections, counting, gates, handover, lifecycle, moving, stations, trials, walk)
"""The modules that fill the table of describers."""


@dataclass(frozen=True, slots=True)
class Description:
    """What an entry says, in parts, so that no code has to take a sentence apart."""

    at: str
    """The load and operation of its run; empty if it has none, or names them itself."""
    what: str
    paper: str = ""
    """For an entry from paper: both times, and who saw the paper."""
    struck: int | None = None
    """The entry that struck it out."""

    @property
    def here(self) -> str:
        """For a reader who already sees where it was and whether it stands."""
        return f"{self.what} ({self.paper})" if self.paper else self.what

    @property
    def without_strike(self) -> str:
        """Without the mark of a struck entry, for a reader who sees that in another way."""
        return f"{self.at}: {self.here}" if self.at else self.here

    def __str__(self) -> str:
        return f"{self.without_strike} (struck out)" if self.struck is not None else self.without_strike


def describe(batch: Batch, entry: Entry) -> str:
    """What the entry says, in the shop's words, without who and when."""
    return str(describe_parts(batch, entry))


def describe_parts(batch: Batch, entry: Entry) -> Description:
    """The same, in its parts."""
    corrected, body = batch.corrected_lots.get(entry.seq), entry.body
    event = correct_lot(read_event(entry), corrected)
    paper = ""
    if "acted" in body and not isinstance(event, EnteredLate):
        done, entered = (format_wall_clock(at, entry.time.date()) for at in (entry.done, entry.time))
        seen = f", {body['seen_by']} saw it" if body.get("seen_by") else ""
        paper = f"from paper: done {done}, entered {entered}{seen}"
    what = _say(batch, event) + (f" ({corrected})" if corrected is not None else "")
    if good := batch.corrected_counts.get(entry.seq):
        what += f" (corrected: {name_pieces(good)} not scrap after all)"
    return Description(_at(batch, event), what, paper, batch.struck.get(entry.seq))


def _say(batch: Batch, event: Event) -> str:
    if isinstance(event, NewerEvent):
        return f"{event.kind.replace('_', ' ')}, which a newer version of Floor entered"
    return DESCRIBED[type(event)](batch, event)


def describe_proof(batch: Batch, entry: Entry) -> str:
    """A proof in a list of its run's proofs: title and values; nothing for a bare confirmation."""
    proved, said = read_if_kind(entry, Proved), describe_parts(batch, entry)
    if proved is None or said.paper or format_proof_values(batch, proved) or format_proof_remarks(batch, proved):
        return said.here
    return replace(said, what=format_line_title(batch, proved, proved.line)).here


def _at(batch: Batch, event: Event) -> str:
    """Where it was; the start of a run names that itself."""
    run = batch.runs.get(event.first_run)
    return f"load {run.load}, op {run.op}" if run and not isinstance(event, RunBegun) else ""


def list_late_proofs(batch: Batch, now: datetime) -> list[str]:
    """The proofs stated when a batch was entered late: by whom and when."""
    late = (read_if_kind(entry, EnteredLate) for entry in batch.entries if entry.seq not in batch.struck)
    found = []
    for one in (proof for event in late if event is not None for proof in event.proofs):
        gate = batch.operation(one.op).gate(one.line)
        assert gate is not None, "checked when it was entered"
        when = format_clock(parse_wall(one.at, now), now)
        values = format_values(gate.asks(), one.values) or "confirmed"
        remarks = describe_proof_remarks(batch, one.op, gate, one.values)
        found.append(f"op {one.op} {gate.title()}: {values}{remarks} · {one.by} {when}")
    return found
