"""A new bottle, can, coil or bar in the middle of a batch."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from floor.batch import events
from floor.batch.command import Context, Refused, refuse_closed_batch
from floor.batch.events import LotOpened, Proved, StruckOut, make_drafts, read_event, read_if_kind
from floor.batch.gates.check_values import is_same_text
from floor.batch.gates.entered_values import read_date, read_lot_number
from floor.batch.gates.fold_lots import find_lots_in_use, list_lot_entries, read_lot_of_entry
from floor.batch.gates.gauges import check_gauges
from floor.batch.proof import RunKey, SetupKey, is_past_use_by
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.walk.clock_jumps import find_latest_day
from floor.checklist.gates import LotRecorded
from floor.checklist.model import Checklist
from floor.dataclass import dataclass
from floor.entry import Draft, Entry
from floor.text import sanitize

FARTHEST = 50
"""Years to a date on a label or a certificate beyond which its year is a slip (shop decision)."""


@dataclass(frozen=True, slots=True)
class OpenLot:
    """Use another lot from now on: for later starts, and for the loads under way that it goes into."""

    what: str
    lot: str
    use_by: str = ""
    into: tuple[int, ...] = ()
    """Loads under way that it goes into; the others keep the lot that they have."""

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        refuse_closed_batch(batch)
        gate = list_lot_gates(batch.checklist).get(self.what)
        if gate is None:
            known = ", ".join(list_lot_gates(batch.checklist)) or "the checklist has none"
            raise Refused("unknown", f'the checklist records no lot of "{sanitize(self.what, 60)}"', f"one of: {known}")
        which = "serial number" if gate.serial else "lot number"
        lot = read_lot_number(self.lot, gate.what, which)
        attempt = events.AttemptRefused(
            what="past its date", subject=gate.what, values={"lot": lot, "use_by": sanitize(self.use_by)}
        )
        use_by, today = sanitize(self.use_by), find_latest_day(batch, context.now)
        if gate.serial:
            found = check_gauges(
                gate,
                {"lot": lot} | ({"use_by": use_by} if use_by else {}),
                context,
                today,
                lambda what: replace(attempt, what=what),
            )
            lot, use_by = found.get("lot", lot), found.get("use_by", use_by)
        use_by = read_use_by(gate, use_by, today, attempt)
        refuse_redated(batch, gate, lot, use_by, today, attempt)
        wrong = sorted(set(self.into) - {run.load for run in list_uncounted_runs(batch, self.what)})
        if wrong:
            said = f"load {wrong[0]} is not using {gate.what} now"
            raise Refused("unknown", said, "name only loads that are", field="into")
        now = batch.lots.get(gate.what)
        under_way = [run for run in list_uncounted_runs(batch, self.what) if run.load in self.into]
        has_it = all(find_lots_in_use(batch, run, gate.what)[-1:] == (lot,) for run in under_way)
        if now is not None and now.lot == lot and has_it:
            same = f"{gate.what} {lot} is the one in use"
            raise Refused("input", same, f"enter the {which} of the new one, or Esc", field="lot")
        return make_drafts(events.LotOpened(what=gate.what, lot=lot, use_by=use_by, into=tuple(sorted(set(self.into)))))


def read_use_by(gate: LotRecorded, text: str, today: date, attempt: events.Event | None = None) -> str:
    """The date until which a lot is good, as ISO text; empty where none is asked for.

    Args:
        attempt: what stays on record if it is past.

    Raises:
        Refused: it is no date, or past.
    """
    if not gate.asks_date:
        return ""
    if not sanitize(text):
        remedy = "write it as YYYY-MM-DD, or Esc and note its number if it has none"
        raise Refused("input", f"{gate.what}: {gate.until}: nothing entered", remedy, field="use_by")
    until = read_date(text, f"{gate.what}: {gate.until}", "use_by")
    refuse_use_by(gate, until, today, attempt)
    return until.isoformat()


def refuse_use_by(gate: LotRecorded, until: date, today: date, attempt: events.Event | None = None) -> None:
    """
    Args:
        attempt: what stays on record if it is past.

    Raises:
        Refused: the date is past, or so far away that it is a slip.
    """
    if is_past_use_by(until, today):
        wrong = f"{gate.what}: {gate.until} {until}, which is past"
        remedy = f"use one that is still good, and enter its {'serial' if gate.serial else 'lot'} number too"
        raise Refused("gate", wrong, remedy, field="use_by", attempt=attempt)
    refuse_far_date(gate, until, today)


def refuse_redated(batch: Batch, gate: LotRecorded, lot: str, use_by: str, today: date, attempt: events.Event) -> None:
    """
    Args:
        use_by: as ISO text; empty where none is asked for.

    Raises:
        Refused: by its date on record the lot is past, and a later one is given for it.
    """
    known = _find_date_on_record(batch, gate, lot) if use_by and not gate.serial else None
    if known is None or not is_past_use_by(known, today) or date.fromisoformat(use_by) <= known:
        return
    wrong = f"{gate.what} {lot}: on record with {gate.until} {known}, which is past"
    remedy = (
        "use another lot; if that date was entered wrong, correct it in the history; a new container has its own number"
    )
    raise Refused("gate", wrong, remedy, field="use_by", attempt=attempt)


def _find_date_on_record(batch: Batch, gate: LotRecorded, lot: str) -> date | None:
    """The date with which a lot was recorded last."""
    for entry in reversed(batch.entries):
        if entry.seq in batch.struck or (entry.kind != LotOpened.KIND and entry.body.get("gate") != gate.gate):
            continue
        said, by = read_lot_of_entry(entry, batch.corrected_lots.get(entry.seq)), find_lot_gate(batch, entry)
        if said is not None and by is not None and by.what == gate.what and is_same_text(said[0], lot) and said[1]:
            return date.fromisoformat(said[1])
    return None


def refuse_far_date(gate: LotRecorded, until: date, today: date) -> None:
    """
    Raises:
        Refused: the date is so far away that it is a slip.
    """
    if until.year - today.year > FARTHEST:
        wrong = f"{gate.what}: {gate.until} {until}, {until.year - today.year} years away"
        raise Refused("input", wrong, "check the year", field="use_by")


def list_lot_gates(checklist: Checklist) -> dict[str, LotRecorded]:
    """Everything recorded by lot or serial number, with its gate, in the order of the route."""
    found: dict[str, LotRecorded] = {}
    for operation in checklist.operations:
        for _, step in operation.numbered_steps:
            if isinstance(step, LotRecorded):
                found.setdefault(step.what, step)
    return found


def list_uncounted_runs(batch: Batch, what: str) -> list[Run]:
    """Uncounted runs at operations that use it."""
    return [run for run in batch.list_open_runs() if run.count is None and uses_lot(batch, run, what)]


def uses_lot(batch: Batch, run: Run, what: str) -> bool:
    """Whether the run's operation records the lot of this material."""
    steps = batch.find_operation(run).numbered_steps
    return any(isinstance(step, LotRecorded) and step.what == what for _, step in steps)


