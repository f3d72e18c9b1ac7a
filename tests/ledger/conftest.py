"""What the tests of the record share."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pytest

from floor.entry import Draft, Moment
from floor.ledger import Journal, JournalFolder


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "record"


@pytest.fixture
def shelf(folder: Path) -> Iterator[JournalFolder]:
    shelf = JournalFolder(folder, patience=0.0)
    yield shelf
    shelf.close()


@pytest.fixture
def moment() -> Moment:
    return Moment(datetime(2026, 11, 25, 12, 2, 1, 123000, timezone(timedelta(hours=2))), "boot-1", 61.5)


@pytest.fixture
def now() -> datetime:
    return datetime(2026, 11, 25, 10, 2, 1, tzinfo=UTC)


@pytest.fixture
def book(shelf: JournalFolder, moment: Moment) -> Journal:
    """A book of four entries in three groups."""
    book = shelf.create("B0007")
    for kinds in ("made", "loaded run", "count"):
        with book.turn() as turn:
            drafts = [Draft(kind, {"pieces": 12, "note": f"Prüfung {kind}"}) for kind in kinds.split()]
            turn.append(drafts, moment, "AB")
    return book
