"""Which runs went on because of an entry, beside the run it was made in: what to look at again when it is struck out.

A proof or a step of a set-up serves every run until it is superseded. A run relied on it at the moment it passed
it: when its cycle was started, or where there is none, and for what comes after the cycle, when it was counted.
"""

from __future__ import annotations

from typing import Any

from floor.batch.gates import RULES, judge, serves
from floor.batch.said import plural
from floor.batch.state import Batch, Run
from floor.batch.trace import trace
from floor.batch.unsettled import Unproved
from floor.checklist.gates import Gate
from floor.checklist.model import Do
from floor.entry import Entry


def relied_on(batch: Batch, seq: int) -> list[Run]:
    """Runs other than its own that went on by a proof, or by a step of a set-up; also of an entry that is struck."""
    entry = batch.entries[seq - 1]
    own = batch.runs.get(entry.body.get("run", 0))
    line = entry.body.get("line", "")
    if own is None or entry.kind not in ("proved", "step_done", "step_skipped"):
        return []
    step = dict(batch.operation(own.op).numbered_steps).get(line)
    if entry.kind != "proved" and (step is None or step.at != "setup"):
        return []
    passed = _passed(batch)
    until = _superseded(batch, entry, own)
    found = []
    for run in batch.runs.values():
        at = passed.get((run.number, _served(batch, entry, own, run)), [])
        if run is not own and any(seq < one < until for one in at):
            found.append(run)
    return found


def went_on_by(batch: Batch, entry: Entry) -> list[tuple[Run, str]]:
    """The runs that had passed a line by an entry, its own among them, with the line; also of one that is struck."""
    own = batch.runs.get(entry.body.get("run", 0))
    if own is None or entry.kind not in ("proved", "step_done", "step_skipped", "waived"):
        return []
    passed = _passed(batch)
    line = entry.body["line"]
    step = dict(batch.operation(own.op).numbered_steps).get(line)
    at, until = (
        passed.get((own.number, _when(step) if step is not None else "before"), []),
        _superseded(batch, entry, own),
    )
    found = [(own, line)] if any(entry.seq < one < until for one in at) else []
    if entry.kind == "waived":
        return found
    for run in relied_on(batch, entry.seq):
        lines = serves(batch, run, tuple(entry.body["key"])) if entry.kind == "proved" else {line}
        found += [(run, one) for one in sorted(lines or {line})[:1]]
    return found


def stands_otherwise(batch: Batch, run: Run, line: str) -> bool:
    """Whether what a run passed at a line is proved, done or waived without the entry that is struck out."""
    if line in run.marks or any(one.run == run.number and one.line == line for one in batch.waivers.values()):
        return True
    step = dict(batch.operation(run.op).numbered_steps).get(line)
    if step is None or isinstance(step, Do):
        return step is not None and step.at == "setup" and line in batch.setups[run.setup].marks
    proof = batch.proofs.get(RULES[step.gate].key(batch, run, line, step))
    at = _passed(batch).get((run.number, _when(step)), [0])
    return proof is not None and proof.seq < at[0] and judge(batch, run, line, step, batch.last).status == "met"


def line_title(batch: Batch, run: Run, line: str) -> str:
    """The title of a line of a run; its key where the checklist has none."""
    steps = dict(batch.operation(run.op).numbered_steps)
    rework = batch.checklist.rework(run.rework) if run.rework else None
    if rework:
        steps |= {f"rework {rework.id} {n}": step for n, step in enumerate(rework.steps, 1)}
    return steps[line].title() if line in steps else line


def _served(batch: Batch, entry: Entry, own: Run, run: Run) -> str:
    """``before`` or ``after`` the cycle: where in a run the entry serves it; empty where it does not."""
    body = entry.body
    for line, step in batch.operation(run.op).numbered_steps:
        if entry.kind != "proved":
            serves = isinstance(step, Do) and line == body["line"] and run.setup == own.setup
        elif isinstance(step, Do):
            serves = False
        else:
            key, mine = tuple(body["key"]), RULES[step.gate].key(batch, run, line, step)
            # Which shift it was follows from the entries: a proof of a shift ends with it.
            serves = key == mine or (key[:2] == mine[:2] == (step.gate, "shift") and key[3:] == mine[3:])
        if serves:
            return _when(step)
    return ""


