"""The station walk: every line of one run in order: done, current, ahead, blocked.

Nothing is stored: lines follow from the checklist, marks from the record, and the current line is always the first that
is not satisfied.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Literal, NamedTuple

from floor.batch.corrections.unproved_work import describe_lead_decision
from floor.batch.gates.judge import find_evidence_then, judge_gate
from floor.batch.gates.verdict import GateVerdict
from floor.batch.open_items import Waiver
from floor.batch.proof import LineMark
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.walk.clocks import compute_planned_end, judge_clock, say_what_closes_first
from floor.batch.walk.long_breaks import LONG_BREAK, find_interruption, needs_person
from floor.batch.walk.shared_cycles import format_carriers, list_other_runs_in_cycle
from floor.checklist.gate_base import Phase
from floor.checklist.gates import Cured, Gate
from floor.checklist.model import SIGNAL_WORDS, Caution
from floor.checklist.operation import BEFORE_CYCLE, Do, Operation, is_beside
from floor.dataclass import dataclass
from floor.entry import Moment
from floor.text import format_clock

LineKind = Literal["caution", "recheck", "do", "gate", "start", "end", "count", "release"]
LineState = Literal[
    "done", "skipped", "waived", "not needed", "not known", "now", "waits", "blocked", "reopened", "ahead"
]
LinePhase = Phase | Literal["close"]

RECHECK = "recheck"
"""Key of the line that asks to check again after an interruption."""
RECHECKED = 3
"""So many steps done last are checked again (shop decision)."""
_PARTS: tuple[tuple[LinePhase, ...], ...] = (BEFORE_CYCLE, ("cycle",), ("after", "close"))
CAUTION_LASTS = timedelta(hours=12)
"""A caution is read once for each operation, person and shift, and again after half a day (shop decision)."""

PHASE_TITLES: dict[LinePhase, str] = {
    "arrive": "On arrival",
    "setup": "Set-up",
    "load": "This load",
    "cycle": "While it runs",
    "after": "After the cycle",
    "close": "Count and release",
}


def find_phase_title(operation: Operation, phase: LinePhase) -> str:
    """The heading of a phase's lines; without a cycle no phase comes after it."""
    title = "Afterwards" if phase == "after" and not operation.cycle else PHASE_TITLES[phase]
    return f"{title}: do, then confirm" if phase in operation.do_confirm else title


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a walk."""

    key: str
    kind: LineKind
    phase: LinePhase
    title: str
    state: LineState
    step: Do | Gate | None = None
    cautions: tuple[tuple[str, Caution], ...] = ()
    """The cautions of the step: shown with it, and read before it."""
    evidence: str = ""
    verdict: GateVerdict | None = None
    again: tuple[str, ...] = ()
    """Of a check after an interruption: the keys of the lines to look at again."""

    @property
    def gate(self) -> Gate | None:
        """The gate to prove on this line; None on other lines, the caution read before a gate among them."""
        return self.step if self.kind == "gate" and not isinstance(self.step, Do) else None

    @property
    def is_step(self) -> bool:
        """Whether it is numbered; cautions and checks after an interruption stand before what is."""
        return self.kind not in ("caution", "recheck")

    @property
    def is_satisfied(self) -> bool:
        return self.state in ("done", "skipped", "waived", "not needed", "not known")


@dataclass(frozen=True, slots=True)
class Walk:
    """All lines of a run, and the current one."""

    run: Run
    operation: Operation
    lines: tuple[Line, ...]
    place: int
    """Index of the current line; the number of lines when the run is released."""

    @property
    def current(self) -> Line | None:
        return self.lines[self.place] if self.place < len(self.lines) else None

    def line(self, key: str) -> Line | None:
        return next((line for line in self.lines if line.key == key), None)

    @property
    def gates(self) -> tuple[Line, ...]:
        """The prerequisites of the operation, for its head."""
        return tuple(line for line in self.lines if line.kind == "gate")

    @property
    def step(self) -> int:
        """The current step's number, from 1."""
        return min(sum(1 for line in self.lines[: self.place] if line.is_step) + 1, self.steps)

    @property
    def steps(self) -> int:
        return sum(1 for line in self.lines if line.is_step)


