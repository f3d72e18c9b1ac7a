"""The pieces of each run of an operation, and which of them its work spoiled.

A loss is looked at where it was caused, among all pieces that came through the count that can find it. A run is left
out until all its pieces have: a bad one is often known sooner than the good ones beside it, so that recent loads would
look worse than they are.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from datetime import datetime
from typing import NamedTuple

from floor.batch.counting.losses import iter_loss_events
from floor.batch.events import Counted, Disposed
from floor.batch.load import LOST
from floor.batch.quality.happenings import list_accepted_handovers
from floor.batch.quality.tool_age import ToolStay, compute_tool_ages
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.dataclass import dataclass


class LossPath(NamedTuple):
    """Where losses come from and where they show."""

    caused: int
    found: int


class Spoiled(NamedTuple):
    """Why a piece was not simply good."""

    path: LossPath
    to: str
    """scrap, rework or hold."""
    reason: str


@dataclass(frozen=True, slots=True)
class PieceOutcome:
    """A piece as the work of one run left it."""

    piece: int
    place: str
    """Its place on the carrier; empty where it has none."""
    spoiled: Spoiled | None


@dataclass(frozen=True, slots=True)
class RunOutcome:
    """What one run of an operation made, and under which conditions."""

    run: int
    op: int
    load: int
    at: datetime
    """When its cycle started; where it has none, when the run began."""
    begun: datetime
    carrier: str
    station: str
    setup: int
    first_of_setup: bool
    by: str
    """Who started the cycle, or did the work."""
    handovers: int
    """How many handovers had been accepted when it was counted."""
    tools: Mapping[ToolStay, int]
    """Tool → pieces that it had cut before."""
    lots: Mapping[str, tuple[str, ...]]
    """Material → its lots in this run."""
    pieces: tuple[PieceOutcome, ...]
    """In the order of the places. Those that another cause took out before the count are not among them."""
    known: int
    """The count, by its entry, with which the last of them was known."""

    @property
    def spoiled(self) -> int:
        return sum(one.spoiled is not None for one in self.pieces)


def list_outcomes_by_cause(batch: Batch) -> dict[LossPath, list[RunOutcome]]:
    """For each way on which a piece was lost: the runs of the operation at fault, in the order of their start.

    Rework is left out: its pieces were chosen for being bad.
    """
    losses, paths = _list_losses(batch)
    runs = [run for run in batch.runs.values() if run.count is not None and not run.rework and not run.put_back]
    passed: dict[int, dict[int, int]] = {path.found: {} for path in paths}
    for run in runs:
        if run.count is not None and run.op in passed:
            passed[run.op] |= dict.fromkeys(run.pieces, run.count.seq)
    lookup = _Conditions(batch, runs)
    found: dict[LossPath, list[RunOutcome]] = {}
    for path in sorted(paths):
        there = passed[path.found]
        judged = ((run, _judge(batch, run, path, losses, there)) for run in runs if run.op == path.caused)
        settled = [
            lookup.describe(run, pieces, max(there.get(one.piece, 0) for one in pieces))
            for run, pieces in judged
            if pieces
        ]
        found[path] = sorted(settled, key=lambda one: (one.at, one.run))
    return found


def _list_losses(batch: Batch) -> tuple[dict[int, list[Spoiled]], set[LossPath]]:
    """Piece → its losses; and all ways on which there was one. A piece held, or on hold since its count was
    corrected, and then used as is was no loss.
    """
    losses: dict[int, list[Spoiled]] = defaultdict(list)
    for entry, event in iter_loss_events(batch, Counted, Disposed):
        good = batch.corrected_counts.get(entry.seq, frozenset())
        match event:
            case Counted() as counted:
                for mark in counted.marks:
                    path = LossPath(mark.caused_at or counted.op, counted.op)
                    for piece in mark.pieces:
                        losses[piece].append(Spoiled(path, "hold" if piece in good else mark.to, mark.reason))
            case Disposed(decision="use as is", pieces=pieces):
                for piece in pieces:
                    losses[piece] = [one for one in losses[piece] if one.to != "hold"]
    return losses, {one.path for many in losses.values() for one in many}


def _judge(
    batch: Batch, run: Run, path: LossPath, losses: Mapping[int, list[Spoiled]], passed: Collection[int]
) -> tuple[PieceOutcome, ...]:
    """The pieces of a run as the count left them; empty while one of them is still to come."""
    found = []
    load = batch.loads[run.load]
    for piece in run.pieces:
        mine = losses.get(piece, ())
        loss = next((one for one in mine if one.path == path), None)
        if loss is None and piece not in passed:
            if batch.places[piece].where in (*LOST, "spare", "stopped", "trial", "finished"):
                continue
            return ()
        found.append(PieceOutcome(piece, batch.format_slot(load, piece), loss))
    return tuple(found)


class _Conditions:
    """Under which conditions each run was made."""

    def __init__(self, batch: Batch, runs: Iterable[Run]) -> None:
        self.batch = batch
        self.ages = compute_tool_ages(batch)
        self.accepted = list_accepted_handovers(batch)
        self.first: dict[int, int] = {}
        for run in runs:
            self.first.setdefault(run.setup, run.number)

    def describe(self, run: Run, pieces: tuple[PieceOutcome, ...], known: int) -> RunOutcome:
        assert run.count is not None, "only counted ones are looked at"
        return RunOutcome(
            run.number,
            run.op,
            run.load,
            run.started or run.begun,
            run.begun,
            self.batch.format_carrier(self.batch.loads[run.load]),
            run.station,
            run.setup,
            self.first[run.setup] == run.number,
            run.started_by or run.by,
            bisect_left(self.accepted, run.count.seq),
            self.ages.get(run.number, {}),
            {what: run.taken.get(what, (lot,)) for what, lot in run.lots.items()},
            pieces,
            known,
        )


def count_pieces(runs: Iterable[RunOutcome]) -> tuple[int, int]:
    """(lost, all) pieces of these runs."""
    counted = [(run.spoiled, len(run.pieces)) for run in runs]
    return sum(lost for lost, _ in counted), sum(pieces for _, pieces in counted)
