"""Closed batches read one after the other, and their summaries for the list; no file is kept open."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import datetime
from pathlib import Path

from floor.batch.fold import Inapplicable, fold
from floor.batch.state import Batch
from floor.dataclass import dataclass
from floor.ledger import JournalFolder, LedgerError
from floor.shop.open_batches import describe_damage


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
    for name, batch in read_closed(folder, names):
        if batch is None:
            continue
        part = batch.checklist.part
        good = batch.total("finished")
        yield BatchSummary(
            name, f"{part.number} {part.revision}", part.name, good, batch.order, batch.opened, batch.closed
        )


def read_closed(
    folder: Path, names: Iterable[str], is_wanted: Callable[[bytes], bool] | None = None
) -> Iterator[tuple[str, Batch | None]]:
    """Closed batches of a shop by name; None for one that cannot be read.

    Args:
        folder: the shop's folder.
        is_wanted: tells by the bytes of a journal whether it is read at all; folding one takes far longer.
    """
    journals = JournalFolder(folder / "record")
    for name in names:
        try:
            if is_wanted is None or is_wanted(journals.text(name).raw):
                journal = journals.open(name)
                batch = fold(journal.entries)
                batch.damage = describe_damage(journal)
                yield name, batch
        except (LedgerError, Inapplicable, ValueError):
            yield name, None
        finally:
            journals.close()
