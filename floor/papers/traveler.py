"""The traveler: the walk of one load on paper with its present marks, for working on by hand.

The lines match the screen: same numbers, wording and order (NUREG-0700: backup; screen and paper agree).
"""

from __future__ import annotations

from dataclasses import replace

from floor.batch.gates.check_values import list_texts
from floor.batch.gates.setup_sheet import find_own_offset
from floor.batch.load import Load
from floor.batch.proof import Setup
from floor.batch.run import Run
from floor.batch.search.recorded_lots import find_lots_struck_out
from floor.batch.state import Batch
from floor.batch.walk.lines import Line, LineState, Walk, find_phase_title
from floor.batch.walk.load_clocks import list_load_clocks
from floor.batch.walk.next_run import find_own_rework
from floor.batch.walk.station_walk import build_walk
from floor.batch.walk.words_left import list_words_left
from floor.checklist.model import Checklist
from floor.checklist.operation import Do
from floor.checklist.step_references import (
    describe_gauge,
    describe_missing_guard,
    find_limits,
    find_source,
    list_caution_sources,
)
from floor.entry import Moment
from floor.papers.page import Paper, begin_paper, format_stamp
from floor.text import WIDTH, count_cells, format_count

BOXES: dict[LineState, str] = {
    "done": "[x]",
    "skipped": "[-]",
    "waived": "[W]",
    "not needed": "[=]",
    "not known": "[?]",
    "now": "[ ]>",
    "waits": "[ ]>",
    "blocked": "[ ]>",
    "reopened": "[ ]>",
    "ahead": "[ ]",
}
HOLD_POINT = "[ ]H"
"""Of what must be proved before work goes on, ahead."""
CORRECTIONS = 3
"""Corrections that the paper has room for."""
LEGEND = "[x] done  [ ] to do  H hold point  > where it stands  [-] skipped  [W] waived  [=] not needed  [?] not known"


def write_traveler(batch: Batch, load_number: int, now: Moment, head_hash: str) -> str:
    """The load's walk through its present operation, or else its next one.

    Raises:
        KeyError: no such load.
        ValueError: the load is finished and its carrier empty.
    """
    load = batch.loads[load_number]
    if load.dissolved is not None or load.at is None:
        raise ValueError(f"load {load_number} is finished: its pieces have gone on")
    begun = load.run is not None
    walked = (
        build_walk(batch, batch.runs[load.run], now)
        if load.run is not None
        else preview_walk(batch, load, load.at, now)
    )
    run = walked.run
    paper = begin_paper("TRAVELER", batch, now, head_hash)
    operation = walked.operation
    paper.say(f"Op {run.op} {operation.title}: {batch.format_carrier(load)}, load {load.number}", "")
    state = f"started {format_stamp(run.begun, now)} {run.began_by}" if begun else "not started yet"
    station = batch.checklist.station(run.station)
    program = f", program {operation.program}" if operation.program else ""
    offset = find_own_offset(batch, run)
    offset = f", work offset {offset}" if offset else ""
    paper.say(f"{station.name}{program}{offset}; {state}; step {walked.step} of {walked.steps}", "")
    if limits := find_limits(station):
        paper.say(f"{station.name}: {limits}", "")
    if batch.checklist.part.drawing:
        paper.say(f"drawing: {batch.checklist.part.drawing}", "")
    _limits(paper, batch, load, now)
    _pieces(paper, batch, load, run)
    _lines(paper, batch.checklist, walked)
    paper.title("Count by hand")
    paper.say("went in ____ = good ____ + scrap ____ + rework ____ + hold ____")
    for reason in operation.reasons:
        paper.say(f"{reason.text} ({reason.to}, {reason.code}): places ____________________", "  - ")
    _corrections(paper)
    _more(paper, walked)
    paper.lines.append("")
    paper.say(LEGEND, "")
    paper.say(batch.checklist.part.notice, "")
    return paper.text()


def preview_walk(batch: Batch, load: Load, op: int, now: Moment) -> Walk:
    """The walk as it would start now, on a throwaway copy of the state."""
    station = batch.list_stations_for(op)[0]
    standing = batch.find_setup(station)
    setup = standing if standing is not None and standing.op == op else Setup(0, station, op, now.at)
    rework = find_own_rework(batch, load) if op == load.at else ""
    run = Run(
        0, load.number, op, station, setup.number, batch.find_next_pieces(load), now.at, "", batch.seq, rework=rework
    )
    setups, runs = {**batch.setups, setup.number: setup}, {**batch.runs, 0: run}
    return build_walk(replace(batch, setups=setups, runs=runs), run, now)


def _limits(paper: Paper, batch: Batch, load: Load, now: Moment) -> None:
    """Open waivers first, lots nobody knows any more, words left for whoever takes it next, then its running clocks."""
    for waiver in batch.list_open_waivers(load):
        paper.say(f"WAIVED: op {waiver.op} {waiver.title}, by {waiver.by}: {waiver.reason}", "! ")
    for (number, what), said in find_lots_struck_out(batch).items():
        if not set(load.pieces).isdisjoint(batch.runs[number].pieces):
            paper.say(f"op {batch.runs[number].op} {what}: {said}", "! ")
    for word in list_words_left(batch, load):
        paper.say(f"left by {word.by}, op {word.op}, {format_stamp(word.at, now)}: {word.text}", "! ")
    for one in list_load_clocks(batch, load, now):
        paper.say(f"timer {one.sentence}", "* ")