def describe_do_confirm(walked: Walk) -> str:
    """What is done before the first of several steps is confirmed, where their list is do-confirm (CBP-17)."""
    first = walked.current
    if first is None or first.kind != "do" or first.phase not in walked.operation.do_confirm:
        return ""
    found: list[str] = []
    for line in walked.lines[walked.place :]:
        if line.kind != "do" or line.phase != first.phase:
            break
        found.append(line.title)
    return f"Do all of these first, then confirm each: {'; '.join(found)}" if len(found) > 1 else ""


def say_waiver(batch: Batch, waiver: Waiver, load: int) -> str:
    """An open waiver of a load: its own, or one from an earlier load of its pieces."""
    given = batch.runs[waiver.run].load
    where = "on this load" if given == load else f"earlier, on load {given}"
    return f"Waived {where}: {waiver.title} (op {waiver.op}, {waiver.by}: {waiver.reason})"


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
            line = _with(line, "ahead")
        lines.append(line)
    if place is not None:
        lines[place] = _warn_of_closing(lines[place], lines, now)
        again = _list_lines_to_recheck(batch, run, lines[:place], lines[place], now)
        if again:
            lines.insert(place, _recheck_line(again, lines[place].phase))
            lines[place + 1] = _with(lines[place + 1], "ahead")
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


def _with(line: Line, state: LineState) -> Line:
    return Line(
        line.key, line.kind, line.phase, line.title, state, line.step, line.cautions, line.evidence, line.verdict
    )


def _here(line: Line, run: Run) -> Line:
    """Find the current line, the first that is not satisfied, and how it stands."""
    if line.verdict is not None and line.verdict.status in ("wait", "blocked"):
        return _with(line, "waits" if line.verdict.status == "wait" else "blocked")
    return _with(line, "reopened" if line.key in run.reopened else "now")


def _recheck_line(again: Sequence[Line], phase: LinePhase) -> Line:
    title = f"Check again: {'; '.join(line.title for line in again)}"
    return Line(RECHECK, "recheck", phase, title, "now", again=tuple(line.key for line in again))


def _list_lines_to_recheck(batch: Batch, run: Run, done: Sequence[Line], current: Line, now: Moment) -> list[Line]:
    """The lines done last before an interruption in the same part of the run: before, in or after its cycle.

    None while it waits for a timer anyway, or once it is counted.
    """
    left = find_interruption(run, batch.operation(run.op).recheck_after, now.at)
    if left is None or current.state == "waits" or run.count is not None:
        return []
    part = next(phases for phases in _PARTS if current.phase in phases)
    of_part = [line for line in done if line.phase in part and line.kind in ("do", "gate") and line.state == "done"]
    at = {line.key: _find_done_at(batch, run, line) for line in of_part}
    return [line for line in of_part if (when := at[line.key]) is not None and run.begun <= when <= left][-RECHECKED:]


def _find_done_at(batch: Batch, run: Run, line: Line) -> datetime | None:
    if isinstance(line.step, Do):
        mark = _mark(batch, run, line.key, line.step)
        return mark.at if mark is not None else None
    return line.verdict.proof.at if line.verdict is not None and line.verdict.proof is not None else None


