"""One line of history for people, for each kind of entry."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from floor.batch.blind import blind
from floor.batch.events import LateRow
from floor.batch.gates import DISTURBANCES, outside, said, same_text
from floor.batch.late import Told, say_sum
from floor.batch.reliance import after_strike, line_title
from floor.batch.run import Run
from floor.batch.said import clock_time, plural, span, wall_time
from floor.batch.state import Batch
from floor.checklist.frozen import thaw
from floor.checklist.gates import Gate, ProgramLoaded
from floor.checklist.model import Do
from floor.entry import Entry, parse_wall


@dataclass(frozen=True, slots=True)
class Description:
    """What an entry says, in parts, so that nobody has to take a sentence apart again."""

    at: str
    """The load and operation whose run it belongs to; empty where it belongs to none, or says so itself."""
    what: str
    paper: str = ""
    """Where it was entered from paper: both times, and who saw the paper."""
    struck: int | None = None
    """The entry that struck it out."""

    @property
    def here(self) -> str:
        """For a reader who sees already where it was and whether it stands."""
        return f"{self.what} ({self.paper})" if self.paper else self.what

    @property
    def standing(self) -> str:
        """Without the mark of being struck out, for a reader to whom that is said in another way."""
        return f"{self.at}: {self.here}" if self.at else self.here

    def __str__(self) -> str:
        return f"{self.standing} (struck out)" if self.struck is not None else self.standing


def describe(batch: Batch, entry: Entry) -> str:
    """What the entry says, in the shop's words, without who and when."""
    return str(describe_parts(batch, entry))


def describe_parts(batch: Batch, entry: Entry) -> Description:
    """The same, in its parts."""
    body = entry.body
    paper = ""
    if "acted" in body and entry.kind != "entered_late":
        done, entered = (wall_time(at, entry.time.date()) for at in (entry.done, entry.time))
        seen = f", {body['seen_by']} saw it" if body.get("seen_by") else ""
        paper = f"from paper: done {done}, entered {entered}{seen}"
    return Description(_at(batch, entry), DESCRIBED[entry.kind](batch, body), paper, batch.struck.get(entry.seq))


def describe_proof(batch: Batch, entry: Entry) -> str:
    """A proof among others of its run: its title, and its values; a bare confirmation goes without saying."""
    body, said = entry.body, describe_parts(batch, entry)
    if said.paper or _values(batch, body) or _afterthoughts(batch, body):
        return said.here
    return replace(said, what=_line(batch, body)).here


def _at(batch: Batch, entry: Entry) -> str:
    run = batch.runs.get(entry.body.get("run", 0))
    return f"load {run.load}, op {run.op}" if run and entry.kind not in NAMES_ITS_LOAD else ""


def _along(batch: Batch, body: dict[str, Any]) -> str:
    """``, with load 4``: the other loads that one cycle took."""
    others = [str(batch.runs[run].load) for run in body.get("along", ()) if run in batch.runs]
    return f", with load {', '.join(others)}" if others else ""


def _line(batch: Batch, body: dict[str, Any]) -> str:
    """The title of the line an entry is about."""
    run = batch.runs.get(body.get("run", 0))
    if run is None:
        return str(body.get("line", ""))
    return line_title(batch, run, body["line"])


def _proved(batch: Batch, body: dict[str, Any]) -> str:
    return f"{_line(batch, body)}: {_values(batch, body) or 'confirmed'}{_afterthoughts(batch, body)}"


def _values(batch: Batch, body: dict[str, Any]) -> str:
    gate = _gate(batch, body)
    return said(gate.asks(), body["values"]) if gate is not None else ""


def _afterthoughts(batch: Batch, body: dict[str, Any]) -> str:
    """What has to be known of a proof beside its values."""
    run, gate = batch.runs.get(body.get("run", 0)), _gate(batch, body)
    self_check = " (self-check)" if body["values"].get("self") else ""
    return self_check + (_refused(batch, run, gate, body["values"]) if run is not None and gate is not None else "")


