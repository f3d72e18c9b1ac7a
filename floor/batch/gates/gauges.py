"""Gauges at a gate: whether one may be used, which serial number to offer, and which were used where.

A gauge is judged when a check is entered, by what the register said at the check's own time (from paper, half done).
The proof keeps its calibration as of then, so the walk asks no register.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from datetime import date, datetime
from typing import Any

from floor.batch.command import Context, Refused
from floor.batch.event_base import Event
from floor.batch.events import EnteredLate, LateProof, LotOpened, Proved, iter_events
from floor.batch.gates.check_values import say_calibration
from floor.batch.gates.events import Fault
from floor.batch.gauge import Gauge, find_gauge, fold_serial, is_named
from floor.batch.proof import LotKey, SetupKey
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.checklist.gate_forms import CALIBRATION
from floor.checklist.gates import Gate, LotRecorded
from floor.checklist.operation import Do
from floor.dataclass import dataclass
from floor.entry import Entry, parse_wall

Note = Callable[[Fault], Event]
"""Makes the entry that keeps on record what was refused."""


def list_gauges_asked(gate: Gate) -> list[tuple[str, str]]:
    """(form field, gauge) of each serial number that a gate asks for."""
    asked = [ask for ask in gate.asks() if ask.kind == "gauge"]
    if isinstance(gate, LotRecorded):
        return [(ask.name, gate.what) for ask in asked]
    return [(ask.name, ask.short) for ask in asked]


def check_gauges(gate: Gate, values: Mapping[str, Any], context: Context, today: date, note: Note) -> dict[str, Any]:
    """What is recorded of the gauges: serial numbers as the register has them, with their calibration dates.

    Raises:
        Refused: one is overdue or withdrawn, is another kind of gauge, or must be in the register and is not.
    """
    found = {
        field: find_fit_gauge(str(values[field]), field, name, context, today, note)
        for field, name in list_gauges_asked(gate)
    }
    if isinstance(gate, LotRecorded):
        return _check_lot(gate, values, found["lot"]) if found else {}
    serials = {field: gauge.serial if gauge is not None else values[field] for field, gauge in found.items()}
    due = {serials[field]: gauge.due.isoformat() if gauge is not None else "" for field, gauge in found.items()}
    return serials | {CALIBRATION: due} if serials else {}


def _check_lot(gate: LotRecorded, values: Mapping[str, Any], gauge: Gauge | None) -> dict[str, Any]:
    """The date of a gauge in the register is the register's; of another it is asked for."""
    typed = values.get("use_by")
    if gauge is None:
        if gate.asks_date and not typed:
            raise Refused(
                "input", f"{gate.what}: {gate.until}: nothing entered", f"enter it{gate.without_date}", field="use_by"
            )
        return {}
    if typed and typed != gauge.due.isoformat():
        wrong = f"{gauge.serial} is due {gauge.due} in the register, not {typed}"
        raise Refused("input", wrong, "read the label again, or a lead changes the register", field="use_by")
    return {"lot": gauge.serial} | ({"use_by": gauge.due.isoformat()} if gate.asks_date else {})


def find_fit_gauge(serial: str, field: str, asked: str, context: Context, today: date, note: Note) -> Gauge | None:
    """The registered gauge of a serial number; None if the register has none and needs none.

    Args:
        asked: what the gate asks for, ``depth micrometer``.

    Raises:
        Refused: it may not be used.
    """
    gauge = find_gauge(context.elsewhere.gauges, serial)
    if gauge is None:
        if context.elsewhere.registered_gauges_only:
            wrong = f"{serial[:20]} is not in the register of gauges"
            clear = "use one that is, or a lead adds it (c on What next)"
            raise Refused("gate", wrong, clear, field=field, attempt=note("not in the register"))
        return None
    if gauge.withdrawn:
        wrong = f"{gauge.serial} is withdrawn: {gauge.withdrawn}"
        raise Refused("gate", wrong, "use another gauge", field=field, attempt=note("withdrawn"))
    if gauge.is_overdue(today):
        wrong = f"calibration of {gauge.serial} was due {gauge.due}"
        clear = "use another gauge, or a lead enters its new date (c on What next)"
        raise Refused("gate", wrong, clear, field=field, attempt=note("past its date"))
    if not is_named(gauge, asked):
        wrong = f"{gauge.serial} is in the register as: {gauge.name}"
        clear = f"measure with a {asked}, or a lead corrects its name (c on What next)"
        raise Refused("gate", wrong, clear, field=field, attempt=note("another gauge"))
    return gauge


