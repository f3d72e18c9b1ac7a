"""Gauges at a gate: whether one may be used, which were used where, and the serial number to offer."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from datetime import date, datetime
from typing import Any

from floor.batch.command import Context, Refused
from floor.batch.event_base import Event
from floor.batch.events import LotOpened, Proved, iter_events
from floor.batch.gates.check_values import say_calibration
from floor.batch.gates.events import Fault
from floor.batch.gauge import Gauge, find_gauge
from floor.batch.proof import LotKey, SetupKey
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.checklist.gate_forms import CALIBRATION
from floor.checklist.gates import Gate, LotRecorded
from floor.checklist.operation import Do
from floor.dataclass import dataclass

Note = Callable[[Fault], Event]
"""Makes the entry that keeps on record what was refused."""


def list_gauges_asked(gate: Gate) -> list[tuple[str, str]]:
    """(form field, gauge) of each serial number that a gate asks for."""
    asked = [ask for ask in gate.asks() if ask.kind == "gauge"]
    if isinstance(gate, LotRecorded):
        return [(ask.name, gate.what) for ask in asked]
    return [(ask.name, ask.short) for ask in asked]


def check_gauges(gate: Gate, values: Mapping[str, Any], context: Context, note: Note) -> dict[str, Any]:
    """What is recorded of the gauges: serial numbers as the register has them, with their calibration dates.

    Raises:
        Refused: one is overdue or withdrawn, or must be in the register and is not.
    """
    asked = [field for field, _ in list_gauges_asked(gate) if field in values]
    if isinstance(gate, LotRecorded):
        return _check_lot(gate, values, context, note) if asked else {}
    for field in asked:
        find_fit_gauge(values[field], field, context, note)
    return describe_gauges(gate, values, context.elsewhere.gauges)


def describe_gauges(gate: Gate, values: Mapping[str, Any], gauges: Mapping[str, Gauge]) -> dict[str, Any]:
    """Serial numbers at a measuring gate as the register has them, with their calibration dates."""
    found: dict[str, Any] = {}
    calibration: dict[str, str] = {}
    for field, _ in [] if isinstance(gate, LotRecorded) else list_gauges_asked(gate):
        if field in values:
            gauge = find_gauge(gauges, values[field])
            found[field] = gauge.serial if gauge is not None else values[field]
            calibration[found[field]] = gauge.due.isoformat() if gauge is not None else ""
    return found | {CALIBRATION: calibration} if found else {}


def _check_lot(gate: LotRecorded, values: Mapping[str, Any], context: Context, note: Note) -> dict[str, Any]:
    """The date of a gauge in the register is the register's; of another it is asked for."""
    gauge, typed = find_fit_gauge(values["lot"], "lot", context, note), values.get("use_by")
    if gauge is None:
        if gate.use_by and not typed:
            raise Refused("input", f"{gate.what}: {gate.until}: nothing entered", "enter it", field="use_by")
        return {}
    if typed and typed != gauge.due.isoformat():
        wrong = f"{gauge.serial} is due {gauge.due} in the register, not {typed}"
        raise Refused("input", wrong, "read the label again, or a lead changes the register", field="use_by")
    return {"lot": gauge.serial} | ({"use_by": gauge.due.isoformat()} if gate.use_by else {})


def find_fit_gauge(serial: str, field: str, context: Context, note: Note) -> Gauge | None:
    """The registered gauge of a serial number; None if the register has none and needs none.

    Raises:
        Refused: it may not be used.
    """
    gauge = find_gauge(context.elsewhere.gauges, serial)
    if gauge is None:
        if context.elsewhere.registered_gauges_only:
            wrong = f"{serial[:20]} is not in the register of gauges"
            clear = "use one that is, or a lead adds it (m on What next)"
            raise Refused("gate", wrong, clear, field=field, attempt=note("not in the register"))
        return None
    if gauge.withdrawn:
        wrong = f"{gauge.serial} is withdrawn: {gauge.withdrawn}"
        raise Refused("gate", wrong, "use another gauge", field=field, attempt=note("withdrawn"))
    if gauge.is_overdue(context.now.at.date()):
        wrong = f"calibration of {gauge.serial} was due {gauge.due}"
        clear = "use another gauge, or a lead enters its new date (m on What next)"
        raise Refused("gate", wrong, clear, field=field, attempt=note("past its date"))
    return gauge


def find_last_serials(
    batches: Iterable[Batch], station: str, gate: Gate, gauges: Mapping[str, Gauge], today: date
) -> dict[str, str]:
    """Form field → the serial number used last at a station for that gauge, if it may be used still."""
    last: dict[str, tuple[datetime, str]] = {}
    for batch in batches:
        for key, proof in batch.proofs.items():
            if proof.station != station or proof.values.keys().isdisjoint((CALIBRATION, "lot")):
                continue
            for name, serial in _list_used(batch, proof.run, getattr(key, "line", ""), key, proof.values):
                if (known := name.casefold()) not in last or last[known][0] < proof.at:
                    last[known] = proof.at, serial
    asked = {field: name.casefold() for field, name in list_gauges_asked(gate)}
    found = {field: last[name][1] for field, name in asked.items() if name in last}
    return {field: serial for field, serial in found.items() if _may_be_used(find_gauge(gauges, serial), today)}


def _may_be_used(gauge: Gauge | None, today: date) -> bool:
    return gauge is None or not (gauge.withdrawn or gauge.is_overdue(today))


def _list_used(batch: Batch, run: int, line: str, key: object, values: Mapping[str, Any]) -> list[tuple[str, str]]:
    """(gauge, serial number) in the values of a proof."""
    if isinstance(key, LotKey):
        return [(key.what, str(values.get("lot", "")))]
    there = batch.runs.get(run)
    step = batch.find_operation(there).step(line) if there is not None else None
    if step is None or isinstance(step, Do):
        return []
    return [(name, str(values[field])) for field, name in list_gauges_asked(step) if field in values]


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


def list_gauge_uses(batch: Batch) -> list[GaugeUse]:
    """Each use of a gauge with a serial number that nobody struck out, in order."""
    gauge_lots = {
        step.what
        for operation in batch.checklist.operations
        for step in operation.steps
        if isinstance(step, LotRecorded) and step.serial
    }
    found = []
    for entry, opened in iter_events(batch.entries, LotOpened):
        if entry.seq not in batch.struck and opened.what in gauge_lots:
            key = LotKey("lot recorded", opened.what)
            found.append(GaugeUse(entry.seq, entry.done, 0, key, opened.what, opened.lot, ""))
    for entry, proved in iter_events(batch.entries, Proved):
        lot = proved.key.what in gauge_lots if isinstance(proved.key, LotKey) else proved.gate == "lot recorded"
        if entry.seq in batch.struck or not (CALIBRATION in proved.values or lot):
            continue
        found += [
            GaugeUse(
                entry.seq, entry.done, proved.run, proved.key, name, serial, say_calibration(proved.values, serial)
            )
            for name, serial in _list_used(batch, proved.run, proved.line, proved.key, proved.values)
        ]
    return sorted(found, key=lambda use: use.seq)


def list_gauges_of_run(batch: Batch, run: Run) -> list[str]:
    """What the pieces of a run were measured with, in the run or when its set-up was accepted."""
    uses = [
        use
        for use in list_gauge_uses(batch)
        if use.run == run.number or (isinstance(use.key, SetupKey) and use.key.setup == run.setup)
    ]
    return list(dict.fromkeys(map(str, uses)))
