"""Commands of a walk: start a run, read, do, start and end the cycle, release."""

from __future__ import annotations

from dataclasses import replace

from floor.batch import events
from floor.batch.command import (
    Command,
    Context,
    Refused,
    refuse_closed_batch,
    require_current_line,
    require_load,
    require_reason,
    require_run,
)
from floor.batch.events import make_drafts
from floor.batch.gates.commands import Prove
from floor.batch.load import Load
from floor.batch.proof import OffsetKey
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.stations.capacity import count_places_in_use, count_places_needed, list_other_stations
from floor.batch.stations.conditions import refuse_unsafe_start
from floor.batch.stations.out_of_service import refuse_out_of_service
from floor.batch.stations.qualified_people import refuse_unqualified
from floor.batch.stations.station_choice import open_stations, refuse_station
from floor.batch.walk.any_order import is_any_order, list_later_ops
from floor.batch.walk.lines import RECHECK, Line
from floor.batch.walk.next_run import find_next_run, list_unmet_arrival_gates
from floor.batch.walk.shared_cycles import find_open_runs_in_cycle, find_runs_in_cycle
from floor.batch.walk.station_walk import build_walk, list_unread_cautions
from floor.batch.walk.words_left import list_words_left
from floor.checklist.equipment import Station
from floor.checklist.gates import Counted
from floor.checklist.operation import Do
from floor.dataclass import dataclass
from floor.entry import Draft
from floor.text import sanitize


@dataclass(frozen=True, slots=True)
class BeginRun:
    """Start a run: take a load to the station of its next operation."""

    load: int
    exception: str = ""
    """Why it starts although a handover is open."""
    anyway: bool = False
    """Whether to start although an arrival gate cannot be met now; the station is taken meanwhile."""
    station: str = ""
    """The station, if several can do it; by default a free one, preferably one already set up."""
    ahead: int | None = None
    """An operation to do before its turn; by default the load's next one."""
    ahead_why: str = ""
    """Why, where the checklist does not allow any order: a lead's word."""
    instead: str = ""
    """Why it is done at a station that the checklist does not name for it: a lead's word."""
    read: tuple[int, ...] = ()
    """The notes left on the load that were shown and are read with the start."""

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        refuse_closed_batch(batch)
        load = require_load(batch, self.load)
        if load.run is not None:
            raise Refused("not now", f"load {load.number} is under way already", "go on where it stands")
        ahead_why = self._require_may_go_ahead(batch, load, context)
        if self.ahead is not None:
            load = replace(load, ahead=self.ahead)
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
        words = self._require_words_read(batch, load)
        station, instead = self._station(batch, load, context)
        refuse_unqualified(batch, station.id, context)
        unmet = list_unmet_arrival_gates(batch, load, context.now, station.id)
        if unmet and not self.anyway:
            raise Refused(
                "gate",
                f"op {load.at} cannot start yet: {'; '.join(one.sentence for one in unmet)}",
                f"{unmet[0].verdict.clear}; or start anyway, and {station.name} is taken until then",
            )
        run = find_next_run(batch, load, context.now, station=station.id)
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
                ahead=self.ahead is not None,
                ahead_why=ahead_why,
                instead=instead,
                unmet="; ".join(one.sentence for one in unmet),
                lifted=find_loads_lifted_for(batch, load, station, held) if station.runs_at_once > 1 else None,
                read=words,
            )
        )

    def _require_words_read(self, batch: Batch, load: Load) -> tuple[int, ...]:
        """The notes left on the load; refused while one of them was not shown (HND-28)."""
        words = list_words_left(batch, load)
        unread = next((one for one in words if one.seq not in self.read), None)
        if unread is not None:
            wrong = f"{unread.by} left a note with {batch.format_load(load.number)}: {unread.text}"
            raise Refused("not now", wrong, "read it, then start again")
        return tuple(one.seq for one in words)

    def _require_may_go_ahead(self, batch: Batch, load: Load, context: Context) -> str:
        """A lead's reason to do an operation before its turn; empty where none is needed."""
        if self.ahead is None:
            return ""
        if self.ahead not in list_later_ops(batch, load):
            name, op = batch.format_load(load.number), sanitize(str(self.ahead), 8)
            wrong = f"op {op} cannot be done before op {load.at} on {name}"
            later = ", ".join(map(str, list_later_ops(batch, load)))
            raise Refused("not now", wrong, f"one of: {later}" if later else "go on with its next operation")
        if is_any_order(batch, load, self.ahead):
            return ""
        context.need_lead("another order than the list's")
        return require_reason(self.ahead_why, "another order")

    def _station(self, batch: Batch, load: Load, context: Context) -> tuple[Station, str]:
        """The station to use, and a lead's reason if it is another than the checklist's; refused if the load cannot
        start there now.

        The reason is part of the start, not an entry of its own: putting the run back, or striking it out, takes it
        back too. It is a waiver without a line: no gate passes by it, and it is shown where waivers are.
        """
        assert load.at is not None, "a load through its leg is dissolved"
        can, instead = batch.list_stations_for(load.at), ""
        if self.station and self.station in list_other_stations(batch, load.at) and self.instead:
            context.need_lead("another station than the checklist's")
            instead = require_reason(self.instead, "another station")
        elif self.station and self.station not in can:
            names = ", ".join(batch.checklist.station(one).name for one in can)
            wrong = f"op {load.at} is not done at {sanitize(self.station, 40)}"
            raise Refused("unknown", wrong, f"one of: {names}")
        free = [] if self.station else open_stations(batch, load, context)
        station = self.station or (free[0] if free else can[0])
        refuse_station(batch, load, station, context)
        return batch.checklist.station(station), instead