def _pieces(paper: Paper, batch: Batch, load: Load, run: Run) -> None:
    names = [batch.format_slot(load, piece) for piece in run.pieces]
    named = [name for name in names if name]
    paper.say(format_count(len(run.pieces), "piece") + (f": {' '.join(named)}" if named else ", loose"), "")
    if sitting := batch.format_sitting_pieces(load):
        paper.say(sitting, "")


def _lines(paper: Paper, checklist: Checklist, walked: Walk) -> None:
    phase, number, at_caution = "", 0, False
    for line in walked.lines:
        if line.phase != phase:
            phase = line.phase
            paper.title(find_phase_title(walked.operation, line.phase))
        if line.kind == "caution":
            _cautions(paper, line)
            at_caution = line is walked.current
            continue
        if line.cautions and line.step is None and walked.line(f"caution {line.key}") is None:
            _cautions(paper, line)  # on screen they are read with it, or once it is due
        if line.kind == "recheck":
            _line(paper, checklist, line, f"    {BOXES[line.state]:<5}")
            continue
        number += 1
        ahead = HOLD_POINT if line.is_hold_point_ahead else BOXES[line.state]
        _line(paper, checklist, line, f"{number:>3} {BOXES['now'] if at_caution else ahead:<5}")
        at_caution = False


def _line(paper: Paper, checklist: Checklist, line: Line, lead: str) -> None:
    right = line.evidence
    if not right and not line.is_satisfied:
        right = "________" if line.kind in ("do", "start", "end", "release") else "________________"
    if count_cells(lead) + count_cells(line.title) + count_cells(right) + 2 <= WIDTH:
        gap = WIDTH - count_cells(lead) - count_cells(line.title) - count_cells(right)
        paper.lines.append(f"{lead}{line.title}{' ' * gap}{right}")
    else:
        paper.say(line.title, lead)
        if right:
            paper.say(right, " " * count_cells(lead))
    if line.state in ("blocked", "waits") and line.verdict is not None:
        paper.say(f"{line.verdict.why}. {line.verdict.clear}", " " * count_cells(lead) + "! ")
    if line.is_satisfied or line.step is None or isinstance(line.step, Do):
        return
    for said in filter(None, (describe_gauge(checklist, line.step), find_source(checklist, line.step))):
        paper.say(said, " " * count_cells(lead))
    _read_last(paper, line, " " * count_cells(lead))
    for ask in line.step.asks():
        answer = f" ({ask.answer})" if ask.answer else ""
        paper.say(f"{ask.label}{answer}: ____________", " " * count_cells(lead))


def _read_last(paper: Paper, line: Line, indent: str) -> None:
    """The last reading at a line that did not pass, so nobody measures as if nothing were known."""
    verdict = line.verdict
    if verdict is None or verdict.proof is None or isinstance(line.step, Do) or line.step is None:
        return
    for ask in line.step.asks():
        if ask.name in verdict.proof.values:
            read = ", ".join(list_texts(verdict.proof.values, ask.name))
            paper.say(f"read {ask.label}: {read} ({verdict.proof.by})", f"{indent}! ")
    if line.state not in ("blocked", "waits"):
        undecided = "to be decided: " if verdict.decide else ""
        paper.say(f"{undecided}{verdict.why}: {verdict.clear}", f"{indent}! ")


def _corrections(paper: Paper) -> None:
    """Room to correct by hand what was written wrong (EU GMP chapter 4, as quoted by others)."""
    paper.title("Corrections by hand")
    paper.say("Draw one line through the error so that it stays readable, then write:")
    for _ in range(CORRECTIONS):
        paper.say("step ____ is __________ because ______________ initials ____ date ________", "  - ")


def _more(paper: Paper, walked: Walk) -> None:
    """How and why of the steps that are still to be done, for who asks."""
    told = [
        (number, line.title, line.step.more)
        for number, line in enumerate((line for line in walked.lines if line.is_step), 1)
        if line.step is not None and line.step.more and not line.is_satisfied
    ]
    if told:
        paper.title("How and why")
    for number, title, more in told:
        paper.say(title, f"{number:>3} ")
        for text in more:
            paper.say(text, "    ")


def _cautions(paper: Paper, line: Line) -> None:
    """The signal word and its lines, right before their step."""
    for _, caution in line.cautions:
        paper.say(f"{caution.word}: {caution.hazard}", "    *** ")
        if caution.consequence:
            paper.say(caution.consequence, "        ")
        paper.say(caution.avoid, "        ")
        if missing := describe_missing_guard(caution):
            paper.say(missing, "        ")
        paper.say(list_caution_sources([caution]), "        ")
