"""Entering a batch that is already half done.

Two pallets of one running cycle are entered as two cycles, each at the usual station of its operation.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any

from floor.batch import events
from floor.batch.command import (
    Context,
    Refused,
    refuse_closed_batch,
    require_reason,
    require_whole_number,
    require_within_ten_years,
)
from floor.batch.events import make_drafts
from floor.batch.gates.gauges import check_gauges
from floor.batch.gates.proof_keys import find_proof_key
from floor.batch.gates.proof_readers import read_proof
from floor.batch.gates.samples import count_samples
from floor.batch.gates.soak_readings import WorkSpan
from floor.batch.gauge import look_back
from floor.batch.lifecycle.half_done import PaperProof, PlacedPieces, list_clocks_to_enter
from floor.batch.proof import RunKey, SetupKey, ShiftKey, StationShiftKey, is_past_use_by, read_use_by_date
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.checklist.equipment import Carrier
from floor.checklist.gates import Cured, Gate, LotRecorded, Probed, ToolLoaded
from floor.checklist.model import Checklist
from floor.checklist.operation import Do
from floor.dataclass import dataclass
from floor.entry import Draft, format_wall
from floor.text import format_clock, format_count

LOST = "enter where they are, or on hold if nobody knows"


@dataclass(frozen=True, slots=True)
class EnterLate:
    """Where every piece of a batch was at one moment, before its record starts.

    On one person's word, a running timer counts from the entry toward its earliest end and from the stated time toward
    its latest; with a second person who saw the papers, from the stated time. If the start is unknown, it counts from
    the entry toward its earliest end, and a closing window counts as closed.
    """

    rows: tuple[PlacedPieces, ...]
    at: datetime
    """The moment it describes, aware."""
    shown: tuple[PaperProof, ...] = ()
    second: str = ""

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        refuse_closed_batch(batch)
        context.need_lead("entering a half-done batch")
        first, now = batch.checklist.operations[0].op, context.now.at
        if batch.late is not None or batch.loads or len(batch.waiting(first)) < batch.started:
            raise Refused("not now", f"work on {batch.id} is already on record", "enter what is missing from paper (x)")
        require_within_ten_years(self.at, now, "enter the time this was true")
        _past(self.at, now, "as of")
        second = context.need_second(self.second, "entering from the papers") if self.second.strip() else ""
        rows = tuple(_checked(batch, row, self.at, context) for row in self.rows)
        _carriers(batch, rows, context)
        _stations(batch, rows, context)
        told = sum(row.count for row in rows)
        if told != batch.started:
            off = format_count(abs(told - batch.started), "piece")
            wrong = f"{batch.started} pieces started, {told} accounted for: {off} "
            if told < batch.started:
                raise Refused("count", f"{wrong}missing", LOST)
            raise Refused("count", f"{wrong}too many", "count again")
        setups = _setups(batch, rows, self.shown)
        body, runs = _rows(batch, rows, setups)
        return make_drafts(
            events.EnteredLate(
                acted=format_wall(self.at),
                rows=body,
                seen_by=second,
                setups=tuple(events.LateSetup(setup=number, station=at, op=op) for at, (number, op) in setups.items()),
                proofs=tuple(_proof(batch, one, rows, runs, setups, self.at, context) for one in self.shown),
            )
        )


def _past(at: datetime, until: datetime, what: str, field: str = "") -> None:
    if at > until:
        raise Refused(
            "input",
            f"{what} {format_clock(at, until)} is later than {format_clock(until, until)}",
            "enter the time on the papers",
            field=field,
        )


def find_row_fault(batch: Batch, row: PlacedPieces, at: datetime, context: Context) -> Refused | None:
    """What is wrong with one row by itself; None if nothing."""
    try:
        _carriers(batch, (_checked(batch, row, at, context),), context)
    except Refused as refused:
        return refused
    return None


def _checked(batch: Batch, row: PlacedPieces, at: datetime, context: Context) -> PlacedPieces:
    """One row with its defaults filled in."""
    checklist = batch.checklist
    require_whole_number(row.count, "the pieces", 1, field="count")
    if row.what not in ("load", "waiting", "hold", "scrap", "finished"):
        raise Refused("input", f"{row.what} is not a place for pieces", "one of: load, waiting, hold, scrap, finished")
    if row.what == "finished":
        return PlacedPieces("finished", row.count)
    if row.op not in checklist.ops:
        raise Refused("unknown", f"there is no op {row.op} in the route", "enter the number of an operation")
    if row.what in ("hold", "scrap"):
        code = batch.operation(row.op).reason(row.reason)
        why = code.code if code else require_reason(row.reason, "a piece that is not good")
        row = PlacedPieces(row.what, row.count, row.op, reason=why, clocks=row.clocks)
    if row.rework:
        _need_rework(batch, row)
    elif batch.operation(row.op).rework_only and row.what != "scrap":
        raise Refused(
            "input",
            f"only reworked pieces pass op {row.op}",
            "enter them there as in rework; put them on hold afterwards",
        )
    if row.what == "load":
        row = _checked_load(batch, row, at)
    return replace(row, clocks=_checked_clocks(checklist, row, at))


def _checked_clocks(checklist: Checklist, row: PlacedPieces, at: datetime) -> tuple[tuple[str, datetime | None], ...]:
    """The clocks of the pieces of a row, each with its start; held pieces may leave them open.

    Those that must be stated come first, then what else was, as of a wait that was over before the cycle.
    """
    known = dict(row.clocks)
    wanted = [clock.id for clock in list_clocks_to_enter(checklist, row)]
    stated = [clock for clock in list_clocks_of_waiting(checklist, row) if clock in known and clock not in wanted]
    odd = set(known) - {*wanted, *stated}
    if odd:
        raise Refused("unknown", f"clock {min(odd)} does not matter there", "leave it out")
    for clock in (*wanted, *stated):
        if clock not in known and row.what != "hold":
            raise Refused(
                "input", f"{clock}: no time entered", "enter when it started, or ? if nobody knows", field=clock
            )
        if (began := known.get(clock)) is not None:
            require_within_ten_years(began, at, "enter when it started", clock)
            _past(began, at, f"{clock} since", clock)
    return tuple((clock, known.get(clock)) for clock in (*wanted, *stated))


def list_clocks_of_waiting(checklist: Checklist, row: PlacedPieces) -> list[str]:
    """The clocks that mattered before the cycle of a row began, and may be stated all the same."""
    before = list_clocks_to_enter(checklist, replace(row, stands="waits")) if row.what == "load" else []
    return [clock.id for clock in before]


def _need_rework(batch: Batch, row: PlacedPieces) -> None:
    route = batch.checklist.rework(row.rework)
    if route is None:
        known = ", ".join(one.id for one in batch.checklist.reworks) or "the checklist has none"
        raise Refused("unknown", f"there is no rework {row.rework[:24]}", f"one of: {known}", field="rework")
    way = batch.checklist.list_way(route.id)
    if row.found not in batch.checklist.ops or not batch.checklist.may_mend(route, row.found) or row.op > row.found:
        raise Refused(
            "input",
            f"{route.name} goes from op {route.back_to} to the operation that found it",
            "enter the operation that found it, and where the pieces are",
            field="rework",
        )
    if row.op not in way:
        ops = " ".join(str(op) for op in way if op <= row.found)
        raise Refused(
            "input", f"{route.name} does not pass op {row.op}", f"one of its operations: {ops}", field="rework"
        )
    if row.what == "waiting" and not batch.checklist.is_apart(route.id, row.op):
        wrong = f"loose pieces wait for {route.name} at op {route.back_to}"
        raise Refused("input", wrong, f"enter op {route.back_to}", field="rework")


def _checked_load(batch: Batch, row: PlacedPieces, at: datetime) -> PlacedPieces:
    operation = batch.operation(row.op)
    kind = batch.checklist.carrier(operation.carrier)
    require_whole_number(row.number, f"the number of the {kind.name}", 1, kind.count, "number")
    if row.count > kind.capacity:
        wrong = f"{row.count} pieces: {kind.label(row.number)} holds {kind.capacity}"
        raise Refused("count", wrong, f"load 1 to {kind.capacity}", field="count")
    places = _checked_places(kind, row)
    if row.stands == "waits":
        return replace(row, places=places, began=None, ended=None)
    if row.stands not in ("runs", "over") or not operation.cycle:
        wrong = f"op {row.op} {operation.title} has no cycle" if not operation.cycle else "it waits, runs or is over"
        raise Refused("input", wrong, "enter it as waiting, then enter from paper (x) what was done")
    ended = row.ended if row.stands == "over" else None
    for when, what in ((row.began, "begun"), (ended, "ended")):
        if when is not None:
            require_within_ten_years(when, at, "enter the time on the papers", "cycle")
            _past(when, at, what, "cycle")
    if row.began is not None and ended is not None:
        _past(row.began, ended, "begun", "cycle")
    return replace(row, places=places, ended=ended)


def _checked_places(kind: Carrier, row: PlacedPieces) -> tuple[str, ...]:
    """The places that are named on a carrier, each of them once and one for each piece; or none."""
    places = tuple(place.strip().upper() for place in row.places) if kind.positions else ()
    if not places:
        return ()
    odd = [place for place in places if place not in kind.positions]
    if odd or len(set(places)) < len(places):
        wrong = f"{kind.name} has no place {odd[0]}" if odd else "a place is named twice"
        raise Refused("unknown", wrong, f"name each once: {kind.positions[0]} to {kind.positions[-1]}", field="places")
    if len(places) != row.count:
        wrong = f"{format_count(len(places), 'place')} named for {format_count(row.count, 'piece')}"
        raise Refused("count", wrong, "name a place for each, or none", field="places")
    return places


def _carriers(batch: Batch, rows: Iterable[PlacedPieces], context: Context) -> None:
    taken: Counter[tuple[str, int]] = Counter()
    for row in rows:
        if row.what != "load":
            continue
        kind = batch.checklist.carrier(batch.operation(row.op).carrier)
        taken[kind.id, row.number] += 1
        if taken[kind.id, row.number] > 1:
            raise Refused("busy", f"{kind.label(row.number)} is entered twice", "fix one of the two", field="number")
        if other := context.elsewhere.carriers.get((kind.id, row.number)):
            raise Refused(
                "busy", f"{kind.label(row.number)} holds a load of {other}", "check its number", field="number"
            )


def _stations(batch: Batch, rows: Iterable[PlacedPieces], context: Context) -> None:
    """What is on a station at once."""
    at: dict[str, list[PlacedPieces]] = {}
    for row in rows:
        if row.what == "load" and row.stands != "waits":
            at.setdefault(batch.operation(row.op).station, []).append(row)
    for id, there in at.items():
        station = batch.checklist.station(id)
        others = context.elsewhere.runs.get(id, ())
        held = sum(station.places_of(batch.operation(row.op).carrier) for row in there)
        if held + context.elsewhere.taken(id) > station.runs_at_once:
            mine = [batch.checklist.carrier(batch.operation(row.op).carrier).label(row.number) for row in there]
            places = " places" if station.carrier_places else ""
            raise Refused(
                "busy",
                f"{station.name} takes {station.runs_at_once}{places} at once; entered: {', '.join([*mine, *others])}",
                "enter one of them as waiting",
            )


def _rows(
    batch: Batch, rows: Sequence[PlacedPieces], setups: Mapping[str, tuple[int, int]]
) -> tuple[tuple[events.LateRow, ...], dict[int, int]]:
    """The rows with the pieces, loads and runs they become, and the run of each row that has one."""
    found: list[events.LateRow] = []
    runs: dict[int, int] = {}
    first, loads = 1, 0
    for n, row in enumerate(rows):
        pieces = tuple(range(first, first + row.count))
        first += row.count
        setup = 0
        if row.what == "load":
            loads += 1
            if row.stands != "waits":
                runs[n], setup = len(runs) + 1, setups[batch.operation(row.op).station][0]
        found.append(row.make_row(pieces, load=loads if row.what == "load" else 0, run=runs.get(n, 0), setup=setup))
    return tuple(found), runs


def _setups(batch: Batch, rows: Iterable[PlacedPieces], shown: Iterable[PaperProof]) -> dict[str, tuple[int, int]]:
    """Station → the number of the set-up that stands there, and its operation."""
    found: dict[str, tuple[int, int]] = {}
    ops = [row.op for row in rows if row.what == "load" and row.stands != "waits"]
    for one in shown:
        step = _step(batch, one)
        if step is not None and not isinstance(step, Do) and _reach(batch, one.op, one.line, step) == "setup":
            ops.append(one.op)
    for op in ops:
        station = batch.checklist.station(batch.operation(op).station)
        number, known = found.setdefault(station.id, (len(found) + 1, op))
        if known != op:
            raise Refused(
                "busy",
                f"{station.name} cannot be set up for op {known} and op {op} at once",
                "enter one as waiting, or leave out what was proved for it",
            )
    return found


def _step(batch: Batch, one: PaperProof) -> Do | Gate | None:
    """The named step, with the work offset of its carrier; None if there is none."""
    if one.op not in batch.checklist.ops:
        return None
    carrier = batch.operation(one.op).carrier
    return batch.checklist.operation_for(one.op, carrier, one.number).step(one.line)


def _reach(batch: Batch, op: int, line: str, gate: Gate) -> str:
    """How far a proof reaches: ``run``, ``setup``, ``shift``, ``load`` or ``station``."""
    if isinstance(gate, Probed):
        return "load"
    if isinstance(gate, ToolLoaded) or (isinstance(gate, LotRecorded) and gate.per == "batch"):
        return "station"
    key = find_proof_key(batch, _stand_in(batch, op), line, gate)
    assert isinstance(key, RunKey | SetupKey | ShiftKey | StationShiftKey), "the others are looked at above"
    return key.scope


def _stand_in(batch: Batch, op: int, run: int = 0, load: int = 0, setup: int = 0) -> Run:
    """A stand-in run to judge a gate for, where there is none."""
    return Run(run, load, op, batch.operation(op).station, setup, (), batch.opened, "", 0)


def _find_own_load(
    one: PaperProof, gate: Gate, rows: Sequence[PlacedPieces], runs: Mapping[int, int], reach: str
) -> tuple[int, int, PlacedPieces]:
    """The load that a proof is for, its run (0 where it waits) and its row."""
    mine = [n for n, row in enumerate(rows) if row.what == "load" and (row.op, row.number) == (one.op, one.number)]
    if not mine or (reach == "run" and mine[0] not in runs):
        raise Refused(
            "unknown",
            f"{gate.title()}: no load is entered at op {one.op} that it could be for",
            "enter the load first, or leave it out",
        )
    load = sum(row.what == "load" for row in rows[: mine[0] + 1])
    return load, runs.get(mine[0], 0), rows[mine[0]]


def find_span_worked(row: PlacedPieces | None, proved: datetime) -> WorkSpan | None:
    """When the cycle of a row ran, until something was proved of it; None if nobody knows when it started."""
    if row is None or row.began is None or row.began > proved:
        return None
    return WorkSpan(row.began, min(row.ended or proved, proved), proved)


def read_paper_values(one: PaperProof, gate: Gate, row: PlacedPieces | None, context: Context) -> dict[str, Any]:
    """The values on the papers, the gauges in them judged by what held then.

    Args:
        row: the load that they are of, if they serve one only.

    Raises:
        Refused: a value is of another kind or makes no sense, or a gauge could not be used.
    """
    count = count_samples(gate, row.count if row is not None else 1)
    values = read_proof(gate, count, one.values, find_span_worked(row, one.at))
    refused = events.AttemptRefused(what="withdrawn", op=one.op, line=one.line, values=values)
    gauges = look_back(context.elsewhere.gauges, one.at)
    then = replace(context, elsewhere=replace(context.elsewhere, gauges=gauges))
    return values | check_gauges(gate, values, then, one.at.date(), lambda what: replace(refused, what=what))


def _proof(
    batch: Batch,
    one: PaperProof,
    rows: Sequence[PlacedPieces],
    runs: dict[int, int],
    setups: dict[str, tuple[int, int]],
    as_of: datetime,
    context: Context,
) -> events.LateProof:
    """The paper proof of a gate, under the key it serves."""
    gate = _step(batch, one)
    if gate is None or isinstance(gate, Do | Cured):
        raise Refused("unknown", f'op {one.op} has no gate "{one.line}" to prove', "choose one from the list")
    _past(one.at, as_of, gate.title())
    reach = _reach(batch, one.op, one.line, gate)
    load, run, row = _find_own_load(one, gate, rows, runs, reach) if reach in ("run", "load") else (0, 0, None)
    values = read_paper_values(one, gate, row, context)
    by = context.need_known(one.by.strip().upper() or context.by.initials)
    if "person" in values:
        values["person"] = context.need_known(values["person"])
    if isinstance(gate, LotRecorded) and is_past_use_by(read_use_by_date(values), one.at.date()):
        raise Refused("gate", f"{gate.what}: use-by date {values['use_by']} had passed", "check the lot")
    station = batch.operation(one.op).station
    setup = setups.get(station, (0, 0))[0]
    key = find_proof_key(batch, _stand_in(batch, one.op, run, load, setup), one.line, gate)
    worn = context.elsewhere.worn.get((station, gate.tool), 0.0) if isinstance(gate, ToolLoaded) else 0.0
    return events.LateProof(
        op=one.op,
        line=one.line,
        gate=gate.gate,
        key=key,
        values=values,
        by=by,
        at=format_wall(one.at),
        run=run,
        load=load,
        station=station,
        worn=worn,
    )