def _when(step: Do | Gate) -> str:
    """What stands in the cycle is passed with what comes after it: by the count."""
    return "after" if step.at in ("cycle", "after") else "before"


def _passed(batch: Batch) -> dict[tuple[int, str], list[int]]:
    """(run, before or after its cycle) → the entries with which it passed what stands there, one for each start."""
    found: dict[tuple[int, str], list[int]] = {}
    for entry in batch.entries:
        if entry.seq in batch.struck or entry.kind not in ("cycle_started", "counted"):
            continue
        if entry.kind == "cycle_started" or (entry.body["run"], "before") not in found:
            found.setdefault((entry.body["run"], "before"), []).append(entry.seq)
        if entry.kind == "counted":
            found[(entry.body["run"], "after")] = [entry.seq]
    return found


def _superseded(batch: Batch, entry: Entry, own: Run) -> int:
    """The entry from which on another one serves in its stead."""
    for later in batch.entries[entry.seq :]:
        if later.seq in batch.struck:
            continue
        if entry.kind == "proved":
            key = entry.body["key"]
            same = later.kind == "proved" and later.body["key"] == key
            if same or (key[1:2] == ["shift"] and later.kind == "handover_accepted"):
                return later.seq
        elif later.kind == entry.kind and later.body.get("line") == entry.body["line"]:
            run = batch.runs.get(later.body["run"])
            if run is not None and run.setup == own.setup:
                return later.seq
    return batch.seq + 1


def suspects(batch: Batch, run: Run) -> tuple[int, ...]:
    """The pieces in work, on hold or finished that went through a run, or that may have: loose ones are mixed."""
    wanted = set(run.pieces)
    mixed = any(not batch.checklist.carrier(load.carrier).positions for load in batch.loads.values())
    return tuple(
        piece
        for piece, place in sorted(batch.places.items())
        if place.where != "scrap" and (wanted & set(trace(batch, piece).candidates) if mixed else piece in wanted)
    )


def say_run(batch: Batch, run: Run) -> str:
    """``run 3: load 2, op 10 Mill the groove, released; 4 pieces, 1 on hold``."""
    pieces = suspects(batch, run)
    held = sum(batch.places[piece].where == "hold" for piece in pieces)
    state = "released" if run.released else "under way"
    hold = f", {held} on hold" if held else ""
    moved = any(batch.places[piece].load not in (0, run.load) or batch.loads[run.load].dissolved for piece in pieces)
    hold += ", by the order of loading" if moved else ""
    return f"run {run.number}: load {run.load}, op {run.op} {batch.operation(run.op).title}, {state}; " + (
        f"{plural(len(pieces), 'piece')}{hold}"
    )


def after_strike(batch: Batch, body: dict[str, Any]) -> str:
    """What a struck-out entry had let through, in a few words; empty where nothing."""
    runs = relied_on(batch, body["seq"])
    said = ", ".join(f"run {run.number} (load {run.load}, op {run.op})" for run in runs)
    return f"relied on by {said}" if runs else ""


def say_unproved(batch: Batch, one: Unproved) -> str:
    """``Probe G54 Z (op 10) struck out after it was relied on: 8 pieces of load 1, by TN: typed wrong``."""
    runs = [batch.runs[number] for number in sorted(one.runs - one.held)]
    # Said with every look at what is due, so without tracing loose pieces; who decides is shown those too.
    pieces = batch.unproved_pieces(one)
    loads = ", ".join(dict.fromkeys(f"{run.load} (op {run.op})" for run in runs))
    many, by = plural(len(pieces), "piece"), f"{one.by}: {one.reason}"
    return f"{one.title} struck out after {many} went on by it: load {loads} ({by})"
