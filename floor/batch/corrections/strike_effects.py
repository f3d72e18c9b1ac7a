"""What would lose its proof if an entry were struck out, or has lost it: found by folding the record without it."""

from __future__ import annotations

from floor.batch.corrections.unproved_work import find_lost_proofs, find_root_entry
from floor.batch.events import StruckOut, read_run_numbers
from floor.batch.fold import Inapplicable, fold
from floor.batch.run import Run
from floor.batch.state import Batch


def find_dependent_runs(batch: Batch, seq: int) -> list[Run]:
    """Runs other than its own that lose a proof if an entry is struck out."""
    own = batch.runs.get(next(iter(read_run_numbers(find_root_entry(batch, seq).body)), 0))
    if seq in batch.struck:
        numbers = {
            run for (run, _), strike in find_lost_proofs(batch, under_way=True).items() if strike == batch.struck[seq]
        }
    else:
        try:
            without = fold(batch.entries, (seq,), batch.checklist)
        except Inapplicable:
            return []  # it cannot be struck out as things are
        numbers = {
            run
            for run, _ in find_lost_proofs(without, under_way=True).keys()
            - find_lost_proofs(batch, under_way=True).keys()
        }
    return [run for run in batch.runs.values() if run.number in numbers and run is not own]


def describe_strike_effect(batch: Batch, strike: StruckOut) -> str:
    """What went on by a struck entry, in a few words; empty if nothing did."""
    runs = find_dependent_runs(batch, strike.seq) if strike.seq in batch.struck else []
    said = ", ".join(f"run {run.number} (load {run.load}, op {run.op})" for run in runs)
    return f"relied on by {said}" if runs else ""