def _gate(batch: Batch, body: dict[str, Any]) -> Gate | None:
    run = batch.runs.get(body.get("run", 0))
    step = batch.operation_of(run).step(body["line"]) if run else None
    return None if isinstance(step, Do) else step


def _refused(batch: Batch, run: Run, gate: Gate, values: dict[str, Any]) -> str:
    """Said of what was entered and did not do, so that nobody takes it for a value that was accepted."""
    amiss = bool(outside(gate.asks(), values))
    if isinstance(gate, ProgramLoaded):
        amiss = not same_text(str(values.get("program", "")), batch.operation_of(run).program)
    return " ✕ not accepted" if amiss else ""


def _counted(batch: Batch, body: dict[str, Any]) -> str:
    parts = [f"{body['good']} good"]
    for mark in body["marks"]:
        where = f" at {', '.join(mark['places'])}" if mark.get("places") else ""
        note = f" ({mark['note']})" if mark.get("note") else ""
        parts.append(f"{len(mark['pieces'])} {mark['to']} {mark['reason']}{where}{note}")
    return f"counted {body['in']}: {', '.join(parts)}"


def _entered_late(batch: Batch, body: dict[str, Any]) -> str:
    rows = [Told.read(thaw(LateRow, row), batch.opened) for row in body["rows"]]
    as_of = wall_time(parse_wall(body["acted"], batch.opened))
    seen = f", {body['seen_by']} saw the papers" if body.get("seen_by") else ""
    proved = f", {plural(len(body['proofs']), 'proof')}" if body["proofs"] else ""
    return f"entered late, as of {as_of}{seen}: {say_sum(rows)}{proved}"


def proofs_told(batch: Batch, now: datetime) -> list[str]:
    """What was told to be proved when a batch was entered late: by whom and when."""
    found = []
    for entry in batch.entries:
        for one in entry.body["proofs"] if entry.kind == "entered_late" and entry.seq not in batch.struck else ():
            gate: Any = batch.operation(one["op"]).step(one["line"])
            when = clock_time(parse_wall(one["at"], now), now)
            values = said(gate.asks(), one["values"]) or "confirmed"
            found.append(f"op {one['op']} {gate.title()}: {values} · {one['by']} {when}")
    return found


def _loaded(batch: Batch, body: dict[str, Any]) -> str:
    carrier = batch.checklist.carrier(body["carrier"]).label(body["number"])
    count = sum(1 for piece in body["slots"] if piece is not None)
    rework = " for rework" if body.get("rework") else ""
    return f"load {body['load']}: {plural(count, 'piece')} on {carrier} for op {body['op']}{rework}"


def _begun(batch: Batch, body: dict[str, Any]) -> str:
    setup = ", new set-up" if body["new_setup"] else ""
    exception = f", by exception: {body['exception']}" if body.get("exception") else ""
    rework = ", rework" if body.get("rework") else ""
    unmet = f", although {body['unmet']}" if body.get("unmet") else ""
    joined = [str(run.load) for run in batch.runs.values()
              if run.cycle == body.get("cycle") and run.number < body["run"] and not run.put_back]  # fmt: skip
    joint = f", for one cycle with load {' and '.join(joined)}" if joined else ""
    return f"load {body['load']}: op {body['op']} begun at {body['station']}{setup}{joint}{rework}{exception}{unmet}"


def _put_back(batch: Batch, body: dict[str, Any]) -> str:
    falls = f"; {plural(body['falls'], 'line')} of its walk to be done again" if body.get("falls") else ""
    return f"put back, nothing done to the pieces{falls}"


def _stopped(batch: Batch, body: dict[str, Any]) -> str:
    ago = f", {span(body['ago'])} before this was entered" if body.get("ago") else ""
    more = [f"tool {body['tool']}"] if body.get("tool") else []
    more += [body["note"]] if body.get("note") else []
    said = f"cycle stopped{_along(batch, body)}: {body['why']}{ago}"
    return said + (f" ({', '.join(more)})" if more else "")


