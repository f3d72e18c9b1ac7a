"""Whether the proofs that a run passed by still stand; where they do not, a lead decides.

While the record is folded without struck entries, each run is judged again at every point it passed
(`floor.batch.walk.fold_rejudging`). A line passed without a standing proof, and not proved again since, is lost to the
last strike that concerns it: of a proof, a waiver, or another strike.
"""

from __future__ import annotations

from collections.abc import Iterator

from floor.batch.events import (
    Disturbed,
    LotOpened,
    ProgramRead,
    Proved,
    StepDone,
    StepSkipped,
    StruckOut,
    Waived,
    read_event,
    read_if_kind,
)
from floor.batch.gates.proof_keys import find_proof_key
from floor.batch.load import LOST
from floor.batch.open_items import Unproved
from floor.batch.proof import ShiftKey, StationShiftKey
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.checklist.gates import Cured, FirstPiece, Gate, LotRecorded, ProgramLoaded
from floor.checklist.operation import Do, Operation
from floor.entry import Entry
from floor.text import format_count


def find_lost_proofs(batch: Batch, under_way: bool = False) -> dict[tuple[int, str], int]:
    """(run, line) passed and no longer proved → the strike that took its proof.

    Args:
        under_way: include unreleased runs, whose walk asks for the proof again.
    """
    found: dict[tuple[int, str], int] = {}
    for run in batch.runs.values() if batch.struck else ():
        if run.released is None and not under_way:
            continue
        for line, passed in run.unmet:
            strike = max(_takes(batch, run, line, passed), default=0)
            if strike > run.proved_since.get(line, 0):
                found[run.number, line] = max(strike, found.get((run.number, line), 0))
    return found


def _takes(batch: Batch, run: Run, line: str, passed: int) -> Iterator[int]:
    """Strikes made after the run passed a line that may have taken its proof."""
    for target, strike in batch.struck.items():
        if strike > passed > (entry := find_root_entry(batch, target)).seq and _bears(batch, entry, run, line):
            yield strike


def find_root_entry(batch: Batch, seq: int) -> Entry:
    """The entry that a strike (or a strike of a strike) is ultimately about; any other entry is its own root."""
    entry = batch.entries[seq - 1]
    while (strike := read_if_kind(entry, StruckOut)) is not None:
        entry = batch.entries[strike.seq - 1]
    return entry


def _bears(batch: Batch, entry: Entry, run: Run, line: str) -> bool:
    """Whether an entry can affect a line of a run; true if in doubt."""
    event, step = read_event(entry), _steps(batch, batch.find_operation(run)).get(line)
    mine = run.number in event.runs and getattr(event, "line", None) == line
    if not event.PROVES:
        return False
    if isinstance(event, Waived) or mine:
        return mine
    if isinstance(event, ProgramRead):
        return isinstance(step, ProgramLoaded | FirstPiece) and _is_same_setup(batch, event, run)
    if isinstance(event, Proved | StepDone | StepSkipped):
        return _line_bears(batch, event, run, line, step)
    if isinstance(event, LotOpened):
        return isinstance(step, LotRecorded) and step.per == "batch" and step.what == event.what
    return not isinstance(event, Disturbed) or event.station == run.station


def _line_bears(
    batch: Batch, event: Proved | StepDone | StepSkipped, run: Run, line: str, step: Do | Gate | None
) -> bool:
    """The same of what was done or proved at a line of another run, or at another line."""
    if isinstance(step, Cured) or (isinstance(step, Do) and step.while_running):
        return True  # it may have started a clock
    if step is None:
        return False
    if isinstance(event, Proved):
        return not isinstance(step, Do) and _serves(batch, event, run, line, step)
    return event.line == line and step.at == "setup" and _is_same_setup(batch, event, run)


def _is_same_setup(batch: Batch, event: StepDone | StepSkipped | ProgramRead, run: Run) -> bool:
    own = batch.runs.get(event.run)
    return own is not None and own.setup == run.setup


def _serves(batch: Batch, event: Proved, run: Run, line: str, gate: Gate) -> bool:
    key, mine = event.key, find_proof_key(batch, run, line, gate)
    # The shift follows from the entries, so striking one may change it.
    return key == mine or (
        isinstance(key, ShiftKey | StationShiftKey)
        and isinstance(mine, ShiftKey | StationShiftKey)
        and key._replace(shift=0) == mine._replace(shift=0)
    )


