"""Who is signed in at a terminal, and what goes with them."""

from __future__ import annotations

from floor.screens.frame.session import Session, Transcription
from floor.shop import Shop
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