def _lines(batch: Batch, run: Run, operation: Operation, now: Moment, by: str) -> list[Line]:
    lines: list[Line] = []
    steps, behind = _list_steps(batch, run, operation), _behind(batch, run)
    begun = run.started is not None or run.count is not None
    for phase in BEFORE_CYCLE:
        _add(lines, batch, run, [pair for pair in steps if pair[1].at == phase], now, by, behind, over=begun)
    if operation.cycle:
        others = list_other_runs_in_cycle(batch, run)
        along = f", with {format_carriers(batch, others)}" if others else ""
        start = _start_line(run, f"{operation.start}{along}", now)
        _add_event(lines, batch, run, start, operation.start_cautions, now, by)
        _add(
            lines,
            batch,
            run,
            [pair for pair in steps if pair[1].at == "cycle"],
            now,
            by,
            behind,
            over=run.ended is not None,
        )
        ended = _when(run.ended, run.ended_by, now)
        end = _event("end", "cycle", f"{operation.end}{along}", run.ended is not None, ended)
        still_runs = run.running and _ends_later(batch, run, now)
        _add_event(lines, batch, run, end, operation.end_cautions, now, by, due=not still_runs)
    _add(
        lines,
        batch,
        run,
        [pair for pair in steps if pair[1].at == "after"],
        now,
        by,
        behind,
        over=run.count is not None,
    )
    counted = run.count is not None
    count = _event("count", "close", _say_what_to_count(batch, run), counted, _say_count(batch, run, now))
    _add_event(lines, batch, run, count, operation.count_cautions, now, by)
    release, released = "Release the load to the next operation", _when(run.released, run.released_by, now)
    lines.append(_event("release", "close", release, run.released is not None, released))
    return lines


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


def _add(
    lines: list[Line],
    batch: Batch,
    run: Run,
    steps: list[tuple[str, Do | Gate]],
    now: Moment,
    by: str,
    behind: set[str],
    over: bool,
) -> None:
    """Add the lines of one phase. Once a phase is over, its proofs count as they did then."""
    for key, step in steps:
        line = _step_line(batch, run, key, step, now, over or key in behind)
        if line.cautions:
            lines.append(_caution_line(batch, run, line, now, by))
        lines.append(line)


def _behind(batch: Batch, run: Run) -> set[str]:
    """Windows, mixes and checks of the air whose work is done: every step that follows in the same phase is marked,
    or the step is that a window names.

    They must hold while their work is done, not until the count.
    """
    found: set[str] = set()
    steps = batch.find_operation(run).numbered_steps
    over: dict[str, bool] = {}
    """For the clock of each mix, looking back: whether every window from here to its next mix is done with."""
    for phases in (("after",), ("cycle",), BEFORE_CYCLE):
        followed = done = False
        for key, step in reversed([pair for pair in steps if pair[1].at in phases]):
            if isinstance(step, Cured) and step.until:
                over[step.clock] = over.get(step.clock, True) and step.until in run.marks
            is_over = isinstance(step, Do) and over.pop(step.while_running, False)
            if _is_work_done(run, step, is_over, followed and done):
                found.add(key)
            if isinstance(step, Do):
                done = (done or not followed) and _mark(batch, run, key, step) is not None
                followed = True
    return found


def _is_work_done(run: Run, step: Do | Gate, is_over: bool, all_behind: bool) -> bool:
    """
    Args:
        is_over: whether the steps are done that the windows of a mix name.
        all_behind: whether every step that follows in the phase is marked.
    """
    if isinstance(step, Do):
        return bool(step.while_running) and (all_behind or is_over)
    if isinstance(step, Cured) and step.until:
        return step.until in run.marks
    return step.is_for_work and all_behind


def find_gates_no_longer_asked(batch: Batch, run: Run) -> set[str]:
    """Gates of a run whose work is done: their timers no longer concern it."""
    over = set(BEFORE_CYCLE) if run.started is not None or run.count is not None else set()
    over |= {"cycle"} if run.ended is not None or run.count is not None else set()
    over |= {"after"} if run.count is not None else set()
    return _behind(batch, run) | {key for key, step in batch.find_operation(run).numbered_steps if step.at in over}


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
    lost = describe_lead_decision(batch, run, key)
    if lost is not None:
        stands = _Standing("waived" if lost else "ahead", f"struck out; {lost}" if lost else "")
    elif isinstance(step, Do):
        stands = _judge_step(batch, run, key, step, now, over)
    else:
        stands = _judge_gate_line(batch, run, key, step, now, over)
    if not isinstance(step, Do):
        return Line(key, "gate", step.at, step.title(), stands.state, step, cautions, stands.evidence, stands.verdict)
    title = step.title() + _say_company(batch.find_operation(run), step)
    return Line(key, "do", step.at, title, stands.state, step, cautions, stands.evidence)


