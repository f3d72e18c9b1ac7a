"""Summaries of closed batches for their list, read in the background; no file is kept open."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from pathlib import Path

from floor.batch.fold import Inapplicable, fold
from floor.dataclass import dataclass
from floor.ledger import JournalFolder, LedgerError


@dataclass(frozen=True, slots=True)
class BatchSummary:
    """What the list shows of a closed batch."""

    id: str
    part: str
    name: str
    good: int
    ordered: int
    opened: datetime
    closed: datetime | None


def read_summaries(folder: Path, names: Sequence[str]) -> Iterator[BatchSummary]:
    """The closed batches of a shop, one read per step; unreadable ones are left out.

    Args:
        folder: the shop's folder.
    """
    journals = JournalFolder(folder / "record")
    for name in names:
        try:
            batch = fold(journals.open(name).entries)
        except (LedgerError, Inapplicable, ValueError):
            continue
        finally:
            journals.close()
        part = batch.checklist.part
        good = batch.total("finished")
        yield BatchSummary(
            name, f"{part.number} {part.revision}", part.name, good, batch.order, batch.opened, batch.closed
        )