def _disturbed(batch: Batch, body: dict[str, Any]) -> str:
    what = DISTURBANCES[body["what"]]
    more = [f"load {body['load']}"] if body.get("load") else []
    more += [f"tool {body['tool']}"] if body.get("tool") else []
    more += [body["offset"]] if body.get("offset") else []
    more += [body["note"]] if body.get("note") else []
    return f"{body['station']}: {what}" + (f" ({', '.join(more)})" if more else "")


def _worn(batch: Batch, body: dict[str, Any]) -> str:
    tools = [f"tool {number} {_used(batch, number, used)}" for number, used in body["tools"]]
    return f"{body['station']}: {', '.join(tools)}, after a cycle of {body['from']}"


def _used(batch: Batch, number: int, used: float) -> str:
    card = batch.checklist.tool(number)
    whole = card.life.base if card is not None and card.life is not None else 0.0
    return f"{100 * used / whole:.0f} % used up" if whole else "used further"


def _named(batch: Batch, body: dict[str, Any]) -> str:
    return next((one.name for one in batch.checklist.stations if one.id == body["station"]), body["station"])


def _out_of_service(batch: Batch, body: dict[str, Any]) -> str:
    back = f", expected back {wall_time(parse_wall(body['back'], batch.opened))}" if "back" in body else ""
    return f"{_named(batch, body)} is out of service: {body['why']}{back}"


def _waived(batch: Batch, body: dict[str, Any]) -> str:
    second = f", {body['second']} signed too" if body.get("second") else ""
    return f"{body['title']} waived: {body['reason']}{second}"


def _aside(batch: Batch, body: dict[str, Any]) -> str:
    where = f"load {body['load']}" if body.get("load") else f"waiting for op {body.get('op')}"
    if body.get("of_run"):
        where = f"of run {body['of_run']}"
    pieces = body.get("where") or plural(len(body["pieces"]), "piece")
    return f"{where}: {pieces} set aside as {body['to']}: {body['reason']}"


def _taken_out(batch: Batch, body: dict[str, Any]) -> str:
    where = f" waiting for op {body['op']}" if body.get("op") else ""
    where = f" of load {body['load']}" if body.get("load") else where
    how = "kept as spares" if body["to"] == "spare" else "stopped"
    return f"order filled: {plural(len(body['pieces']), 'piece')}{where} {how}: {body['reason']}"


def _goes_on(batch: Batch, body: dict[str, Any]) -> str:
    until = "" if body["until"] == batch.checklist.operations[-1].op else f" up to op {body['until']}"
    return f"order filled: pieces in work go on{until}: {body['reason']}"


def _struck(batch: Batch, body: dict[str, Any]) -> str:
    let_through = after_strike(batch, body)
    return f"entry {body['seq']} struck out: {body['reason']}" + (f"; {let_through}" if let_through else "")


def _noted(batch: Batch, body: dict[str, Any]) -> str:
    mark = "for the next shift: " if body.get("next_shift") else "abnormal: " if body.get("abnormal") else "note: "
    return f"{mark}{body['text']}"


Say = Callable[[Batch, dict[str, Any]], str]

NAMES_ITS_LOAD = {"run_begun"}
"""Of the kinds that belong to a run, those whose own words say which load it is."""

