"""Which lots of which materials a batch has recorded."""

from __future__ import annotations

from collections.abc import Iterator

from floor.batch.events import LotOpened, Proved, iter_events
from floor.batch.proof import LotKey
from floor.batch.state import Batch
from floor.checklist.gates import LotRecorded


def list_recorded_lots(batch: Batch) -> list[tuple[str, str]]:
    """(material, lot) of each, once; what was struck out does not count."""
    known = [(what, lot.lot) for what, lot in batch.lots.items()]
    return list(dict.fromkeys([*_list_entered(batch), *known]))


def _list_entered(batch: Batch) -> Iterator[tuple[str, str]]:
    entries = [entry for entry in batch.entries if entry.seq not in batch.struck]
    for _, opened in iter_events(entries, LotOpened):
        yield opened.what, opened.lot
    of_lots = (entry for entry in entries if entry.body.get("gate") == "lot recorded")
    for _, proved in iter_events(of_lots, Proved):
        yield _find_material(batch, proved), str(proved.values["lot"])


def _find_material(batch: Batch, event: Proved) -> str:
    if isinstance(event.key, LotKey):
        return event.key.what
    step = dict(batch.find_operation(batch.runs[event.run]).numbered_steps)[event.line]
    assert isinstance(step, LotRecorded)
    return step.what
