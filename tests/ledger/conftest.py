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
def journals(folder: Path) -> Iterator[JournalFolder]:
    journals = JournalFolder(folder, patience=0.0)
    yield journals
    journals.close()


@pytest.fixture
def moment() -> Moment:
    return Moment(datetime(2026, 11, 25, 12, 2, 1, 123000, timezone(timedelta(hours=2))), "boot-1", 61.5)


@pytest.fixture
def now() -> datetime:
    return datetime(2026, 11, 25, 10, 2, 1, tzinfo=UTC)


@pytest.fixture
def journal(journals: JournalFolder, moment: Moment) -> Journal:
    """A journal of four entries in three groups."""
    journal = journals.create("B0007")
    for kinds in ("made", "loaded run", "count"):
        with journal.turn() as turn:
            drafts = [Draft(kind, {"pieces": 12, "note": f"Prüfung {kind}"}) for kind in kinds.split()]
            turn.append(drafts, moment, "AB")
    return journal