DESCRIBED: dict[str, Say] = {
    "batch_opened": lambda batch, b: f"batch {b['id']} opened: {b['order']} of {batch.checklist.part.number}",
    "pieces_started": lambda batch, b: f"{plural(b['count'], 'piece')} started",
    "entered_late": _entered_late,
    "load_formed": _loaded,
    "run_begun": _begun,
    "run_put_back": _put_back,
    "cautions_read": lambda batch, b: f"cautions read: {', '.join(b['cautions'])}",
    "step_done": lambda batch, b: (
        f"{_line(batch, b)}" + (f" ({b['note']})" if b.get("note") else "") + _along(batch, b)
    ),
    "step_skipped": lambda batch, b: f"{_line(batch, b)} skipped: {b['reason']}{_along(batch, b)}",
    "proved": _proved,
    "cycle_started": lambda batch, b: "cycle "
    + ("resumed" if b.get("resumed") else "started over" if b.get("anew") else "started")
    + _along(batch, b),
    "cycle_stopped": _stopped,
    "cycle_ended": lambda batch, b: f"cycle ended{_along(batch, b)}",
    "counted": _counted,
    "released": lambda batch, b: "released",
    "paused": lambda batch, b: f"paused: {b['reason']}",
    "disturbed": _disturbed,
    "setup_taken_down": lambda batch, b: f"{b['station']}: set-up taken down for {b['for']}",
    "tool_worn": _worn,
    "out_of_service": _out_of_service,
    "back_in_service": lambda batch, b: (
        f"{_named(batch, b)} is back in service" + (f": {b['note']}" if b.get("note") else "")
    ),
    "waived": _waived,
    "waiver_closed": lambda batch, b: f"waiver {b['waiver']} closed: {b['reason']}",
    "disposed": lambda batch, b: (
        f"{plural(len(b['pieces']), 'held piece')}: {b['decision']}"
        + (", the rework waived" if b.get("waives_rework") else "")
        + f", {b['reason']}"
        + (f" ({b['where']})" if b.get("where") else "")
    ),
    "lot_opened": lambda batch, b: (
        f"new: {b['what']} {b['lot']}"
        + (f", {b['use_by']}" if b.get("use_by") else "")
        + (f", goes into load {', '.join(map(str, b['into']))}" if b["into"] else "")
    ),
    "out_decided": lambda batch, b: (
        f"{b['where']} was out of limits: {b['to']}, {b['reason']}"
        + (f" ({b['note']})" if b.get("note") else "")
    ),
    "before_decided": lambda batch, b: (
        f"{b['hold']} of {b['of']} made since the last good check put on hold"
        + (f", the others not: {b['reason']}" if b.get("reason") else "")
    ),
    "measured_again": lambda batch, b: (
        f"the same piece measured again: {b['value']}, {b['reason']}"
        + ("" if b.get("good") else " ✕ out of limits again")
    ),
    "out_settled": lambda batch, b: f"reading of entry {b['out']} decided: {b['how']}, {b['reason']}",
    "set_aside": _aside,
    "surplus_taken_out": _taken_out,
    "surplus_brought_back": lambda batch, b: (
        f"{plural(len(b['pieces']), 'piece')} back in work at op {b['op']}: {b['reason']}"
    ),
    "surplus_goes_on": _goes_on,
    "taken_off": lambda batch, b: f"taken off the carrier: {b['where']}",
    "noted": _noted,
    "struck_out": _struck,
    "unproved_settled": lambda batch, b: f"left unproved by entry {b['strike']}, decided: {b['how']}, {b['reason']}",
    "clock_confirmed": lambda batch, b: f"the clock is right: {b['reason']}",
    "handover_offered": lambda batch, b: (
        ("left alone" if b["unattended"] else "handover offered") + (f": {b['remarks']}" if b["remarks"] else "")
    ),
    "handover_withdrawn": lambda batch, b: "handover withdrawn",
    "carrier_counted": lambda batch, b: (
        f"{b['subject']}: counted {b['found']}"
        + (", to be counted again" if b["subject"] in blind(batch) else f", recorded {b['expected']}")
    ),
    "page_read": lambda batch, b: "handover page read",
    "read_back": lambda batch, b: f"read back: {b['text']}",
    "question_asked": lambda batch, b: f"asked: {b['text']}",
    "question_answered": lambda batch, b: f"answered: {b['text']}",
    "handover_accepted": lambda batch, b: f"taken over from {b['from']}",
    "difference_resolved": lambda batch, b: f"difference {b['difference']} resolved: {b['how']}",
    "batch_closed": lambda batch, b: (
        f"closed with {b['finished']} finished"
        + (f", {plural(b['spare'], 'spare')}" if b.get("spare") else "")
        + (f", {b['stopped']} stopped" if b.get("stopped") else "")
        + (f": {b['reason']}" if b.get("reason") else "")
    ),
    "gone_over": lambda batch, b: f"gone over to {b['to']}",
    "taken_in": lambda batch, b: f"taken in here: {b['reason']}" if b.get("reason") else "taken in here",
}
