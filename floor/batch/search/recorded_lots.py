"""Which lots of which materials a batch has recorded: in all, and what to know of those of a run."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from floor.batch.corrections.unproved_work import describe_lead_decision, find_lost_proofs
from floor.batch.events import EnteredLate, LotOpened, Proved, StepDone, iter_events, read_if_kind
from floor.batch.gates.fold_lots import correct_lot, read_lot_of_entry
from floor.batch.gates.open_lot import find_struck_lot, list_runs_of_lot
from floor.batch.proof import CorrectedLot, LotKey
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.checklist.gates import LotRecorded
from floor.checklist.operation import Do
from floor.entry import Entry


def list_recorded_lots(batch: Batch) -> list[tuple[str, str]]:
    """(material, lot) of each, once; what was struck out does not count."""
    known = [(what, lot.lot) for what, lot in batch.lots.items()]
    return list(dict.fromkeys([*_list_entered(batch), *known]))


def _list_entered(batch: Batch) -> Iterator[tuple[str, str]]:
    entries = [entry for entry in batch.entries if entry.seq not in batch.struck]
    for entry, opened in iter_events(entries, LotOpened):
        yield opened.what, correct_lot(opened, batch.corrected_lots.get(entry.seq)).lot
    of_lots = (entry for entry in entries if entry.body.get("gate") == "lot recorded")
    for entry, proved in iter_events(of_lots, Proved):
        right = correct_lot(proved, batch.corrected_lots.get(entry.seq))
        yield _find_material(batch, proved), str(right.values["lot"])


def _find_material(batch: Batch, event: Proved) -> str:
    if isinstance(event.key, LotKey):
        return event.key.what
    step = dict(batch.find_operation(batch.runs[event.run]).numbered_steps)[event.line]
    assert isinstance(step, LotRecorded)
    return step.what


def list_corrections_by_run(batch: Batch) -> dict[tuple[int, str], list[CorrectedLot]]:
    """(run, material) → the corrections of its lot that stand."""
    found: dict[tuple[int, str], list[CorrectedLot]] = {}
    for seq, one in batch.corrected_lots.items():
        for run in list_runs_of_lot(batch, batch.entries[seq - 1]):
            found.setdefault((run.number, one.what), []).append(one)
    return found


def list_mixed_lots(batch: Batch, run: Run) -> dict[str, tuple[str, datetime]]:
    """Material → its lot in the mix that a run worked from, and when that was mixed: where an earlier run mixed it and
    another lot was recorded since. A lot that somebody said goes into the load itself is no such case.
    """
    steps = batch.find_operation(run).numbered_steps
    mixing = {line: n for n, (line, step) in enumerate(steps) if isinstance(step, Do) and step.while_running}
    until = run.count.seq if run.count is not None else batch.seq + 1
    found: dict[str, tuple[str, datetime]] = {}
    for line, nth in mixing.items():
        last = _find_last_mix(batch, run, line, until)
        if last is None or last.body["run"] == run.number:
            continue
        mixed = batch.runs[last.body["run"]]
        for _, step in steps[:nth]:
            if not isinstance(step, LotRecorded) or step.what in run.taken:
                continue
            lot = mixed.lots.get(step.what)
            if lot is not None and lot != run.lots.get(step.what):
                found[step.what] = lot, last.done
    return found


def _find_last_mix(batch: Batch, run: Run, line: str, until: int) -> Entry | None:
    """The entry by which this step of the operation was done last before another one, in whatever run."""
    done = (
        entry
        for entry in reversed(batch.list_entries(StepDone.KIND))
        if entry.seq < until and entry.seq not in batch.struck and entry.body["line"] == line
    )
    return next((entry for entry in done if _is_of_op(batch, entry, run.op)), None)


def _is_of_op(batch: Batch, entry: Entry, op: int) -> bool:
    run = batch.runs.get(entry.body["run"])
    return run is not None and run.op == op


def find_lots_struck_out(batch: Batch) -> dict[tuple[int, str], str]:
    """(run, material) of a counted run whose lot was struck out and that has no other → that, in words."""
    found = {}
    for (number, line), strike in find_lost_proofs(batch, under_way=True).items():
        run, entry = batch.runs[number], find_struck_lot(batch, strike)
        step = batch.find_operation(run).step(line)
        if run.count is None or entry is None or not isinstance(step, LotRecorded):
            continue
        lot = read_lot_of_entry(entry, batch.corrected_lots.get(entry.seq))
        assert lot is not None, "its gate asked for one"
        struck = batch.entries[strike - 1]
        decided = describe_lead_decision(batch, run, line) or "OPEN"
        said = f"{lot[0]} struck out by {struck.by}: {struck.body['reason']}; {decided}"
        found[number, step.what] = f"no lot on record ({said})"
    return found


def list_lots_by_papers(batch: Batch) -> list[tuple[int, str, str, frozenset[int]]]:
    """Operation, material, lot and pieces, where a batch was entered half done: pieces through it before the record."""
    late = batch.late
    event = read_if_kind(batch.entries[late.seq - 1], EnteredLate) if late is not None else None
    if late is None or event is None:
        return []
    return [
        (proof.op, proof.key.what, str(proof.values["lot"]), frozenset(late.counted.get(proof.op, ())))
        for proof in event.proofs
        if isinstance(proof.key, LotKey)
    ]
