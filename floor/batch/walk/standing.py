"""How a step or gate of a run stands: done, waived, not needed or not known, or still to be done."""

from __future__ import annotations

from typing import NamedTuple

from floor.batch.corrections.unproved_work import describe_lead_decision
from floor.batch.gates.judge import find_evidence_then, judge_gate
from floor.batch.gates.lapse_causes import find_step_lapses
from floor.batch.gates.verdict import GateVerdict
from floor.batch.open_items import Waiver
from floor.batch.proof import LineMark
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.walk.clocks import judge_clock
from floor.batch.walk.lines import LineState
from floor.batch.walk.long_breaks import say_long_break, was_left_since
from floor.checklist.gate_base import Phase
from floor.checklist.gates import Cured, Gate
from floor.checklist.operation import BEFORE_CYCLE, Do
from floor.entry import Moment
from floor.text import format_clock


class Standing(NamedTuple):
    """How a line stands, whether or not it is its turn."""

    state: LineState
    evidence: str = ""
    verdict: GateVerdict | None = None


def judge_line(batch: Batch, run: Run, key: str, step: Do | Gate, now: Moment, over: bool) -> Standing:
    """How a step or gate stands.

    Args:
        over: whether its phase or its work is over, so that it counts as it did then.
    """
    lost = describe_lead_decision(batch, run, key)
    if lost is not None:
        return Standing("waived" if lost else "ahead", f"struck out; {lost}" if lost else "")
    if isinstance(step, Do):
        return _judge_step(batch, run, key, step, now, over)
    return _judge_gate(batch, run, key, step, now, over)


def _judge_step(batch: Batch, run: Run, key: str, step: Do, now: Moment, over: bool) -> Standing:
    """A step is done by its mark; one that is done only while a clock does not run, by that clock too."""
    mark = batch.find_mark(run, key, step)
    clock = step.while_running
    if mark and clock and not over and _read_clock(batch, run, clock, now) == "late":
        mark = None
    if mark is not None:
        left = _is_left_unsafe(batch, run, key, step, mark, now, over)
        return _ask_after_break(mark, now) if left else Standing(mark.how, _said(mark, now))
    if key not in run.reopened and _before_entry(run, step.at):
        return Standing("not known", f"entered late by {run.late}")
    if clock and (over or _read_clock(batch, run, clock, now) == "open"):
        return Standing("not needed", f"{clock} {'was' if over else 'still'} open")
    lapse = run.lapsed.get(key)
    if lapse is None:
        return Standing("ahead")
    why = f"must be repeated, void since {format_clock(lapse.at, now.at)}: {lapse.why}"
    return Standing("ahead", verdict=GateVerdict("ask", why, "do it, then confirm", again=True))


def _ask_after_break(mark: LineMark, now: Moment) -> Standing:
    why = say_long_break(mark.by, "did it", mark.at, now)
    return Standing("ahead", verdict=GateVerdict("ask", why, "do it again, then confirm", again=True))


def _is_left_unsafe(batch: Batch, run: Run, key: str, step: Do, mark: LineMark, now: Moment, over: bool) -> bool:
    """Whether a step that lapses by itself was done before a long break: a door that was shut may be open by now.

    Not one that starts a clock, as a coat does: how long that may stand is the clock's to say.
    """
    operation = batch.find_operation(run)
    lapses = step.at in BEFORE_CYCLE and step.lapses_on is None and find_step_lapses(batch, operation, step)
    if not lapses or (over and run.stopped is None) or any(clock.starts == f"step {key}" for clock in operation.clocks):
        return False
    return mark.how == "done" and batch.rules > 4 and was_left_since(batch, run, mark.at, now.at)


def _judge_gate(batch: Batch, run: Run, key: str, step: Gate, now: Moment, over: bool) -> Standing:
    """A gate stands by its waiver, by what was proved then where its phase is over, or as it is judged now."""
    waiver = _find_waiver(batch, run, key)
    if waiver is not None:
        second = f" · {waiver.second} signed" if waiver.second else ""
        return Standing("waived", f"waived by {waiver.by}: {waiver.reason}{second}")
    verdict = judge_gate(batch, run, key, step, now)
    if key not in run.reopened:
        mark = run.marks.get(key)
        if mark is None and verdict.status != "met" and _before_entry(run, step.at):
            return Standing("not known", f"entered late by {run.late}{_say_stated(batch, run, step, now)}")
        if over:
            evidence = verdict.evidence or find_evidence_then(batch, run, key, step, now)
            evidence = evidence or (_said(mark, now) if mark else "met at the time")
            stands = None if step.is_for_work else verdict  # a window may close behind the work
            return Standing("done", evidence, stands)
    return Standing("done" if verdict.status == "met" else "now", verdict.evidence, verdict)


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


def _said(mark: LineMark, now: Moment) -> str:
    note = f" · {mark.note}" if mark.note else ""
    return f"{mark.by} {format_clock(mark.at, now.at)}{note}"


def say_waiver(batch: Batch, waiver: Waiver, load: int) -> str:
    """An open waiver of a load: its own, or one from an earlier load of its pieces."""
    given = batch.runs[waiver.run].load
    where = "on this load" if given == load else f"earlier, on load {given}"
    return f"Waived {where}: {waiver.title} (op {waiver.op}, {waiver.by}: {waiver.reason})"