def find_only_serials(gate: Gate, gauges: Mapping[str, Gauge], today: date) -> dict[str, str]:
    """Form field → the serial number of the only gauge in use that fits, if it may be used.

    Where there are two, nobody but who measured knows which one it was, an overdue one included.
    """
    found: dict[str, str] = {}
    for field, name in list_gauges_asked(gate):
        fit = [one for one in gauges.values() if not one.withdrawn and is_named(one, name)]
        if len(fit) == 1 and not fit[0].is_overdue(today):
            found[field] = fit[0].serial
    return found


@dataclass(frozen=True, slots=True)
class GaugeUse:
    """One gauge in one recorded check."""

    seq: int
    at: datetime
    run: int
    key: object
    gauge: str
    serial: str
    calibration: str
    """``due 2027-01-31``, ``not in the register``; empty if it was not asked."""

    def __str__(self) -> str:
        return f"{self.gauge} {self.serial}" + (f" ({self.calibration})" if self.calibration else "")


def list_gauge_uses(batch: Batch, is_wanted: Callable[[Entry], bool] | None = None) -> list[GaugeUse]:
    """Each use of a gauge with a serial number that nobody struck out, in order.

    Args:
        is_wanted: tells by its plain data which entries to read at all; reading a whole record takes far longer.
    """
    possible = [entry for entry in batch.entries if _may_name_a_gauge(entry) and entry.seq not in batch.struck]
    entries = possible if is_wanted is None else list(filter(is_wanted, possible))
    steps = _list_gates(batch)
    asked = {(op, line): list_gauges_asked(step) for op, line, step in steps}
    gauge_lots = {step.what for _, _, step in steps if isinstance(step, LotRecorded) and step.serial}
    found: list[GaugeUse] = []
    for entry, event in iter_events(entries, LotOpened, Proved, EnteredLate):
        match event:
            case LotOpened() if event.what in gauge_lots:
                key = LotKey("lot recorded", event.what)
                found.append(GaugeUse(entry.seq, entry.done, 0, key, event.what, event.lot, ""))
            case Proved():
                found += _list_used(asked, entry.seq, entry.done, event)
            case EnteredLate():
                for one in event.proofs:
                    found += _list_used(asked, entry.seq, parse_wall(one.at, entry.time), one)
    return found


def _list_gates(batch: Batch) -> list[tuple[int, str, Gate]]:
    """Operation, line, gate of each check of the route."""
    return [
        (operation.op, line, step)
        for operation in batch.checklist.operations
        for line, step in operation.numbered_steps
        if not isinstance(step, Do)
    ]


def _may_name_a_gauge(entry: Entry) -> bool:
    if entry.kind == Proved.KIND:
        return CALIBRATION in entry.body["values"] or entry.body["gate"] == "lot recorded"
    return entry.kind in (LotOpened.KIND, EnteredLate.KIND)


def _list_used(
    asked: Mapping[tuple[int, str], list[tuple[str, str]]], seq: int, at: datetime, proved: Proved | LateProof
) -> list[GaugeUse]:
    """The gauges in the values of a proof.

    Args:
        asked: operation and line → the gauges that its gate asks for.
    """
    values = proved.values
    used = [(name, str(values[field])) for field, name in asked.get((proved.op, proved.line), ()) if field in values]
    return [
        GaugeUse(seq, at, proved.run, proved.key, name, serial, say_calibration(values, serial))
        for name, serial in used
    ]


def names_serial(entry: Entry, serial: str) -> bool:
    """Whether the plain data of a check, a lot or a half-done batch may name this serial number."""
    folded = fold_serial(serial)
    if entry.kind == LotOpened.KIND:
        return fold_serial(entry.body["lot"]) == folded
    proofs = entry.body["proofs"] if entry.kind == EnteredLate.KIND else [entry.body]
    return any(
        fold_serial(str(one)) == folded
        for proof in proofs
        for one in (*proof["values"].get(CALIBRATION, ()), proof["values"].get("lot", ""))
    )


def list_gauges_of_runs(batch: Batch, runs: Collection[Run]) -> dict[int, list[GaugeUse]]:
    """Run → what its pieces were measured with, in the run or when its set-up was accepted."""
    numbers, setups = {run.number for run in runs}, {run.setup for run in runs}

    def is_wanted(entry: Entry) -> bool:
        if entry.kind != Proved.KIND:
            return entry.kind == EnteredLate.KIND
        key = entry.body["key"]
        return entry.body["run"] in numbers or (key[1] == "setup" and key[2] in setups)

    uses = list_gauge_uses(batch, is_wanted)
    return {
        run.number: [
            use
            for use in uses
            if use.run == run.number or (isinstance(use.key, SetupKey) and use.key.setup == run.setup)
        ]
        for run in runs
    }