def find_loads_lifted_for(batch: Batch, load: Load, station: Station, held: int) -> tuple[int, ...]:
    """Probed loads that cannot all still be at a station once another comes onto it.

    Nobody says which one made room, so all are probed again.
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
    """The person has read the cautions of a line."""

    run: int
    line: str
    """Key of the caution line."""

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        run, line = require_current_line(batch, self.run, self.line, context)
        step = line.key.removeprefix("caution ")
        named = tuple(name for name, _ in line.cautions)
        return make_drafts(events.CautionsRead(run=run.number, op=run.op, line=step, cautions=named))


@dataclass(frozen=True, slots=True)
class CheckAgain:
    """After an interruption the person has looked again at the steps done before."""

    run: int

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        run, line = require_current_line(batch, self.run, RECHECK, context)
        return make_drafts(events.StepsChecked(run=run.number, op=run.op, lines=line.again))


@dataclass(frozen=True, slots=True)
class DoStep:
    run: int
    line: str
    note: str = ""

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        run, line = require_current_line(batch, self.run, self.line, context)
        refuse_unqualified(batch, run.station, context)
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
        run, line = require_current_line(batch, self.run, self.line, context)
        refuse_unqualified(batch, run.station, context)
        require_skippable(line)
        why = require_reason(self.why, "skipping a step")
        return make_drafts(
            events.StepSkipped(
                run=run.number, op=run.op, line=self.line, reason=why, along=_watched_along(batch, run, line, context)
            )
        )


def require_skippable(line: Line) -> None:
    """Refuse to pass over a gate, a step that stops or restarts the cycle, and one that the checklist never skips."""
    if not isinstance(line.step, Do) or line.kind != "do":
        waived = line.gate is not None and line.gate.waive != "never"
        instead = "a lead may waive it (w)" if waived else "do it, or set its pieces aside on hold (m)"
        raise Refused("input", f"{line.title}: cannot be skipped", instead)
    if line.step.cycle:
        wrong = f"{line.title}: the cycle {line.step.cycle} here, so it cannot be skipped"
        raise Refused("authority", wrong, "do it; if it was not done, end the cycle and decide at the count", signs="")
    if not line.step.skip:
        instead = "do it, or set its pieces aside on hold (m)"
        raise Refused("authority", f"{line.title}: may not be skipped", instead, signs="")


@dataclass(frozen=True, slots=True)
class StartCycle:
    """Start the cycle; after a stop, continue it or restart it."""

    run: int
    anew: bool = False

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        run, _ = require_current_line(batch, self.run, "start", context)
        refuse_unqualified(batch, run.station, context)
        refuse_out_of_service(batch, run.station, context)
        refuse_unsafe_start(batch, run.station, context)
        _refuse_another_cycle(batch, run)
        stopped, along = run.stopped is not None, _all_at(batch, run, "start", context)
        return make_drafts(
            events.CycleStarted(
                run=run.number, op=run.op, along=along, anew=stopped and self.anew, resumed=stopped and not self.anew
            )
        )


def _refuse_another_cycle(batch: Batch, run: Run) -> None:
    """Refuse a second cycle: a machine has one spindle, however many pallets are on its bed."""
    station, mine = batch.checklist.station(run.station), find_runs_in_cycle(batch, run)
    others = [one for one in batch.list_open_runs() if one.station == run.station and one.running and one not in mine]
    if len({one.cycle or -one.number for one in others}) >= station.most_cycles:
        names = ", ".join(batch.format_load(one.load) for one in others)
        raise Refused("busy", f"{station.name} is running the cycle of {names}", "end or stop that one first")


@dataclass(frozen=True, slots=True)
class EndCycle:
    """End the cycle. Before its planned end no caution line stands before it: its cautions are read with it."""

    run: int
    cautions_read: bool = False
    """Whether the person was shown them with the question and has read them."""

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        run, line = require_current_line(batch, self.run, "end", context)
        unread = list_unread_cautions(batch, run, line, context.by.initials, context.now)
        if unread and not self.cautions_read:
            words = ", ".join(unread)
            raise Refused("not now", f"{line.title}: its cautions are not read yet ({words})", "read them first")
        ended = events.CycleEnded(run=run.number, op=run.op, along=_all_at(batch, run, "end", context))
        read = events.CautionsRead(run=run.number, op=run.op, line=line.key, cautions=unread)
        return [*(make_drafts(read) if unread else []), *make_drafts(ended)]


def _all_at(batch: Batch, run: Run, key: str, context: Context) -> tuple[int, ...]:
    """The other runs that start and end their cycle with a run; refused if one is not ready."""
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
    """The other loads at the same step of the cycle: it is watched once for all of them."""
    if line.phase != "cycle":
        return ()
    at = [(other, build_walk(batch, other, context.now).current) for other in find_open_runs_in_cycle(batch, run)]
    return tuple(other.number for other, there in at if there is not None and there.key == line.key)


@dataclass(frozen=True, slots=True)
class Release:
    """Let a counted load go on. It names who and when, like a small handover."""

    run: int

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        run, _ = require_current_line(batch, self.run, "release", context)
        return make_drafts(events.Released(run=run.number, op=run.op, load=run.load))


@dataclass(frozen=True, slots=True)
class Pause:
    """Pause the run, with a reason; the place is kept anyway."""

    run: int
    why: str

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        refuse_closed_batch(batch)
        run = require_run(batch, self.run)
        return make_drafts(events.Paused(run=run.number, op=run.op, reason=require_reason(self.why, "a pause")))


def confirm_line(run: Run, line: Line) -> Command | None:
    """The command that Enter gives on a line of the run; None if the line asks for values or a count."""
    if line.kind == "caution":
        return ReadCautions(run.number, line.key)
    if line.kind == "recheck":
        return CheckAgain(run.number)
    if line.kind == "do":
        return DoStep(run.number, line.key)
    if line.kind == "start":
        return StartCycle(run.number)
    if line.kind == "end":
        return EndCycle(run.number)
    if line.kind == "release":
        return Release(run.number)
    gate = line.gate
    if gate is not None and line.verdict and line.verdict.status == "ask" and not line.verdict.decide:
        return None if gate.asks() or isinstance(gate, Counted) else Prove(run.number, line.key)
    return None
