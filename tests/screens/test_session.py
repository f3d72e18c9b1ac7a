"""Who is signed in at a terminal, and what goes with them."""

from __future__ import annotations

import pytest

from floor.batch.corrections.commands import Note
from floor.batch.worklist.due_task import DueTask
from floor.entry import Moment
from floor.screens.frame.session import Session, Transcription
from floor.shop import Shop
from floor.shop.simulation import ManualClock
from tests.screens.conftest import MORNING


def test_a_paper_time_goes_with_whoever_gave_it(shop: Shop) -> None:
    """Otherwise the next person's act would be entered as done hours ago."""
    session = Session(shop, "AA", paper=Transcription(MORNING))
    session.sign_in("AA")
    assert session.paper is not None, "the same person goes on"

    session.sign_in("BB")
    assert (session.who, session.paper) == ("BB", None)

    session.paper = Transcription(MORNING)
    session.sign_out()
    assert (session.who, session.paper) == ("", None)


def test_what_is_due_is_worked_out_once_a_tick_and_again_after_an_entry(
    shop: Shop, batch: str, clock: ManualClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A tick rings for it and shows it; what was entered shows at once."""
    asked: list[Moment] = []
    worked_out = shop.due

    def due(now: Moment) -> list[DueTask]:
        asked.append(now)
        return worked_out(now)

    monkeypatch.setattr(shop, "due", due)
    session = Session(shop, "AA")
    first = session.due()
    first.clear()
    assert session.due(), "a list of one's own"
    assert len(asked) == 1

    session.do(batch, Note("as usual"))
    session.due()
    assert len(asked) == 2

    clock.forward(1)
    session.due()
    assert len(asked) == 3
