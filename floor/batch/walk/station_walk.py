"""The station walk: every line of one run in order: done, current, ahead, blocked.

Nothing is stored: lines follow from the checklist, marks from the record, and the current line is always the first that
is not satisfied.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.walk.clocks import compute_planned_end, say_what_closes_first
from floor.batch.walk.lines import Line, LineKind, LinePhase, Walk
from floor.batch.walk.long_breaks import LONG_BREAK, needs_person
from floor.batch.walk.no_longer_asked import find_steps_of_done_work
from floor.batch.walk.recheck import make_recheck
from floor.batch.walk.shared_cycles import format_carriers, list_other_runs_in_cycle
from floor.batch.walk.standing import judge_line
from floor.checklist.gate_base import Phase
from floor.checklist.gates import Cured, Gate
from floor.checklist.model import SIGNAL_WORDS
from floor.checklist.operation import BEFORE_CYCLE, Do, Operation, is_beside
from floor.checklist.step_references import describe_repeat
from floor.entry import Moment
from floor.text import format_clock

CAUTION_LASTS = timedelta(hours=12)
"""A caution is read once for each operation, person and shift, and again after half a day (shop decision)."""


def build_walk(batch: Batch, run: Run, now: Moment, by: str = "") -> Walk:
    """The walk of a run at this moment, for the person who works on it now (or did last)."""
    operation = batch.find_operation(run)
    lines: list[Line] = []
    place: int | None = None
    for line in _lines(batch, run, operation, now, by or run.touched_by):
        if place is None and not line.is_satisfied:
            place = len(lines)
            line = _here(line, run)
        elif not line.is_satisfied and line.kind == "gate" and line.state != "ahead":
            line = replace(line, state="ahead")
        lines.append(line)
    if place is not None:
        lines[place] = _warn_of_closing(lines[place], lines, now)
        recheck = make_recheck(batch, run, lines[:place], lines[place], now)
        if recheck is not None:
            lines[place : place + 1] = recheck, replace(lines[place], state="ahead")
    return Walk(run, operation, tuple(lines), len(lines) if place is None else place)


def _warn_of_closing(waiting: Line, lines: Sequence[Line], now: Moment) -> Line:
    """A line that waits says it if another window that the run must hit closes before it may go on."""
    verdict = waiting.verdict
    if waiting.state != "waits" or verdict is None:
        return waiting
    closing = [
        (line.verdict.when, line.step.clock)
        for line in lines
        if isinstance(line.step, Cured) and line.verdict is not None and line.verdict.status == "met"
    ]
    first = say_what_closes_first(verdict.when, closing, now)
    if not first:
        return waiting
    clear = f"{verdict.clear}; if that is too late, ask a lead now"
    return replace(waiting, verdict=replace(verdict, why=f"{first}; {verdict.why}", clear=clear))


def _here(line: Line, run: Run) -> Line:
    """Find the current line, the first that is not satisfied, and how it stands."""
    if line.verdict is not None and line.verdict.status in ("wait", "blocked"):
        return replace(line, state="waits" if line.verdict.status == "wait" else "blocked")
    return replace(line, state="reopened" if line.key in run.reopened else "now")


def _lines(batch: Batch, run: Run, operation: Operation, now: Moment, by: str) -> list[Line]:
    lines: list[Line] = []
    steps, behind = _list_steps(batch, run, operation), find_steps_of_done_work(batch, run)
    begun = run.started is not None or run.count is not None
    for phase in BEFORE_CYCLE:
        _add_phase(lines, batch, run, phase, steps, now, by, behind, over=begun)
    if operation.cycle:
        others = list_other_runs_in_cycle(batch, run)
        along = f", with {format_carriers(batch, others)}" if others else ""
        start = _start_line(run, f"{operation.start}{along}", now)
        first = _find_steps_before_resuming(run, steps)
        again = [(key, step) for key, step in steps if key in first]
        _add_phase(lines, batch, run, "cycle", again, now, by, behind, over=False)
        _add_event(lines, batch, run, start, operation.start_cautions, now, by)
        others_in = [(key, step) for key, step in steps if key not in first]
        _add_phase(lines, batch, run, "cycle", others_in, now, by, behind, over=run.ended is not None)
        ended = _when(run.ended, run.ended_by, now)
        end = _event("end", "cycle", f"{operation.end}{along}", run.ended is not None, ended)
        still_runs = run.running and _ends_later(batch, run, now)
        _add_event(lines, batch, run, end, operation.end_cautions, now, by, due=not still_runs)
    counted = run.count is not None
    _add_phase(lines, batch, run, "after", steps, now, by, behind, over=counted)
    count = _event("count", "close", _say_what_to_count(batch, run), counted, _say_count(batch, run, now))
    _add_event(lines, batch, run, count, operation.count_cautions, now, by)
    release, released = "Release the load to the next operation", _when(run.released, run.released_by, now)
    lines.append(_event("release", "close", release, run.released is not None, released))
    return lines


def _find_steps_before_resuming(run: Run, steps: Sequence[tuple[str, Do | Gate]]) -> set[str]:
    """What was done by hand at a program stop and is to be done again before a stopped cycle goes on: else hands would
    be in the running machine."""
    found: set[str] = set()
    stands = False
    for key, step in steps if run.stopped is not None else ():
        if isinstance(step, Do) and step.cycle:
            stands = step.cycle == "stands"
        elif stands and key in run.reopened:
            found.add(key)
    return found


def _ends_later(batch: Batch, run: Run, now: Moment) -> bool:
    """Whether the cycle has time to go: what is read before it is over is forgotten by then."""
    planned = compute_planned_end(batch, run, now)
    return planned is not None and now.at < planned


def _add_event(
    lines: list[Line], batch: Batch, run: Run, line: Line, named: tuple[str, ...], now: Moment, by: str,
    due: bool = True,
) -> None:  # fmt: skip
    """Add a line that is no step, its cautions with it, to be read before it once it is due."""
    if named:
        cautions = tuple((name, batch.checklist.cautions[name]) for name in named)
        line = replace(line, cautions=cautions)
        if due:
            lines.append(_caution_line(batch, run, line, now, by))
    lines.append(line)


def _list_steps(batch: Batch, run: Run, operation: Operation) -> list[tuple[str, Do | Gate]]:
    """The steps of an operation, those of the run's rework before what is done to the load."""
    steps = list(operation.numbered_steps)
    rework = batch.checklist.rework(run.rework) if run.rework else None
    if rework:
        own = [(f"rework {rework.id} {n}", step) for n, step in enumerate(rework.steps, 1)]
        place = next((n for n, (_, step) in enumerate(steps) if step.at not in ("arrive", "setup")), len(steps))
        steps[place:place] = own
    return steps


