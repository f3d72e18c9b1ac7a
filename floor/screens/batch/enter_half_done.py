"""The forms in which a row of a batch under way is told, and what was proved of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from functools import partial
from typing import Any, Protocol

from floor.batch.command import Refused
from floor.batch.gates.check_values import format_values
from floor.batch.gates.entered_values import read_values
from floor.batch.gates.samples import count_samples
from floor.batch.gates.soak_readings import LoggerReadings
from floor.batch.lifecycle.commands import OpenBatch
from floor.batch.lifecycle.enter_half_done import (
    find_row_fault,
    find_span_worked,
    list_clocks_of_waiting,
    read_paper_values,
)
from floor.batch.lifecycle.half_done import PaperProof, PlacedPieces, Stands, What, list_clocks_to_enter
from floor.batch.state import Batch
from floor.checklist.gates import Cured
from floor.checklist.model import Checklist
from floor.checklist.operation import Do, Operation
from floor.screens.forms.dialogs import Choice, ChoiceDialog, FormDialog
from floor.screens.forms.fields import Errors, FieldSpec, Values, parse_number
from floor.screens.frame.app_services import Program
from floor.screens.frame.file_reading import ReadingDialog, read_at_once
from floor.screens.frame.session import Session
from floor.shop.logger_readings import LoggerReading, find_named_file
from floor.text import LONGEST_TEXT, format_clock
from floor.wall import describe_wrong_time, parse_typed_time

SINCE = "22:10, Sun 22:10; ? not known"
NOT_FOUND = "not found"


class Telling(Protocol):
    """The screen on which a batch under way is told."""

    session: Session
    command: OpenBatch
    """Opens the batch, without what is told."""
    batch_ahead: Batch
    """As it will be then."""
    rows: list[PlacedPieces]

    @property
    def missing(self) -> int: ...
    @property
    def floor(self) -> Program: ...
    def say(self, text: str, wrong: bool = False) -> None: ...


def ask_half_done_row(screen: Telling, what: str, op: int, told: Callable[[PlacedPieces], None]) -> None:
    """Ask for one row; nothing that was typed is lost where it is refused."""
    operation = screen.command.checklist.ops[op]
    now = screen.session.now().at

    def attempt(values: Values) -> Errors:
        row = _row(screen.command.checklist, operation, what, values, now)
        context = screen.session.shop.context(screen.command.id, screen.session.who)
        refused = find_row_fault(screen.batch_ahead, row, now, context)
        if refused is not None:
            clocks = _clocks(screen.command.checklist, operation, row.what)
            field = f"clock-{clocks.index(refused.field)}" if refused.field in clocks else refused.field
            return {field if field in values else "count": str(refused)}
        told(row)
        return {}

    titles = {
        "load": "on a carrier",
        "waiting": "waiting loose",
        "scrap": "scrap",
        "hold": "on hold",
        "rework": "sent back, loose",
        "finished": "finished",
    }
    title = "Finished pieces" if what == "finished" else f"Op {op} {operation.title}: {titles[what]}"
    screen.floor.push_screen(FormDialog(title, _fields(screen, operation, what), attempt))


def _fields(screen: Telling, operation: Operation, what: str) -> list[FieldSpec]:
    """The fields of a row: what lies where, then its rework, its clocks and its places."""
    checklist, missing = screen.command.checklist, max(screen.missing, 0)
    kind = checklist.carrier(operation.carrier)
    fields = _load_fields(screen, operation, missing) if what == "load" else _heap_fields(operation, what, missing)
    if what not in ("load", "waiting"):
        return fields
    if operation.rework_only:
        fields.append(_rework_field(tuple(_passing(checklist, operation))))
    clocks = _clocks(checklist, operation, "load" if what == "load" else "waiting")
    fields += [FieldSpec(f"clock-{n}", f"{clock} since", hint=SINCE) for n, clock in enumerate(clocks)]
    if what == "load" and kind.positions:
        fields.append(FieldSpec("places", "Places", hint="A1 A2 …; blank: the first ones"))
    return fields


def _heap_fields(operation: Operation, what: str, missing: int) -> list[FieldSpec]:
    """Pieces on no carrier: how many, and why or with which rework."""
    fields = [FieldSpec("count", "Pieces", str(missing or "") if what in ("waiting", "finished") else "", number=True)]
    if what in ("scrap", "hold"):
        picks = [reason.text for reason in operation.reasons][:6]
        fields.append(FieldSpec("why", "Why", picks=(*picks, NOT_FOUND)))
    if what == "rework":
        fields.append(_rework_field(tuple(reason.rework for reason in operation.reasons if reason.rework)))
    return fields


def _load_fields(screen: Telling, operation: Operation, missing: int) -> list[FieldSpec]:
    """Pieces on a carrier: which one, how many, and how its cycle stands."""
    checklist = screen.command.checklist
    kind = checklist.carrier(operation.carrier)
    taken = {row.number for row in screen.rows if row.what == "load" and checklist.ops[row.op].carrier == kind.id}
    free = [number for number in range(1, kind.count + 1) if number not in taken]
    fields = [
        FieldSpec("number", f"{kind.name} number", str(*free[:1]), hint=f"1 to {kind.count}", number=True),
        FieldSpec("count", "Pieces", str(min(missing, kind.capacity) or ""), number=True),
    ]
    if operation.cycle:
        fields.append(FieldSpec("cycle", "Cycle start", hint="6:10; over: 6:10-7:20; blank: waiting"))
    return fields


def _rework_field(ids: tuple[str, ...]) -> FieldSpec:
    return FieldSpec("rework", "Rework", ids[0] if ids else "", picks=ids)


def _passing(checklist: Checklist, operation: Operation) -> list[str]:
    """The reworks that pass an operation which only they do."""
    return [one.id for one in checklist.reworks if operation.op in (one.back_to, *one.ops)]


def _reworked(checklist: Checklist, row: PlacedPieces, rework: str | None) -> PlacedPieces:
    """The row with the rework that was said, sent there by the last operation that may."""
    if rework is None:
        return row
    sending = [one.op for one in checklist.operations for reason in one.reasons if reason.rework == rework]
    return replace(row, rework=rework.strip() or "?", found=max(sending, default=row.op))


def _clocks(checklist: Checklist, operation: Operation, what: What) -> list[str]:
    """The clocks that may matter for such a row, however its cycle stands, in the order of the route."""
    every: tuple[Stands, ...] = ("waits", "runs", "over") if what == "load" and operation.cycle else ("waits",)
    wanted = {
        clock.id
        for stands in every
        for rework in (_passing(checklist, operation) if operation.rework_only else [None])
        for clock in list_clocks_to_enter(
            checklist, _reworked(checklist, PlacedPieces(what, 1, operation.op, stands=stands), rework)
        )
    }
    return [clock.id for one in checklist.operations for clock in one.clocks if clock.id in wanted]


def _row(checklist: Checklist, operation: Operation, what: str, values: Values, now: datetime) -> PlacedPieces:
    count = parse_number(values["count"])
    if not isinstance(count, int):
        raise Refused("input", f"{count[:20]} is not a number of pieces", "use digits", field="count")
    if what in ("scrap", "hold"):
        code = next((one.code for one in operation.reasons if one.text == values["why"]), values["why"])
        return PlacedPieces(what, count, operation.op, reason=code)  # type: ignore[arg-type]
    if what == "rework":
        route = checklist.rework(values["rework"].strip())
        back = route.back_to if route else operation.op
        return _with_clocks(
            checklist,
            PlacedPieces("waiting", count, back, rework=values["rework"].strip() or "?", found=operation.op),
            values,
            now,
        )
    if what != "load":
        row = PlacedPieces(what, count, operation.op if what == "waiting" else 0)  # type: ignore[arg-type]
        return _with_clocks(checklist, _reworked(checklist, row, values.get("rework")), values, now)
    number = parse_number(values["number"])
    if not isinstance(number, int):
        raise Refused("input", f"{number[:20]} is not a carrier number", "use digits", field="number")
    places = tuple(values.get("places", "").replace(",", " ").split())
    row = PlacedPieces("load", count, operation.op, number, places)
    cycle = values.get("cycle", "").strip()
    if cycle:
        began, dash, ended = cycle.partition("-")
        row = replace(
            row,
            stands="over" if dash else "runs",
            began=_time("cycle", began, now),
            ended=_time("cycle", ended, now) if dash else None,
        )
    return _with_clocks(checklist, _reworked(checklist, row, values.get("rework")), values, now)


def _with_clocks(checklist: Checklist, row: PlacedPieces, values: Values, now: datetime) -> PlacedPieces:
    """The times of the clocks that matter for a row."""
    every = _clocks(checklist, checklist.ops[row.op], row.what) if row.op else []
    found: list[tuple[str, datetime | None]] = []
    for clock in list_clocks_to_enter(checklist, row):
        field = f"clock-{every.index(clock.id)}"
        if field not in values:  # loose pieces in rework: their clocks start again on the way
            found.append((clock.id, None))
            continue
        if not values[field].strip():
            raise Refused("input", f"enter when {clock.id} started, or ? if nobody knows", field=field)
        found.append((clock.id, _time(field, values[field], now)))
    for name in list_clocks_of_waiting(checklist, row):  # over by now, and typed all the same
        field = f"clock-{every.index(name)}" if name in every else ""
        if name not in dict(found) and values.get(field, "").strip() not in ("", "?"):
            found.append((name, _time(field, values[field], now)))
    return replace(row, clocks=tuple(found))


def _time(field: str, text: str, now: datetime) -> datetime | None:
    """The last time that the clock showed this; None for ``?``."""
    if text.strip() == "?":
        return None
    found = parse_typed_time(text, now, past=True)
    if found is None:
        raise Refused("input", f"{describe_wrong_time(text, now)}, or ? if nobody knows", field=field)
    return found


# --- what was proved -----------------------------------------------------------------------------------------------


def ask_proof(screen: Telling, op: int, load: PlacedPieces | None, proved: Callable[[PaperProof], None]) -> None:
    """Ask which gate of an operation was proved, with what, by whom and when."""
    gates = [
        (key, step) for key, step in screen.command.checklist.ops[op].numbered_steps if not isinstance(step, Do | Cured)
    ]

    def picked(key: str | None) -> None:
        if key is not None:
            _ask_values(screen, op, key, load, proved)

    if not gates:
        screen.say(f"Op {op} has no gate that is proved by an entry", wrong=True)
        return
    choices = [Choice(key, step.title()) for key, step in gates]
    screen.floor.push_screen(ChoiceDialog(f"Op {op}: what was proved?", choices), picked)


def _ask_values(
    screen: Telling, op: int, key: str, load: PlacedPieces | None, proved: Callable[[PaperProof], None]
) -> None:
    gate = screen.command.checklist.ops[op].gate(key)
    assert gate is not None, "chosen from the gates"
    many = count_samples(gate, load.count if load else 1)
    now = screen.session.now().at

    large: list[tuple[LoggerReading, Callable[[LoggerReadings], None]]] = []
    """What is read once the form is closed."""

    def take(read: dict[str, Any], by: str, at: datetime) -> None:
        """Raises `Refused`."""
        one = PaperProof(op, key, read, by, at, load.number if load else 0)
        read_paper_values(one, gate, load, screen.session.shop.context(screen.command.id, screen.session.who))
        proved(one)

    def attempt(values: Values) -> Errors:
        given: dict[str, Any] = {
            ask.name: values[f"v{n}"].split() if ask.count(many) > 1 else values[f"v{n}"]
            for n, ask in enumerate(gate.asks())
        }
        at = parse_typed_time(values["at"], now, past=True)
        if at is None:
            return {"at": f"{describe_wrong_time(values['at'], now)}."}
        by = values["by"].strip().upper()
        screen.session.shop.context(screen.command.id, screen.session.who).need_known(by, "by")
        station = screen.command.checklist.station(screen.command.checklist.ops[op].station)
        try:
            read = read_values(gate, many, given)
            named = find_named_file(screen.session.shop, station, gate, read, find_span_worked(load, at))
            if named is None:
                take(read, by, at)
            elif (found := read_at_once(named.reading.size, named.reading.read)) is not None:
                take({**read, named.field: found}, by, at)
            else:
                large.append((named.reading, lambda file: take({**read, named.field: file}, by, at)))
        except Refused as refused:
            names = [ask.name for ask in gate.asks()]
            return {f"v{names.index(refused.field)}" if refused.field in names else "": str(refused)}
        return {}

    several = f"{many} values, spaces between" if many > 1 else ""
    fields = [
        FieldSpec(
            f"v{n}",
            ask.label,
            hint=(several if ask.count(many) > 1 else "") or ask.band,
            longest=LONGEST_TEXT if many > 1 else ask.longest,
        )
        for n, ask in enumerate(gate.asks())
    ]
    fields += [FieldSpec("by", "By whom", hint="initials"), FieldSpec("at", "When", hint="like 14:30")]

    def closed(_: bool | None) -> None:
        for reading, taken in large:
            dialog = ReadingDialog(reading.path.name, reading.read)
            screen.floor.push_screen(dialog, partial(_take_large, screen, taken))

    screen.floor.push_screen(FormDialog(gate.title(), fields, attempt), closed)


def _take_large(
    screen: Telling, take: Callable[[LoggerReadings], None], answer: LoggerReadings | Refused | None
) -> None:
    """What a large file holds; what is wrong with it is said on the screen, as its form is closed."""
    try:
        if isinstance(answer, Refused):
            raise answer
        if answer is not None:
            take(answer)
    except Refused as refused:
        screen.say(str(refused), wrong=True)


def format_proof(checklist: Checklist, one: PaperProof, now: datetime) -> str:
    """``Probe G54 X Z: X 0 mm, Z 0 mm · AA 08:40``."""
    gate = checklist.ops[one.op].gate(one.line)
    assert gate is not None, "checked when it was entered"
    values = format_values(gate.asks(), one.values) or "confirmed"
    return f"{gate.title()}: {values} · {one.by} {format_clock(one.at, now)}"