def _say_company(operation: Operation, step: Do) -> str:
    """`` (2 people; at the same time: Hold the frame)``: how many a step takes, and what goes on beside it."""
    beside = [one for one in operation.steps if isinstance(one, Do) and one is not step and is_beside(one, step)]
    parts = [f"{step.people} people"] if step.people > 1 else []
    parts += [f"at the same time: {'; '.join(one.do for one in beside)}"] if beside else []
    return f" ({'; '.join(parts)})" if parts else ""


class _Standing(NamedTuple):
    """How a line stands, whether or not it is its turn."""

    state: LineState
    evidence: str = ""
    verdict: GateVerdict | None = None


def _judge_step(batch: Batch, run: Run, key: str, step: Do, now: Moment, over: bool) -> _Standing:
    """A step is done by its mark; one that is done only while a clock does not run, by that clock too."""
    mark = _mark(batch, run, key, step)
    clock = step.while_running
    if mark and clock and not over and _read_clock(batch, run, clock, now) == "late":
        mark = None
    if mark is not None:
        return _Standing(mark.how, _said(mark, now))
    if key not in run.reopened and _before_entry(run, step.at):
        return _Standing("not known", f"entered late by {run.late}")
    if clock and (over or _read_clock(batch, run, clock, now) == "open"):
        return _Standing("not needed", f"{clock} {'was' if over else 'still'} open")
    return _Standing("ahead")


def _judge_gate_line(batch: Batch, run: Run, key: str, step: Gate, now: Moment, over: bool) -> _Standing:
    """A gate stands by its waiver, by what was proved then where its phase is over, or as it is judged now."""
    waiver = _find_waiver(batch, run, key)
    if waiver is not None:
        second = f" · {waiver.second} signed" if waiver.second else ""
        return _Standing("waived", f"waived by {waiver.by}: {waiver.reason}{second}")
    verdict = judge_gate(batch, run, key, step, now)
    if key not in run.reopened:
        mark = run.marks.get(key)
        if mark is None and verdict.status != "met" and _before_entry(run, step.at):
            return _Standing("not known", f"entered late by {run.late}{_say_stated(batch, run, step, now)}")
        if over:
            evidence = verdict.evidence or find_evidence_then(batch, run, key, step, now)
            evidence = evidence or (_said(mark, now) if mark else "met at the time")
            stands = None if step.is_for_work else verdict  # a window may close behind the work
            return _Standing("done", evidence, stands)
    return _Standing("done" if verdict.status == "met" else "now", verdict.evidence, verdict)


def _say_stated(batch: Batch, run: Run, step: Gate, now: Moment) -> str:
    """``; dry since 02:30``: the start of a clock as stated for a run entered late; empty if nobody stated it."""
    row = batch.late.find_row(run.pieces[0]) if batch.late is not None else None
    if row is None or not isinstance(step, Cured):
        return ""
    since = dict(row.clocks).get(step.clock)
    return f"; {step.clock} since {format_clock(since, now.at)}" if since is not None else ""


def _find_waiver(batch: Batch, run: Run, line: str) -> Waiver | None:
    """The waiver that a line stands by."""
    for waiver in batch.waivers.values():
        if (waiver.run, waiver.line, waiver.spent) == (run.number, line, False):
            return waiver
    return None


def _before_entry(run: Run, phase: Phase) -> bool:
    """Whether a phase was over when a run was entered late, so that only stated facts are known."""
    past = (*BEFORE_CYCLE, "cycle") if run.ended is not None and not run.ended_by else BEFORE_CYCLE
    return bool(run.late) and phase in past


def _read_clock(batch: Batch, run: Run, clock: str, now: Moment) -> str:
    """How a clock that a step names stands."""
    found = batch.checklist.clock(clock)
    assert found is not None, "no checklist is used that names a clock it does not have"
    return judge_clock(batch, found[1], run.pieces, now).status


def _mark(batch: Batch, run: Run, key: str, step: Do) -> LineMark | None:
    marks = batch.setups[run.setup].marks if step.at == "setup" else run.marks
    return marks.get(key)


def _said(mark: LineMark, now: Moment) -> str:
    note = f" · {mark.note}" if mark.note else ""
    return f"{mark.by} {format_clock(mark.at, now.at)}{note}"