def find_unproved_work(batch: Batch) -> dict[int, Unproved]:
    """Per strike, the lines that released runs passed and that nothing proves now, decided or not."""
    by_strike: dict[int, set[tuple[int, str]]] = {}
    for pair, strike in find_lost_proofs(batch).items():
        by_strike.setdefault(strike, set()).add(pair)
    found = {}
    for strike, pairs in sorted(by_strike.items()):
        entry, of = batch.entries[strike - 1], find_root_entry(batch, strike)
        said, at = read_if_kind(entry, StruckOut), getattr(read_event(of), "line", None)
        assert said is not None
        number, line = min(pairs, key=lambda pair: (pair[1] != at, pair))
        found[strike] = Unproved(
            strike=strike,
            title=find_line_title(batch, batch.find_operation(batch.runs[number]), line),
            by=entry.by,
            reason=said.reason,
            at=entry.time,
            pairs=frozenset(pairs),
            held=frozenset(run for run, _ in pairs if batch.held_back.get(run, 0) > strike),
            settled=batch.settled.get(strike, ""),
            outright=said.seq == of.seq and at == line,
        )
    return found


def find_open_unproved_work(batch: Batch) -> list[Unproved]:
    """Those still to be decided: pieces stopped or in trials raise no question, held ones are decided as holds."""
    return [one for one in find_unproved_work(batch).values() if one.open and find_unproved_pieces(batch, one)]


def find_unproved_pieces(batch: Batch, one: Unproved) -> set[int]:
    return {
        piece
        for number in one.runs - one.held
        for piece in find_suspect_pieces(batch, batch.runs[number])
        if batch.places[piece].where not in ("hold", "stopped", "trial")
    }


def describe_lead_decision(batch: Batch, run: Run, line: str) -> str | None:
    """A lead's decision on a line that a released run lost; empty if none yet, None if the proof stands."""
    for one in find_unproved_work(batch).values() if run.unmet and run.released is not None else ():
        if (run.number, line) in one.pairs:
            return one.settled or ("pieces held back" if run.number in one.held else "")
    return None


def find_line_title(batch: Batch, operation: Operation, line: str) -> str:
    """The title of a line of a run; its key is nothing to a reader."""
    steps = _steps(batch, operation)
    events = {"start": operation.start, "end": operation.end}
    return steps[line].title() if line in steps else events.get(line, "a step")


def _steps(batch: Batch, operation: Operation) -> dict[str, Do | Gate]:
    """The lines of an operation and of every rework, each of which is in its lines' keys."""
    steps: dict[str, Do | Gate] = dict(operation.numbered_steps)
    for rework in batch.checklist.reworks:
        steps |= {f"rework {rework.id} {n}": step for n, step in enumerate(rework.steps, 1)}
    return steps


def find_suspect_pieces(batch: Batch, run: Run) -> tuple[int, ...]:
    """Pieces in work, on hold or finished that went, or may have gone, through a run.

    On a carrier without places any piece may be any other that was loaded with it, whatever numbers are taken off
    later.
    """
    found = set(run.pieces)
    for load in batch.loads.values():
        if load.number >= run.load and not batch.checklist.carrier(load.carrier).positions and found & set(load.pieces):
            found |= set(load.pieces)
    return tuple(piece for piece in sorted(found) if batch.places[piece].where not in LOST)


def say_run(batch: Batch, run: Run) -> str:
    """``run 3: load 2, op 10 Mill the groove, released; 4 pieces, 1 on hold``."""
    pieces = find_suspect_pieces(batch, run)
    held = sum(batch.places[piece].where == "hold" for piece in pieces)
    state = "released" if run.released else "under way"
    hold = f", {held} on hold" if held else ""
    moved = any(batch.places[piece].load not in (0, run.load) or batch.loads[run.load].dissolved for piece in pieces)
    hold += ", by the order of loading" if moved else ""
    return f"run {run.number}: load {run.load}, op {run.op} {batch.find_operation(run).title}, {state}; " + (
        f"{format_count(len(pieces), 'piece')}{hold}"
    )


def format_unproved_work(batch: Batch, one: Unproved) -> str:
    """``Probe G54 Z (op 10) struck out after it was relied on: 8 pieces of load 1, by TN: typed wrong``."""
    runs = [batch.runs[number] for number in sorted(one.runs - one.held)]
    loads = ", ".join(dict.fromkeys(f"{run.load} (op {run.op})" for run in runs))
    many, by = format_count(len(find_unproved_pieces(batch, one)), "piece"), f"{one.by}: {one.reason}"
    what = "struck out" if one.outright else f"no longer proved (entry {one.strike} struck out what it depended on)"
    return f"{one.title} {what} after {many} went ahead on it: load {loads} ({by})"
