"""The forms in which a row of a batch under way is told, and what was proved of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING, Any

from floor.batch.gates.judge import said, samples
from floor.batch.lifecycle.enter_half_done import row_faults
from floor.batch.lifecycle.half_done import Shown, Stands, Told, What, clocks_told
from floor.batch.walk.commands import read_values
from floor.checklist.gates import Cured
from floor.checklist.model import Checklist, Do, Operation
from floor.screens.forms.dialogs import Choice, Choose, Field
from floor.screens.forms.fields import Entry, Errors, Values, whole_number
from floor.text import clock_time
from floor.wall import not_taken, when

if TYPE_CHECKING:
    from floor.screens.batch.half_done import UnderwayScreen

SINCE = "like 22:10; ? if nobody knows"
NOT_FOUND = "not found"


class Unclear(Exception):
    """What was typed into a field is not what it asks for."""

    def __init__(self, field: str, why: str) -> None:
        super().__init__(why)
        self.field = field


def ask_row(screen: UnderwayScreen, what: str, op: int, told: Callable[[Told], None]) -> None:
    """Ask for one row; nothing that was typed is lost where it is refused."""
    operation = screen.command.checklist.ops[op]
    now = screen.desk.now().at

    def attempt(values: Values) -> Errors:
        try:
            row = _row(screen.command.checklist, operation, what, values, now)
        except Unclear as unclear:
            return {unclear.field: str(unclear)}
        context = screen.desk.shop.context(screen.command.id, screen.desk.who)
        refused = row_faults(screen.batch_ahead, row, now, context)
        if refused is not None:
            return {"": str(refused)}
        told(row)
        return {}

    titles = {"load": "on a carrier", "waiting": "waiting loose", "scrap": "scrap", "hold": "on hold",
              "rework": "sent back, loose", "finished": "finished"}  # fmt: skip
    title = "Finished pieces" if what == "finished" else f"Op {op} {operation.title}: {titles[what]}"
    screen.floor.push_screen(Entry(title, _fields(screen, operation, what), attempt))


def _fields(screen: UnderwayScreen, operation: Operation, what: str) -> list[Field]:
    checklist, missing = screen.command.checklist, max(screen.missing, 0)
    kind = checklist.carrier(operation.carrier)
    if what != "load":
        many = str(missing or "") if what in ("waiting", "finished") else ""
        fields = [Field("count", "Pieces", many, number=True)]
        if what in ("scrap", "hold"):
            picks = [reason.text for reason in operation.reasons][:6]
            fields.append(Field("reason", "Why", picks=(*picks, NOT_FOUND)))
        if what == "rework":
            ids = tuple(reason.rework for reason in operation.reasons if reason.rework)
            fields.append(Field("rework", "Rework", ids[0] if ids else "", picks=ids))
    else:
        taken = {row.number for row in screen.rows if row.what == "load"
                 and checklist.ops[row.op].carrier == kind.id}  # fmt: skip
        free = [number for number in range(1, kind.count + 1) if number not in taken]
        fields = [
            Field("number", f"{kind.name} number", str(*free[:1]), hint=f"1 to {kind.count}", number=True),
            Field("count", "Pieces", str(min(missing, kind.capacity) or ""), number=True),
        ]
        if operation.cycle:
            fields.append(Field("cycle", "Cycle start", hint="6:10; over: 6:10-7:20; blank: waiting"))
    if what in ("load", "waiting") and operation.rework_only:
        ids = tuple(_passing(checklist, operation))
        fields.append(Field("rework", "Rework", ids[0] if ids else "", picks=ids))
    if what in ("load", "waiting"):
        clocks = _clocks(checklist, operation, "load" if what == "load" else "waiting")
        fields += [Field(f"clock-{n}", f"{clock} since", hint=SINCE) for n, clock in enumerate(clocks)]
    if what == "load" and kind.positions:
        fields.append(Field("places", "Places", hint="A1 A2 …; blank: the first ones"))
    return fields


def _passing(checklist: Checklist, operation: Operation) -> list[str]:
    """The reworks that pass an operation which only they do."""
    return [one.id for one in checklist.reworks if operation.op in (one.back_to, *one.ops)]


def _reworked(checklist: Checklist, row: Told, rework: str | None) -> Told:
    """The row with the rework that was said, sent there by the last operation that may."""
    if rework is None:
        return row
    sending = [one.op for one in checklist.operations for reason in one.reasons if reason.rework == rework]
    return replace(row, rework=rework.strip() or "?", found=max(sending, default=row.op))


def _clocks(checklist: Checklist, operation: Operation, what: What) -> list[str]:
    """The clocks that may matter for such a row, however its cycle stands, in the order of the route."""
    every: tuple[Stands, ...] = ("waits", "runs", "over") if what == "load" and operation.cycle else ("waits",)
    wanted = {
        clock.id for stands in every for rework in (_passing(checklist, operation) if operation.rework_only else [None])
        for clock in clocks_told(checklist, _reworked(checklist, Told(what, 1, operation.op, stands=stands), rework))
    }  # fmt: skip
    return [clock.id for one in checklist.operations for clock in one.clocks if clock.id in wanted]


def _row(checklist: Checklist, operation: Operation, what: str, values: Values, now: datetime) -> Told:
    count = whole_number(values["count"])
    if not isinstance(count, int):
        raise Unclear("count", f"{count[:20]} is not a number of pieces. Use digits.")
    if what in ("scrap", "hold"):
        code = next((one.code for one in operation.reasons if one.text == values["reason"]), values["reason"])
        return Told(what, count, operation.op, reason=code)  # type: ignore[arg-type]
    if what == "rework":
        route = checklist.rework(values["rework"].strip())
        back = route.back_to if route else operation.op
        return _with_clocks(checklist, Told("waiting", count, back, rework=values["rework"].strip() or "?",
                                            found=operation.op), values, now)  # fmt: skip
    if what != "load":
        row = Told(what, count, operation.op if what == "waiting" else 0)  # type: ignore[arg-type]
        return _with_clocks(checklist, _reworked(checklist, row, values.get("rework")), values, now)
    number = whole_number(values["number"])
    if not isinstance(number, int):
        raise Unclear("number", f"{number[:20]} is not a carrier number. Use digits.")
    places = tuple(values.get("places", "").replace(",", " ").split())
    row = Told("load", count, operation.op, number, places)
    cycle = values.get("cycle", "").strip()
    if cycle:
        began, dash, ended = cycle.partition("-")
        row = replace(row, stands="over" if dash else "runs", began=_time("cycle", began, now),
                      ended=_time("cycle", ended, now) if dash else None)  # fmt: skip
    return _with_clocks(checklist, _reworked(checklist, row, values.get("rework")), values, now)


def _with_clocks(checklist: Checklist, row: Told, values: Values, now: datetime) -> Told:
    """The times of the clocks that matter for a row."""
    every = _clocks(checklist, checklist.ops[row.op], row.what) if row.op else []
    found: list[tuple[str, datetime | None]] = []
    for clock in clocks_told(checklist, row):
        field = f"clock-{every.index(clock.id)}"
        if field not in values:  # loose pieces in rework: their clocks begin anew on the way
            found.append((clock.id, None))
            continue
        if not values[field].strip():
            raise Unclear(field, f"Enter when {clock.id} started, or ? if nobody knows.")
        found.append((clock.id, _time(field, values[field], now)))
    return replace(row, clocks=tuple(found))


def _time(field: str, text: str, now: datetime) -> datetime | None:
    """The last time that the clock showed this; None for ``?``."""
    if text.strip() == "?":
        return None
    found = when(text, now, past=True)
    if found is None:
        raise Unclear(field, f"{not_taken(text, now)}, or ? if nobody knows.")
    return found


# --- what was proved -----------------------------------------------------------------------------------------------


def ask_proof(screen: UnderwayScreen, op: int, load: Told | None, proved: Callable[[Shown], None]) -> None:
    """Ask which gate of an operation was proved, with what, by whom and when."""
    gates = [(key, step) for key, step in screen.command.checklist.ops[op].numbered_steps
             if not isinstance(step, Do | Cured)]  # fmt: skip

    def picked(key: str | None) -> None:
        if key is not None:
            _ask_values(screen, op, key, load, proved)

    if not gates:
        screen.say(f"Op {op} has no gate that is proved by an entry", wrong=True)
        return
    choices = [Choice(key, step.title()) for key, step in gates]
    screen.floor.push_screen(Choose(f"Op {op}: what was proved?", choices), picked)


def _ask_values(
    screen: UnderwayScreen, op: int, key: str, load: Told | None, proved: Callable[[Shown], None]
) -> None:
    gate: Any = screen.command.checklist.ops[op].step(key)
    many = samples(gate, load.count if load else 1)
    now = screen.desk.now().at

    def attempt(values: Values) -> Errors:
        given: dict[str, Any] = {
            ask.name: values[f"v{n}"].split() if many > 1 else values[f"v{n}"] for n, ask in enumerate(gate.asks())
        }
        at = when(values["at"], now, past=True)
        if at is None:
            return {"at": f"{not_taken(values['at'], now)}."}
        by = values["by"].strip().upper()
        screen.desk.shop.context(screen.command.id, screen.desk.who).need_known(by)
        read = read_values(gate, many, given)
        proved(Shown(op, key, read, by, at, load.number if load else 0))
        return {}

    several = f"{many} values, spaces between" if many > 1 else ""
    fields = [Field(f"v{n}", ask.label, hint=several or ask.band) for n, ask in enumerate(gate.asks())]
    fields += [Field("by", "By whom", hint="initials"), Field("at", "When", hint="like 14:30")]
    screen.floor.push_screen(Entry(gate.title(), fields, attempt))


def shown_said(checklist: Checklist, one: Shown, now: datetime) -> str:
    """``Probe G54 X Z: X 0 mm, Z 0 mm · AA 08:40``."""
    gate: Any = checklist.ops[one.op].step(one.line)
    return f"{gate.title()}: {said(gate.asks(), one.values) or 'confirmed'} · {one.by} {clock_time(one.at, now)}"
