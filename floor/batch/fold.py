"""From entries to state: the only code that builds or changes a `Batch`.

The functions for each kind are with their subjects (`fold` and `fold_…` there), found by the class of the event. A
function trusts that a command decided the entry, but refuses what the state cannot take (`Inapplicable`). That checks a
strike, and keeps a damaged or foreign record from folding into nonsense.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from contextlib import contextmanager
from datetime import date, datetime, timedelta, timezone

from floor.batch.corrections import fold as corrections
from floor.batch.counting import fold as counting
from floor.batch.counting import fold_holds, fold_surplus
from floor.batch.events import BatchOpened, LotCorrected, NewerEvent, StruckOut, read_event, read_if_kind
from floor.batch.fold_registry import HANDLERS, Inapplicable, require
from floor.batch.gates import fold as gates
from floor.batch.gates import fold_lots, fold_out_of_limits
from floor.batch.gates.fold_lots import correct_lot, read_lot_of_entry
from floor.batch.handover import fold as handover
from floor.batch.lifecycle import fold as lifecycle
from floor.batch.lifecycle import fold_half_done
from floor.batch.moving import fold as moving
from floor.batch.proof import CorrectedLot
from floor.batch.state import Batch
from floor.batch.stations import fold as stations
from floor.batch.stations import fold_disturbances
from floor.batch.trials import fold as trials
from floor.batch.walk import fold as walk
from floor.batch.walk import fold_put_back, fold_release, fold_stop
from floor.batch.walk.clock_jumps import detect_clock_jump, find_machine, is_restarted_copy
from floor.checklist.frozen import read_frozen_checklist
from floor.checklist.model import Checklist
from floor.entry import Entry, Moment, parse_time

__all__ = ["HANDLERS", "Inapplicable", "advance", "fold", "find_struck_entries"]

FOLDED_BY = (
    corrections,
    counting,
    fold_disturbances,
    fold_half_done,
    fold_holds,
    fold_out_of_limits,
    fold_lots,
    fold_put_back,
    fold_release,
    fold_stop,
    fold_surplus,
    gates,
    handover,
    lifecycle,
    moving,
    stations,
    trials,
    walk,
)
"""The modules that fill the table of handlers."""


def fold(entries: Iterable[Entry], without: Collection[int] = (), checklist: Checklist | None = None) -> Batch:
    """Build the state from the whole record of a batch, or as it would be with these entries struck out.

    Args:
        checklist: that of the first entry, if it was read before: reading it takes as long as hundreds of entries.

    Raises:
        Inapplicable: an entry does not fit the state before it.
    """
    known = list(entries)
    struck = find_struck_entries(known, without)
    corrected = _find_corrected_lots(known, struck)
    batch: Batch | None = None
    for entry in known:
        batch = _open(entry, checklist) if batch is None else _apply(batch, entry, entry.seq in struck)
        batch.struck, batch.corrected_lots = struck, corrected
        batch.keep_entry(entry)
    if batch is None:
        raise ValueError("a batch without entries")
    return batch


def advance(batch: Batch, entries: Sequence[Entry]) -> Batch:
    """The state after further entries: changed in place, or rebuilt if one of them changes what another says."""
    if any(entry.kind in (StruckOut.KIND, LotCorrected.KIND) for entry in entries):
        return fold([*batch.entries, *entries], checklist=batch.checklist)
    for entry in entries:
        _apply(batch, entry, False)
        batch.keep_entry(entry)
    return batch


def find_struck_entries(entries: Sequence[Entry], without: Collection[int] = ()) -> dict[int, int]:
    """Struck entry → the strike; a strike may itself be struck."""
    struck = dict.fromkeys(without, len(entries) + 1)
    for entry in reversed(entries):
        if entry.kind == StruckOut.KIND and entry.seq not in struck:
            with _fitting(entry):
                event = read_if_kind(entry, StruckOut)
                assert event is not None, "its kind was looked at"
                require(entry, 0 < event.seq < entry.seq, "it strikes out no entry before it")
                struck[event.seq] = entry.seq
    return struck


def _find_corrected_lots(entries: Sequence[Entry], struck: Collection[int]) -> dict[int, CorrectedLot]:
    """Entry that recorded a lot → the right one, by the last correction that stands."""
    corrections = [entry for entry in entries if entry.kind == LotCorrected.KIND and entry.seq not in struck]
    known = {entry.seq: entry for entry in entries} if corrections else {}
    found = {}
    for entry in corrections:
        with _fitting(entry):
            event = read_if_kind(entry, LotCorrected)
            assert event is not None, "its kind was looked at"
            require(entry, event.of in known and event.of < entry.seq, "it corrects no entry before it")
            was = read_lot_of_entry(known[event.of])
            require(entry, was is not None, f"entry {event.of} records no lot")
            assert was is not None
            if event.use_by:
                date.fromisoformat(event.use_by)
            found[event.of] = CorrectedLot(
                event.what, was[0], event.lot, event.use_by, entry.seq, entry.by, event.reason
            )
    return found


def _open(entry: Entry, checklist: Checklist | None) -> Batch:
    with _fitting(entry):
        event = read_if_kind(entry, BatchOpened)
        require(entry, event is not None, "the record of a batch starts with its opening")
        assert event is not None
        return _opened(entry, event, entry.time, checklist or read_frozen_checklist(event.checklist))


@contextmanager
def _fitting(entry: Entry) -> Iterator[None]:
    """Report data of the wrong shape, as in a foreign record, with the entry they are in."""
    try:
        yield
    except (LookupError, TypeError, ValueError, AttributeError, AssertionError, StopIteration) as error:
        raise Inapplicable(entry, f"its data do not fit ({error})") from error


def _opened(entry: Entry, event: BatchOpened, at: datetime, checklist: Checklist) -> Batch:
    return Batch(
        id=event.id,
        checklist=checklist,
        digest=event.digest,
        file=event.file,
        order=event.order,
        due=date.fromisoformat(event.due) if event.due else None,
        reference=event.reference,
        rules=event.rules,
        earlier=event.earlier,
        tests=dict(event.tests),
        lots_before={(one.op, one.line): one for one in event.lots_before},
        opened=at,
        opened_by=entry.by,
        responsible=entry.by,
        last=Moment(at, entry.boot, entry.up),
        boots={entry.boot: (Moment(at, entry.boot, entry.up), entry.seq)},
        seq=entry.seq,
        shift_began=at,
    )


def _apply(batch: Batch, entry: Entry, struck: bool) -> Batch:
    at = parse_time(entry.at).astimezone(timezone(timedelta(minutes=entry.tz)))
    moment = Moment(at, entry.boot, entry.up)
    jump, anew = detect_clock_jump(batch, moment, entry.seq), is_restarted_copy(batch, moment)
    if jump is not None:
        batch.jumps.append(jump)
    if entry.boot != batch.last.boot:
        batch.left[find_machine(batch.last)] = batch.seq
    if entry.boot != batch.last.boot or anew:
        batch.boots[entry.boot] = (moment, entry.seq)
    batch.last = moment
    batch.seq = entry.seq
    if struck:
        return batch
    with _fitting(entry):
        event = read_event(entry)
        if isinstance(event, NewerEvent):
            raise Inapplicable(entry, "a newer version of Floor wrote it", "update Floor on this machine")
        said = correct_lot(event, batch.corrected_lots.get(entry.seq))
        HANDLERS[type(event)](batch, entry, said, _acted(batch, entry, at))
    return batch


def _acted(batch: Batch, entry: Entry, at: datetime) -> datetime:
    """When it was done: the time of entry, or the earlier time for an act from paper."""
    if "acted" not in entry.body:
        return at
    if not entry.body.get("seen_by"):
        batch.on_paper[entry.seq] = (entry.done, at)
    return entry.done