def _start_line(run: Run, title: str, now: Moment) -> Line:
    if run.stopped is not None:
        return _event("start", "load", f"{title}: resume after it stopped ({run.stopped.why})", False, "")
    return _event("start", "load", title, run.started is not None, _began(run, now))


def _say_what_to_count(batch: Batch, run: Run) -> str:
    """How many went in; in a rework also how many wait on the same carrier and are counted with the load."""
    waiting = set(batch.present(batch.loads[run.load])) - set(run.pieces) if run.count is None else ()
    return f"Count pieces ({len(run.pieces)} in{f', {len(waiting)} waiting' if waiting else ''})"


def _say_count(batch: Batch, run: Run, now: Moment) -> str:
    """What was counted; before the release also what lies there and is not counted."""
    count = run.count
    if count is None:
        return batch.format_sitting_pieces(batch.loads[run.load], waiting=False) if run.released is None else ""
    parts = [f"{count.good} good"]
    parts += [f"{total} {to}" for to in ("scrap", "rework", "hold") if (total := count.total(to))]
    return f"{', '.join(parts)} · {count.by} {format_clock(count.at, now.at)}"


def _when(at: datetime | None, by: str, now: Moment) -> str:
    return f"{by} {format_clock(at, now.at)}".strip() if at else ""


def _began(run: Run, now: Moment) -> str:
    said = _when(run.started, run.started_by, now)
    return f"{said}, entered late by {run.late}" if run.late and not run.started_by else said


def _event(kind: LineKind, phase: LinePhase, title: str, done: bool, evidence: str) -> Line:
    return Line(kind, kind, phase, title, "done" if done else "ahead", evidence=evidence)


def _add_phase(
    lines: list[Line], batch: Batch, run: Run, phase: Phase, steps: list[tuple[str, Do | Gate]], now: Moment, by: str,
    behind: set[str], over: bool,
) -> None:  # fmt: skip
    """Add the lines of one phase. Once a phase is over, its proofs count as they did then."""
    for key, step in steps:
        if step.at != phase:
            continue
        line = _step_line(batch, run, key, step, now, over or key in behind)
        if line.cautions:
            lines.append(_caution_line(batch, run, line, now, by))
        lines.append(line)


def _caution_line(batch: Batch, run: Run, line: Line, now: Moment, by: str) -> Line:
    key = f"caution {line.key}"
    read = line.is_satisfied or not list_unread_cautions(batch, run, line, by, now)
    mark = run.marks.get(key)
    words = ", ".join(sorted({caution.word for _, caution in line.cautions}, key=SIGNAL_WORDS.index))
    return Line(
        key,
        "caution",
        line.phase,
        f"Read: {words}" if line.step is not None else f"Read: {words}. Then: {line.title}",
        "done" if read else "ahead",
        line.step,
        line.cautions,
        f"{mark.by} {format_clock(mark.at, now.at)}" if mark and read else "",
    )


def list_unread_cautions(batch: Batch, run: Run, line: Line, by: str, now: Moment) -> tuple[str, ...]:
    """The cautions of a line that the person has still to read, by name."""
    return tuple(name for name, _ in line.cautions if not is_caution_read(batch, run, name, by, now))


def is_caution_read(batch: Batch, run: Run, name: str, by: str, now: Moment) -> bool:
    """Whether the person has read the caution in this shift and not too long ago."""
    read = batch.read.get((by, run.op, name))
    if read is None or read[1] != batch.shift or now.at - read[0] > CAUTION_LASTS:
        return False
    if run.resumed is not None and read[0] < run.resumed:
        return False
    away = run.touched is not None and now.at - run.touched > LONG_BREAK
    return not (away and needs_person(run))


def _step_line(batch: Batch, run: Run, key: str, step: Do | Gate, now: Moment, over: bool) -> Line:
    cautions = tuple((name, batch.checklist.cautions[name]) for name in step.cautions)
    stands = judge_line(batch, run, key, step, now, over)
    kind: LineKind = "do" if isinstance(step, Do) else "gate"
    title = step.title() + (_say_how(batch.find_operation(run), step) if isinstance(step, Do) else "")
    return Line(key, kind, step.at, title, stands.state, step, cautions, stands.evidence, stands.verdict)


def _say_how(operation: Operation, step: Do) -> str:
    """`` (3 times; 2 people; at the same time: Hold the frame)``: how often, by how many, and what goes on beside."""
    beside = [one for one in operation.steps if isinstance(one, Do) and one is not step and is_beside(one, step)]
    parts = [describe_repeat(step.repeat)] if step.repeat is not None else []
    parts += [f"{step.people} people"] if step.people > 1 else []
    parts += [f"at the same time: {'; '.join(one.do for one in beside)}"] if beside else []
    return f" ({'; '.join(parts)})" if parts else ""
