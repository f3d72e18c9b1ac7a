"""News covers nothing, appears one at a time, and gives way to the reply to a key."""

from __future__ import annotations

from collections.abc import Callable

from hypothesis import given
from hypothesis import strategies as st
from textual.widgets import Static

from floor.app import FloorApp
from floor.screens.frame.news_queue import HURRIED, MOST, STANDS, NewsQueue
from floor.shop.simulation import ManualClock
from tests.screens.keys import words

Open = Callable[..., FloorApp]


def test_each_is_told_once_and_the_last_stands_longest() -> None:
    news = NewsQueue()
    assert news.on_view(5) == ""

    news.add(["one", "two", "one"])

    assert news.on_view(10) == news.on_view(10 + HURRIED - 1) == "one  (1 more)"
    assert news.on_view(10 + HURRIED) == "two"
    assert news.on_view(10 + HURRIED + STANDS - 1) == "two"
    assert news.on_view(10 + HURRIED + STANDS) == ""


def test_what_is_on_view_is_not_told_again_and_a_restart_of_the_machine_ends_it() -> None:
    news = NewsQueue()
    news.add(["one"])
    assert news.on_view(100) == "one"
    news.add(["one"])
    assert news.waiting == ["one"]
    assert news.on_view(3) == ""


def test_what_is_for_one_person_is_over_once_somebody_else_is_signed_in() -> None:
    news = NewsQueue()
    news.add(["for AA"], to="AA")
    news.add(["for all"])
    assert news.on_view(0, "AA") == "for AA  (1 more)"
    assert news.on_view(1, "BB") == "for all"
    assert news.on_view(STANDS, "AA") == "for all", "it begins to stand when it is first seen"
    news.add(["for AA"], to="AA")
    assert news.on_view(3 * STANDS, "") == ""


def test_many_at_once_are_counted() -> None:
    news = NewsQueue()
    news.add([f"{n}" for n in range(9)])
    assert news.waiting == ["0", "1", "2", f"+{9 - MOST} more (Esc: list)"]


@given(st.lists(st.lists(st.text(min_size=1, max_size=3), max_size=5), max_size=5))
def test_everything_is_over_in_the_end(told: list[list[str]]) -> None:
    news = NewsQueue()
    up = 0.0
    for texts in told:
        news.add(texts)
        news.on_view(up)
        up += 1
    for _ in range(30):
        up += STANDS
        news.on_view(up)
    assert news.on_view(up) == ""


async def test_it_stands_in_the_line_of_replies_and_a_reply_goes_first(
    batch: str, open_app: Open, clock: ManualClock
) -> None:
    app = open_app()
    async with app.run_test(size=(80, 24)) as pilot:
        line = app.screen.query_one("#reply", Static)
        rows = app.screen.query_one("#next").region.bottom
        app.tell(["Do by 07:30: Start · 20 Coat the groove"])
        await pilot.pause()
        assert str(line.content) == "! Do by 07:30: Start · 20 Coat the groove"
        assert line.region.y >= rows, "below the list, not over it"

        app.screen.say("Signed in")  # type: ignore[attr-defined]
        app.advance_clocks()
        assert str(line.content) == "✓ Signed in"
        clock.forward(10)
        app.advance_clocks()
        assert str(line.content).startswith("! Do by")
        clock.forward(STANDS + 1)
        app.advance_clocks()
        assert str(line.content) == ""


async def test_a_long_one_takes_two_lines_and_the_list_gives_way(batch: str, open_app: Open) -> None:
    said = (
        "B0001: 38 % chance to fill the order. Starting 13 more now at op 10 (with a new set-up) "
        "makes it 91 %, for about 7.7 h of work."
    )
    app = open_app()
    async with app.run_test(size=(80, 24)) as pilot:
        app.mention([said])
        await pilot.pause()
        line, body = app.screen.query_one("#reply"), app.screen.query_one("#next")
        assert line.region.height == 2
        assert not body.region.overlaps(line.region)
        assert "7.7 h of work" in words(app)
        assert not app._notifications


async def test_it_goes_along_to_the_next_screen(batch: str, open_app: Open) -> None:
    app = open_app()
    async with app.run_test(size=(80, 24)) as pilot:
        app.tell(["Confirm cycle complete · 10 Mill the groove"])
        await pilot.press("b")
        assert "! Confirm cycle complete · 10 Mill the groove" in words(app)