def find_lot_gate(batch: Batch, entry: Entry) -> LotRecorded | None:
    """The gate that asked for the lot that an entry records; None if it records none."""
    opened, proved = read_if_kind(entry, LotOpened), read_if_kind(entry, Proved)
    if opened is not None:
        return list_lot_gates(batch.checklist).get(opened.what)
    run = batch.runs.get(proved.run) if proved is not None else None
    if proved is None or run is None:  # the run itself was struck out, and its lot with it
        return None
    step = batch.find_operation(run).step(proved.line)
    return step if isinstance(step, LotRecorded) else None


def find_struck_lot(batch: Batch, strike: int) -> Entry | None:
    """The entry of a lot that a strike took from the pieces made with it; None where it took something else."""
    said = read_if_kind(batch.entries[strike - 1], StruckOut)
    entry = batch.entries[said.seq - 1] if said is not None else None
    if entry is None or batch.struck.get(entry.seq) != strike:
        return None
    gate = find_lot_gate(batch, entry)
    return entry if gate is not None and not gate.serial else None


def list_runs_of_lot(batch: Batch, entry: Entry) -> list[Run]:
    """The runs whose lot an entry says, as far as they have come."""
    gate, event = find_lot_gate(batch, entry), read_event(entry)
    if gate is None or entry.seq in batch.struck:
        return []
    runs = [run for run in batch.runs.values() if not run.put_back and uses_lot(batch, run, gate.what)]
    key = event.key if isinstance(event, Proved) else None
    if isinstance(key, RunKey):
        return [run for run in runs if run.number == key.run]
    if isinstance(key, SetupKey):
        return [run for run in runs if run.setup == key.setup]
    return [run for run in runs if entry.seq in list_lot_entries(batch, run, gate.what)]
