"""The walk of a run: begin, read, do, prove, start and end the cycle, release."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import Any

from floor.batch import events
from floor.batch.command import (
    LARGEST_VALUE,
    Context,
    Refused,
    at_line,
    must_be_current,
    refuse_closed_batch,
    require_reason,
    the_load,
    the_run,
    walk_of,
)
from floor.batch.events import make_drafts
from floor.batch.gates.judge import DISTURBANCES, GATE_RULES, count_samples, many_out, same_text
from floor.batch.gates.out_of_limits import lasts, made_since
from floor.batch.gates.verifying import verifier
from floor.batch.load import Load
from floor.batch.proof import OffsetKey
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.stations.capacity import count_places_in_use, count_places_needed
from floor.batch.stations.choice import open_stations, refuse_station
from floor.batch.stations.events import Disturbance
from floor.batch.stations.out_of_service import refuse_out_of_service
from floor.batch.walk.arrival import next_run, unmet_on_arrival
from floor.batch.walk.cycles import find_open_runs_in_cycle, find_runs_in_cycle
from floor.batch.walk.lines import Line, build_walk
from floor.checklist.gates import Counted, FirstPiece, FormField, Measured, Probed, Signed, ToolLoaded
from floor.checklist.model import Do, Station
from floor.entry import Draft
from floor.text import format_count, sanitize


@dataclass(frozen=True, slots=True)
class BeginRun:
    """Take a load to the station of its next operation."""

    load: int
    exception: str = ""
    """Why it begins although a handover is open."""
    anyway: bool = False
    """Whether it is meant although what is asked on arrival cannot be met now: the station is taken meanwhile."""
    station: str = ""
    """Where, if several can do it; left out, one of those that are free, that which is set up for it first."""

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        refuse_closed_batch(batch)
        load = the_load(batch, self.load)
        if load.run is not None:
            raise Refused("not now", f"load {load.number} is under way already", "go on where it stands")
        if not batch.find_next_pieces(load):
            raise Refused("not now", f"every piece of load {load.number} is on hold", "a lead decides on them first")
        exception = ""
        if batch.handover is not None:
            if not self.exception:
                raise Refused(
                    "handover",
                    f"{batch.handover.by} has offered the batch for handover and nobody has accepted it yet",
                    "accept the handover first, or start by exception with a reason",
                )
            exception = require_reason(self.exception, "starting a run while a handover is open")
        station = self._station(batch, load, context)
        unmet = unmet_on_arrival(batch, load, context.now, station.id)
        if unmet and not self.anyway:
            raise Refused(
                "gate",
                f"op {load.at} cannot start yet: {'; '.join(one.sentence for one in unmet)}",
                f"{unmet[0].verdict.clear}; or start anyway, and {station.name} is taken until then",
            )
        run = next_run(batch, load, context.now, station=station.id)
        held = count_places_in_use(batch, station.id) + context.elsewhere.taken(station.id)
        return make_drafts(
            events.RunBegun(
                run=run.number,
                load=load.number,
                op=run.op,
                station=station.id,
                setup=run.setup,
                new_setup=run.setup not in batch.setups,
                pieces=run.pieces,
                cycle=run.cycle,
                rework=run.rework,
                exception=exception,
                unmet="; ".join(one.sentence for one in unmet),
                lifted=lifted_for(batch, load, station, held) if station.runs_at_once > 1 else None,
            )
        )

    def _station(self, batch: Batch, load: Load, context: Context) -> Station:
        """The station that is meant; refused where the load cannot be begun there now."""
        assert load.at is not None, "a load through its leg is dissolved"
        can = batch.list_stations_for(load.at)
        if self.station and self.station not in can:
            names = ", ".join(batch.checklist.station(one).name for one in can)
            wrong = f"op {load.at} is not done at {sanitize(self.station, 40)}"
            raise Refused("unknown", wrong, f"one of: {names}")
        free = [] if self.station else open_stations(batch, load, context)
        station = self.station or (free[0] if free else can[0])
        refuse_station(batch, load, station, context)
        return batch.checklist.station(station)


def lifted_for(batch: Batch, load: Load, station: Station, held: int) -> tuple[int, ...]:
    """The loads that were probed at a station and cannot all be there still, once another comes onto it.

    Which of them made room nobody has said, so that all of them are probed again.
    """
    at_work = {run.load for run in batch.list_open_runs()}
    seated: list[int] = sorted(
        {key.load for key in batch.proofs if isinstance(key, OffsetKey) and key.station == station.id}
        & {one.number for one in batch.list_live_loads()} - at_work - {load.number}
    )
    sat = sum(count_places_needed(batch, station.id, batch.loads[number]) for number in seated)
    return tuple(seated) if held + count_places_needed(batch, station.id, load) + sat > station.runs_at_once else ()


@dataclass(frozen=True, slots=True)
class ReadCautions:
    """The person has read the cautions of the line they belong to."""

    run: int
    line: str
    """Key of the caution line."""

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        run, line = at_line(batch, self.run, self.line, context)
        step = line.key.removeprefix("caution ")
        named = tuple(name for name, _ in line.cautions)
        return make_drafts(events.CautionsRead(run=run.number, op=run.op, line=step, cautions=named))


@dataclass(frozen=True, slots=True)
class DoStep:
    run: int
    line: str
    note: str = ""

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        run, line = at_line(batch, self.run, self.line, context)
        if line.kind != "do":
            raise Refused("input", f"{line.title}: cannot simply be ticked", "enter what it asks for")
        turn = isinstance(line.step, Do) and line.step.cycle
        along = _all_at(batch, run, self.line, context) if turn else _watched_along(batch, run, line, context)
        return make_drafts(
            events.StepDone(run=run.number, op=run.op, line=self.line, note=sanitize(self.note), along=along)
        )


@dataclass(frozen=True, slots=True)
class SkipStep:
    run: int
    line: str
    why: str

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        run, line = at_line(batch, self.run, self.line, context)
        if not isinstance(line.step, Do) or line.kind != "do":
            raise Refused("input", f"{line.title}: is not skipped", "a gate is waived by a lead instead")
        if line.step.cycle:
            wrong = f"{line.title}: the cycle {line.step.cycle} with it, so it cannot be skipped"
            raise Refused("authority", wrong, "do it; if it was not done, end the cycle and decide at the count")
        if not line.step.skip:
            raise Refused("authority", f"{line.title}: may not be skipped", "do it, or put the load on hold")
        why = require_reason(self.why, "skipping a step")
        return make_drafts(
            events.StepSkipped(
                run=run.number, op=run.op, line=self.line, reason=why, along=_watched_along(batch, run, line, context)
            )
        )


@dataclass(frozen=True, slots=True)
class Prove:
    """Record what proves a gate: the values its form asks for. Values outside the limits are recorded too."""

    run: int
    line: str
    values: dict[str, Any] = field(default_factory=dict)

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        refuse_closed_batch(batch)
        run = the_run(batch, self.run)
        walked = walk_of(batch, run, context)
        line = walked.line(self.line)
        if line is None or line.kind != "gate":
            raise Refused("unknown", f'there is no gate "{self.line}" in this run', "look at the walk again")
        gate: Any = line.step
        if not (gate.gate == "lot recorded" and line.is_satisfied and run.count is None):  # a new can may be opened
            must_be_current(walked, self.line)
        if line.verdict is not None and line.verdict.status in ("wait", "blocked"):
            raise Refused("gate", f"{line.title}: {line.verdict.why}", line.verdict.clear)
        if line.verdict is not None and line.verdict.decide:
            raise Refused("gate", f"{line.title}: {line.verdict.why}", line.verdict.clear)
        values = read_values(gate, count_samples(gate, len(run.undecided)), self.values)
        if isinstance(gate, Probed):
            _refuse_a_zero_in_use(batch, run, gate, str(values.get("offset", "")))
        if isinstance(gate, Signed | FirstPiece):
            values |= verifier(batch, run, self.line, gate, str(values.get("person", "")), context)
        key = GATE_RULES[gate.gate].key(batch, run, self.line, gate)
        if gate.gate == "lot recorded" and values.get("use_by"):
            use_by = date.fromisoformat(values["use_by"])
            if use_by < context.now.at.date():
                what, other = ("calibration", "gauge") if gate.serial else ("use-by", "lot")
                raise Refused("gate", f"{gate.what}: {what} date {use_by} is past", f"take a {other} still good")
        worn = 0.0
        if isinstance(gate, ToolLoaded):  # it may have cut for others before it was loaded for this batch
            known = batch.tools.get((run.station, gate.tool))
            elsewhere = context.elsewhere.worn.get((run.station, gate.tool), 0.0)
            worn = elsewhere if elsewhere > (known.used if known else 0.0) else 0.0
        out = many_out(gate, values) if isinstance(gate, Measured) and lasts(gate, values) else 0
        before = len(made_since(batch, run, self.line, gate, run.undecided)) if out else 0
        return make_drafts(
            events.Proved(
                run=run.number,
                op=run.op,
                line=self.line,
                gate=gate.gate,
                key=key,
                values=values,
                worn=worn,
                out=out,
                before=before,
            )
        )


def _refuse_a_zero_in_use(batch: Batch, run: Run, gate: Probed, entered: str) -> None:
    """Nobody probes the zero by which another load is being cut: it is a slip, or that cycle has to stop first."""
    entered = entered.upper()
    if not entered or same_text(entered, gate.offset):
        return
    for other in batch.list_open_runs():
        zeros = [step.offset for step in batch.operation_of(other).steps if isinstance(step, Probed)]
        if other.running and other.station == run.station and any(same_text(zero, entered) for zero in zeros):
            uses = f"{batch.format_carrier(batch.loads[run.load])} uses {gate.offset}"
            raise Refused(
                "input",
                f"{batch.format_load(other.load)} is being cut by {entered} now: nobody can probe it",
                f"look again: {uses}. If {entered} was moved, stop that cycle (x)",
            )


def read_values(gate: Any, count: int, given: dict[str, Any]) -> dict[str, Any]:
    """Check what was entered against what is asked for: kind and sense, not the limits."""
    values: dict[str, Any] = {}
    asks: tuple[FormField, ...] = gate.asks()
    for ask in asks:
        entered = given.get(ask.name)
        if count > 1:
            many = entered if isinstance(entered, list | tuple) else [entered]
            if len(many) != count:
                raise Refused(
                    "input", f"{ask.label}: {format_count(len(many), 'value')} of {count} entered", "enter all of them"
                )
            values[ask.name] = [_one(ask, one) for one in many]
        else:
            one = entered[0] if isinstance(entered, list | tuple) and len(entered) == 1 else entered
            value = _one(ask, one)
            if value is not None:
                values[ask.name] = value
    return values


def _one(ask: FormField, entered: Any) -> Any:
    text = sanitize(str(entered)) if entered is not None else ""
    if not text:
        if ask.required:
            raise Refused("input", f"{ask.label}: nothing entered", f"enter {ask.band or 'it'}")
        return None
    if ask.kind in ("number", "whole"):
        try:
            number = float(text.replace(",", ".").replace("_", "?"))
        except ValueError:
            raise Refused(
                "input", f"{ask.label}: {text[:20]} is not a number", f"enter {ask.band or 'a number'}"
            ) from None
        if not -LARGEST_VALUE < number < LARGEST_VALUE:  # refuses nan too
            raise Refused("input", f"{ask.label}: {text[:20]} makes no sense", f"enter {ask.band or 'a number'}")
        if ask.kind == "whole":
            if number != int(number):
                raise Refused("input", f"{ask.label}: {text[:20]} is not a whole number", f"enter {ask.band or 'one'}")
            if number < 0 == ask.low:
                raise Refused("input", f"{ask.label}: {text[:20]} makes no sense", f"enter {ask.band or 'a number'}")
            return int(number)
        return number
    if ask.kind == "date":
        try:
            return date.fromisoformat(text).isoformat()
        except ValueError:
            raise Refused(
                "input", f"{ask.label}: {text[:20]} is not a date", "write it YYYY-MM-DD, like 2027-01-31"
            ) from None
    return text.upper() if ask.kind == "person" else text


@dataclass(frozen=True, slots=True)
class StartCycle:
    """Start the cycle; where it had stopped, let it go on from there, or anew from its beginning."""

    run: int
    anew: bool = False

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        run, _ = at_line(batch, self.run, "start", context)
        refuse_out_of_service(batch, run.station, context)
        _refuse_another_cycle(batch, run)
        stopped, along = run.stopped is not None, _all_at(batch, run, "start", context)
        return make_drafts(
            events.CycleStarted(
                run=run.number, op=run.op, along=along, anew=stopped and self.anew, resumed=stopped and not self.anew
            )
        )


def _refuse_another_cycle(batch: Batch, run: Run) -> None:
    """A machine has one spindle, however many pallets are on its bed."""
    station, mine = batch.checklist.station(run.station), find_runs_in_cycle(batch, run)
    others = [one for one in batch.list_open_runs() if one.station == run.station and one.running and one not in mine]
    if len({one.cycle or -one.number for one in others}) >= station.most_cycles:
        names = ", ".join(batch.format_load(one.load) for one in others)
        raise Refused("busy", f"{station.name} is running the cycle of {names}", "end or stop that one first")


@dataclass(frozen=True, slots=True)
class EndCycle:
    run: int

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        run, _ = at_line(batch, self.run, "end", context)
        return make_drafts(events.CycleEnded(run=run.number, op=run.op, along=_all_at(batch, run, "end", context)))


def _all_at(batch: Batch, run: Run, key: str, context: Context) -> tuple[int, ...]:
    """The other runs in the cycle of a run, which start and end with it; refused where one has not come so far."""
    others = find_open_runs_in_cycle(batch, run)
    for other in others:
        line = build_walk(batch, other, context.now).current
        if line is not None and line.key != key:
            name = batch.format_load(other.load)
            wrong = f"{name} is in this cycle too and is not ready: {line.title}"
            remedy = f"bring {name} to the same line" + (
                ", or put it back (u on its walk) and start without it" if key == "start" else ""
            )
            raise Refused("gate", wrong, remedy)
    return tuple(other.number for other in others)


def _watched_along(batch: Batch, run: Run, line: Line, context: Context) -> tuple[int, ...]:
    """The other loads of the cycle that stand at the same step of it: it is watched once for all of them."""
    if line.phase != "cycle":
        return ()
    at = [(other, build_walk(batch, other, context.now).current) for other in find_open_runs_in_cycle(batch, run)]
    return tuple(other.number for other, there in at if there is not None and there.key == line.key)


@dataclass(frozen=True, slots=True)
class Release:
    """Let a counted load go on: a small handover, so it names who and when."""

    run: int

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        run, _ = at_line(batch, self.run, "release", context)
        return make_drafts(events.Released(run=run.number, op=run.op, load=run.load))


@dataclass(frozen=True, slots=True)
class Pause:
    """Leave the run for now, with one word why; the place is kept anyway."""

    run: int
    why: str

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        refuse_closed_batch(batch)
        run = the_run(batch, self.run)
        return make_drafts(events.Paused(run=run.number, op=run.op, reason=require_reason(self.why, "a pause")))


@dataclass(frozen=True, slots=True)
class Disturb:
    """Something happened at a station that voids what was proved there."""

    station: str
    what: Disturbance
    load: int | None = None
    tool: int | None = None
    note: str = ""
    told: str = ""
    """Where another batch says it: its `Batch.format_citation` of the entry."""
    offset: str = ""
    """For a zero set anew: which work offset; empty for all of them."""

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        refuse_closed_batch(batch)
        if self.what not in DISTURBANCES:
            raise Refused("input", f'"{sanitize(self.what, 40)}" is not known', f"one of: {', '.join(DISTURBANCES)}")
        if not any(station.id == self.station for station in batch.checklist.stations):
            raise Refused("unknown", f"there is no station {sanitize(self.station, 40)}", "choose one of the list")
        if self.what == "lifted":
            the_load(batch, self.load or 0)
        if self.what == "tool changed" and batch.checklist.tool(self.tool or 0) is None:
            raise Refused("unknown", f"tool {self.tool} has no card in the checklist", "choose one of the list")
        offset = sanitize(self.offset, 40) if self.what == "rezeroed" else ""
        known = batch.checklist.station(self.station).offsets
        if offset and not any(same_text(offset, one) for one in known):
            raise Refused("unknown", f"{offset} is not a work offset of {self.station}", f"one of: {', '.join(known)}")
        # Kept so that it counts again if this is struck out: the others forget it.
        tool = (self.station, self.tool or 0)
        worn = context.elsewhere.worn.get(tool, 0.0) if self.what == "tool changed" else 0.0
        return make_drafts(
            events.Disturbed(
                station=self.station,
                what=self.what,
                load=self.load,
                tool=self.tool,
                offset=offset,
                note=sanitize(self.note),
                worn=worn,
                told=self.told,
            )
        )


@dataclass(frozen=True, slots=True)
class TakeDown:
    """Another batch sets the station up: what was proved there for this one is void."""

    station: str
    other: str

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        return make_drafts(events.SetupTakenDown(station=self.station, other=self.other))


@dataclass(frozen=True, slots=True)
class WearTools:
    """Another batch cut with tools that this one holds loaded: how far each is used up now.

    Told is where the tool stands and not what was taken, so that telling it twice takes nothing twice.
    """

    station: str
    tools: tuple[tuple[int, float], ...]
    other: str

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        known = {tool: state.used for (station, tool), state in batch.tools.items() if station == self.station}
        told = tuple((tool, used) for tool, used in self.tools if tool in known and known[tool] < used)
        return make_drafts(events.ToolWorn(station=self.station, tools=told, other=self.other)) if told else []


@dataclass(frozen=True, slots=True)
class Waive:
    """Pass a gate unproved: a lead, a reason, and where the checklist says so a second signature."""

    run: int
    line: str
    why: str
    second: str = ""

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        refuse_closed_batch(batch)
        run = the_run(batch, self.run)
        walked = walk_of(batch, run, context)
        line = walked.line(self.line)
        if line is None or line.kind != "gate":
            raise Refused("input", "only a gate is waived", "a step is skipped with a reason instead")
        gate: Any = line.step
        if gate.waive == "never":
            raise Refused("authority", f"{line.title}: may not be waived", line.verdict.clear if line.verdict else "")
        if line.verdict is not None and line.verdict.decide:
            raise Refused("gate", f"{line.title}: {line.verdict.why}", line.verdict.clear)
        context.need_lead("waiving a gate")
        must_be_current(walked, self.line)
        why = require_reason(self.why, "a waiver")
        second = context.need_second(self.second, "this waiver") if gate.waive == "lead and second" else ""
        unmet = line.verdict.why if line.verdict else ""
        return make_drafts(
            events.Waived(
                run=run.number, op=run.op, line=self.line, title=line.title, unmet=unmet, reason=why, second=second
            )
        )


@dataclass(frozen=True, slots=True)
class CloseWaiver:
    waiver: int
    why: str

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        refuse_closed_batch(batch)
        waiver = batch.waivers.get(self.waiver)
        if waiver is None or waiver.closed:
            raise Refused("unknown", "there is no such open waiver", "choose one of the list")
        context.need_lead("closing a waiver")
        return make_drafts(events.WaiverClosed(waiver=self.waiver, reason=require_reason(self.why, "closing a waiver")))


def confirm_current_line(batch: Batch, run: Run, context: Context) -> Any:
    """The command that one key stands for on the current line; None where the line asks for values or a count."""
    line = walk_of(batch, run, context).current
    if line is None:
        return None
    if line.kind == "caution":
        return ReadCautions(run.number, line.key)
    if line.kind == "do":
        return DoStep(run.number, line.key)
    if line.kind == "start":
        return StartCycle(run.number)
    if line.kind == "end":
        return EndCycle(run.number)
    if line.kind == "release":
        return Release(run.number)
    if line.kind == "gate" and line.verdict and line.verdict.status == "ask":
        gate: Any = line.step
        if not gate.asks() and not isinstance(gate, Counted) and not line.verdict.decide:
            return Prove(run.number, line.key)
    return None
