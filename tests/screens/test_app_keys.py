"""The program around the screens: its keys, news, sign-in, messages at start-up."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from textual.binding import Binding
from textual.events import Paste
from textual.screen import Screen

from floor.app import FloorApp
from floor.batch.moving.commands import MovePieces
from floor.batch.walk.commands import BeginRun
from floor.screens.batch.carrier_dialog import CarrierDialog
from floor.screens.batch.closed import ClosedScreen
from floor.screens.batch.history import HistoryScreen
from floor.screens.batch.hold import HoldScreen
from floor.screens.batch.screen import BatchScreen
from floor.screens.forms.dialogs import ChoiceDialog, ConfirmDialog, FormDialog, TroubleDialog
from floor.screens.frame.keys import KeysDialog, name_key
from floor.screens.frame.screen import FloorScreen
from floor.screens.frame.sign_in import SignInDialog
from floor.screens.handover.screen import HandoverScreen
from floor.screens.shop.gauges import GaugesScreen
from floor.screens.shop.open_batch import ChecklistsScreen
from floor.screens.shop.people import PeopleScreen
from floor.screens.shop.what_next import NextScreen
from floor.screens.walk.begin_run import BeginScreen
from floor.screens.walk.count_form import CountScreen
from floor.screens.walk.large_view import LargeViewScreen
from floor.screens.walk.screen import WalkScreen
from floor.shop import Shop
from tests.screens.keys import words
from tests.screens.operator import Operator, Place, said
from tests.screens.test_walk_screen import on_walk

SIZE = (80, 24)


def opened(place: Place, who: str = "LL") -> tuple[FloorApp, Operator]:
    app = FloorApp(place.shop, who=who, ticking=False)
    return app, Operator(app, place.clock, "BB")


# --- every documented key does something ---------------------------------------------------------------------------

Brought = type[Screen[object]] | str
"""A screen, or words on it; what is brought by several keys has a blank between them."""

NEXT: dict[str, Brought] = {
    "enter": WalkScreen, "r": WalkScreen, "b": BatchScreen, "a": ChecklistsScreen, "c": "The shop",
    "c 1": PeopleScreen, "c 2": GaugesScreen, "c 3": ClosedScreen, "f": LargeViewScreen, "n": "Note on batch",
    "u": "Nothing of yours from the last minute", "l": "Who is next?",
}  # fmt: skip
BATCH: dict[str, Brought] = {
    "enter": WalkScreen, "a": "Start more", "d": HoldScreen, "o": HandoverScreen, "j": HistoryScreen,
    "t": "Which piece?", "m": "Set pieces aside", "h": "Move: Pallet 1", "n": "Note on batch",
    "u": "Nothing of yours from the last minute", "v": ChoiceDialog,
    "k": "Cannot close", "x": "Which station is out of service", "e": "Papers", "f": CarrierDialog,
    "escape": NextScreen,
}  # fmt: skip
WALK: dict[str, Brought] = {
    "s": "Skip: Clamp the pallet",
    "w": "Nothing to waive here",
    "x": ChoiceDialog,
    "n": FormDialog,
    "p": ChoiceDialog,
    "m": "Set pieces aside",
    "b": BatchScreen,
    "v": "required checks, 5 of 9 met",
    "ctrl+g": "required checks, 5 of 9 met",
    "e": "Papers",
    "f": LargeViewScreen,
    "down": "View only",
    "up": "View only",
    "escape": NextScreen,
    "enter": "▶ Press each corner",
    "space": "▶ Probe G54 X Z",
    "escape u": "Taken back",
}
COUNT: dict[str, Brought] = {
    "1": "1 scrap",
    "9": FormDialog,
    "1 0": "4 good",
    "full_stop": "Your own count",
    "full_stop 3 enter": "1 too few",
    "right": "",
    "down": "",
    "escape": WalkScreen,
    "enter": WalkScreen,
}
TABLES = {"next": NEXT, "batch": BATCH, "walk": WALK, "count": COUNT}


@pytest.mark.parametrize("where", TABLES)
async def test_every_documented_key_does_what_it_says(place: Place, where: str) -> None:
    """A key name that is wrong fails silently, so each is pressed once."""
    load = place.load()
    run = place.at(load, "count" if where == "count" else "Clamp the pallet")
    app, keys = opened(place)
    async with app.run_test(size=SIZE) as pilot:
        for key, brings in TABLES[where].items():
            await _bring(app, keys, place, run, where)
            if where == "next" and key == "enter":
                await pilot.press("down")  # the run under way stands below the pieces that wait for a pallet
            if where == "count" and key in ("right", "down"):
                assert isinstance(app.screen, CountScreen)
                cursor = app.screen.cursor
                await pilot.press(key)
                assert app.screen.cursor != cursor
            else:
                await pilot.press(*key.split())
            if isinstance(brings, str):
                await keys.until(lambda brings=brings: brings in words(app) + said(app), brings)
            else:
                await keys.until(lambda brings=brings: isinstance(app.screen, brings), f"{brings.__name__} after {key}")
            app.session.who = "LL"
            while len(app.screen_stack) > 1:
                app.pop_screen()
            await pilot.pause()


async def _bring(app: FloorApp, keys: Operator, place: Place, run: int, where: str) -> None:
    if where == "batch":
        app.go_batch(place.id)
        await keys.until(lambda: isinstance(app.screen, BatchScreen) and app.screen.is_mounted, "the batch")
    elif where in ("walk", "count"):
        app.go_walk(place.id, run)
        await keys.line()
        if where == "count":
            await keys.press("enter")
            await keys.until(lambda: isinstance(app.screen, CountScreen) and app.screen.is_mounted, "the count")
    else:
        await keys.back()


@pytest.mark.parametrize("screen", [NextScreen, BatchScreen, WalkScreen, CountScreen])
def test_no_documented_key_is_left_out_above(screen: type[FloorScreen]) -> None:
    tables = {NextScreen: NEXT, BatchScreen: BATCH, WalkScreen: WALK, CountScreen: COUNT}
    shown = {
        key.strip()
        for binding in screen.BINDINGS
        if binding.show  # type: ignore[union-attr]
        for key in binding.key.split(",")[:1]  # type: ignore[union-attr]
    }
    elsewhere = {"q", "space", "g"}  # the end of the program and good again have tests of their own, so has the plan
    assert shown - elsewhere <= {key for keys in tables[screen] for key in keys.split()}


async def test_q_ends_the_program(place: Place) -> None:
    app, keys = opened(place)
    async with app.run_test(size=SIZE):
        await keys.back()
        keys.send("q")
        await keys.until(lambda: not app.is_running, "the end")


async def test_day_and_night_and_back(place: Place) -> None:
    app, keys = opened(place)
    async with app.run_test(size=SIZE):
        await keys.back()
        themes = [app.theme]
        for _ in range(2):
            app.simulate_key("ctrl+t")
            await keys.until(lambda: app.theme != themes[-1], "other colors")
            themes.append(app.theme)
        assert themes == ["floor-night", "floor-day", "floor-night"]


@pytest.mark.parametrize("where", TABLES)
async def test_all_keys_are_shown_with_what_they_do_and_any_puts_them_away(place: Place, where: str) -> None:
    """WCAG 2.2, success criterion 3.2.6: help in the same place everywhere; here every documented key has its line."""
    run = place.at(place.load(), "count" if where == "count" else "Clamp the pallet")
    app, keys = opened(place)
    async with app.run_test(size=SIZE) as pilot:
        await _bring(app, keys, place, run, where)
        below = app.screen
        documented = [
            name_key(app.get_key_display(binding))
            for binding in type(below).BINDINGS
            if isinstance(binding, Binding) and binding.description
        ]
        for putting_away in ("?", "escape", "m"):
            await pilot.press("?")
            assert isinstance(app.screen, KeysDialog)
            shown = [row.key.split() for row in app.screen.keys]
            for key in documented:
                assert any(key in row for row in shown), key
            assert all(row.word for row in app.screen.keys)
            seq = place.batch.seq
            await pilot.press(putting_away)
            assert app.screen is below
            assert place.batch.seq == seq


async def test_nobody_signed_in_is_asked_before_anything_is_recorded(place: Place) -> None:
    load = place.load()
    run = place.at(load, "Clamp the pallet")
    app, keys = opened(place, who="")
    async with app.run_test(size=SIZE) as pilot:
        app.go_walk(place.id, run)
        await keys.line()
        before = place.batch.seq
        await pilot.press("enter")
        assert isinstance(app.screen, SignInDialog)
        await pilot.press("escape")
        assert isinstance(app.screen, WalkScreen)
        assert place.batch.seq == before
        await pilot.press("enter", *"bb", "enter")
        assert app.session.who == "BB"
        await keys.line()
        await keys.press("enter")
    assert place.batch.entries[-1].by == "BB"


# --- news ----------------------------------------------------------------------------------------------------------


@pytest.fixture
def told(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """What the program rang for, one line per piece of news."""
    news: list[str] = []
    tell: Callable[..., None] = FloorApp.tell

    def listen(app: FloorApp, lines: list[str]) -> None:
        news.extend(lines)
        tell(app, lines)

    monkeypatch.setattr(FloorApp, "tell", listen)
    return news


async def test_a_cycle_that_ends_is_told_once_wherever_one_is(place: Place, told: list[str]) -> None:
    load = place.load()
    run = place.at(load, "end", wait=False) if not place.hand.work(load, wait=False) else 0
    app, keys = opened(place)
    async with app.run_test(size=SIZE, notifications=True) as pilot:
        app.go_walk(place.id, run)
        await keys.line()
        app.advance_clocks()
        assert told == []
        place.clock.forward(21 * 60)
        for _ in range(3):
            app.advance_clocks()
            place.clock.forward(20)
        assert len(told) == 1
        assert "Confirm cycle complete · 10 Mill the groove" in told[0]
        assert "Mill" in told[0]
        await pilot.pause()
        assert "Confirm cycle complete" in words(app)


async def test_a_window_about_to_close_is_told_once(place: Place, told: list[str]) -> None:
    """Both ends of a dwell raise a notice (CBP-50 of the guidance followed, after DOE-STD-1038-93 4.1.2)."""
    load = place.load()
    place.through(load, 10)
    place.at(load, "Brush the coat on")
    app, keys = opened(place)
    async with app.run_test(size=SIZE):
        await keys.back()
        app.advance_clocks()
        place.clock.forward(15 * 60)
        for _ in range(4):
            app.advance_clocks()
            place.clock.forward(30)
        assert len([one for one in told if one.startswith("Do by")]) == 1


async def test_news_takes_no_focus_and_hides_no_field(place: Place) -> None:
    """WCAG 2.2, success criteria 2.2.4 (interruptions) and 2.4.11 (focus not obscured)."""
    run = place.at(place.load(), "Probe G54 X Z")
    app, keys = opened(place)
    async with app.run_test(size=SIZE, notifications=True) as pilot:
        app.go_walk(place.id, run)
        await keys.line()
        await keys.type("0.2")
        app.tell(["One thing", "another", "a third", "a fourth"])
        await pilot.pause()
        walk = app.screen
        assert isinstance(walk, WalkScreen)
        assert app.focused is walk.asks.inputs[0]
        line = walk.reply
        assert str(line.content) == "! One thing  (3 more)"
        assert not any(line.region.overlaps(field.region) for field in walk.asks.inputs)
        await keys.type("5")
        assert walk.asks.inputs[0].value == "0.25"


async def test_a_tick_while_a_screen_comes_up_does_no_harm(place: Place) -> None:
    run = place.at(place.load(), "Clamp the pallet")
    app, keys = opened(place)
    async with app.run_test(size=SIZE):
        await keys.back()
        app.go_walk(place.id, run)
        app.advance_clocks()
        line = await keys.line()
        assert line is not None
        assert "▶ Clamp the pallet" in words(app)


# --- the start -----------------------------------------------------------------------------------------------------


async def test_what_came_up_at_the_start_must_be_read(shop: Shop) -> None:
    shop.troubles.append("Batch B0009 cannot be opened: [/] its first line is damaged")
    app = FloorApp(shop, ticking=False)
    async with app.run_test(size=SIZE) as pilot:
        await pilot.pause()
        assert isinstance(app.screen, TroubleDialog)
        assert "[/] its first line" in words(app)
        await pilot.press("x", "space")
        assert isinstance(app.screen, TroubleDialog)
        await pilot.press("enter")
        assert isinstance(app.screen, NextScreen)


async def test_an_empty_shop_offers_a_batch_and_the_demo(shop: Shop) -> None:
    app = FloorApp(shop, who="LL", ticking=False)
    async with app.run_test(size=SIZE) as pilot:
        await pilot.pause()
        assert "This shop has no batch yet" in words(app)
        for key in ("enter", "b", "r", "n"):
            await pilot.press(key)
            assert isinstance(app.screen, NextScreen)
        await pilot.press("a")
        assert isinstance(app.screen, ChecklistsScreen)


# --- what is next, the batch ---------------------------------------------------------------------------------------


async def test_pieces_are_loaded_and_begun_from_what_is_next(place: Place) -> None:
    app, keys = opened(place, who="AA")
    async with app.run_test(size=SIZE):
        await keys.back()
        await keys.press("enter")
        assert isinstance(app.screen, ConfirmDialog)
        assert not place.batch.loads, "Enter records nothing"
        await keys.press("y")
        await keys.until(lambda: place.batch.loads, "the load")
        assert "Pallet 1 loaded with 4 pieces" in said(app)
        screen = await keys.back()
        row = next(n for n, due in enumerate(screen.due) if due.go == "begin")
        while screen.table.cursor_row != row:
            await keys.press("down")
        await keys.press("enter")
        await keys.until(lambda: isinstance(app.screen, BeginScreen) and app.screen.is_mounted, "what begins")
        assert place.batch.loads[1].run is None, "Enter records nothing"
        await keys.press("y")
        await keys.until(lambda: isinstance(app.screen, WalkScreen), "the walk")
        assert place.batch.loads[1].run == 1


async def test_after_the_last_load_the_cursor_is_at_it_and_not_at_other_pieces(place: Place) -> None:
    """A slip of Enter and y must load nothing else."""
    app, keys = opened(place, who="AA")
    async with app.run_test(size=SIZE):
        screen = await keys.back()
        chosen = screen.chosen()
        while chosen is not None and chosen.go == "form" and len(place.batch.loads) < 9:
            before = len(place.batch.loads)
            await keys.press("enter", "y")
            await keys.until(lambda before=before: len(place.batch.loads) > before, "the load")
            await keys.back()
            chosen = screen.chosen()
        assert chosen is not None
        assert len(place.batch.loads) > 1, "while pieces wait, the next carrier is two keys away"
        assert (chosen.go, chosen.load) == ("begin", len(place.batch.loads))


async def test_the_batch_screen_loads_what_is_loose_and_opens_what_runs(place: Place) -> None:
    load = place.load()
    place.at(load, "Clamp the pallet")
    app, keys = opened(place, who="AA")
    async with app.run_test(size=SIZE):
        app.go_batch(place.id)
        await keys.until(lambda: isinstance(app.screen, BatchScreen) and app.screen.rows, "the batch")
        screen = app.screen
        assert isinstance(screen, BatchScreen)
        screen.table.move_cursor(1)
        await keys.press("enter")
        assert isinstance(app.screen, ConfirmDialog)
        await keys.press("y")
        await keys.until(lambda: len(place.batch.loads) == 2, "a second load")
        screen.table.move_cursor(0)
        await keys.press("enter")
        await keys.until(lambda: isinstance(app.screen, WalkScreen), "the walk")


async def test_on_the_batch_screen_too_the_cursor_goes_on_to_what_was_loaded(place: Place) -> None:
    """Other pieces wait loose below: one Enter and y too many must not load them."""
    place.through(place.load(), 10)
    place.shop.do(place.id, MovePieces(1, (1, 2)), "AA")
    app, keys = opened(place, who="AA")
    async with app.run_test(size=SIZE):
        app.go_batch(place.id)
        await keys.until(lambda: isinstance(app.screen, BatchScreen) and app.screen.rows, "the batch")
        screen = app.screen
        assert isinstance(screen, BatchScreen)
        screen.table.move_cursor(screen.rows.index(("pool", 10, "")))
        while ("pool", 10, "") in screen.rows:
            many = len(place.batch.loads)
            await keys.press("enter", "y")
            await keys.until(lambda many=many: len(place.batch.loads) > many, "the next load")
        assert ("pool", 20, "") in screen.rows
        assert screen.rows[screen.table.cursor_row] == ("load", len(place.batch.loads), "")


async def test_a_run_begins_under_an_open_handover_only_by_a_stated_exception(place: Place) -> None:
    """HND-03 of the guidance followed: nothing new begins until somebody has accepted (HSE on shift handover)."""
    from floor.batch.handover.commands import OfferHandover

    load = place.load()
    place.shop.do(place.id, OfferHandover("quiet shift"), "LL")
    app, keys = opened(place, who="AA")
    async with app.run_test(size=SIZE):
        app.go_batch(place.id)
        await keys.until(lambda: isinstance(app.screen, BatchScreen) and app.screen.rows, "the batch")
        await keys.press("enter")
        await keys.until(lambda: isinstance(app.screen, BeginScreen) and app.screen.is_mounted, "what begins")
        await keys.press("y")
        assert isinstance(app.screen, FormDialog)
        await keys.press("enter")
        await keys.until(lambda: "Reason: may not stay empty" in said(app), "what is wrong, in the form that stays")
        assert place.batch.loads[load].run is None
        await keys.type("oven is hot")
        await keys.press("enter")
        await keys.until(lambda: isinstance(app.screen, WalkScreen) and app.screen.is_mounted, "the walk")
    assert place.batch.entries[-1].body["exception"] == "oven is hot"


async def test_a_batch_is_closed_short_by_a_lead_with_a_reason_and_goes_to_the_closed_ones(place: Place) -> None:
    from floor.batch.lifecycle.commands import SetPiecesAside

    place.shop.do(place.id, SetPiecesAside("scrap", "order canceled", op=10, count=10), "LL")
    app, keys = opened(place, who="LL")
    async with app.run_test(size=SIZE):
        app.go_batch(place.id)
        await keys.until(lambda: isinstance(app.screen, BatchScreen) and app.screen.is_mounted, "the batch")
        await keys.press("k")
        await keys.press("escape")
        assert place.shop.closed() == []
        await keys.press("k")
        await keys.type("canceled")
        await keys.press("enter")
        await keys.until(lambda: place.shop.closed() == [place.id], "the closed batch")
        await keys.until(lambda: isinstance(app.screen, NextScreen), "what is next")


async def test_loose_pieces_are_counted_by_number(place: Place) -> None:
    """Without places a digit counts one piece to its reason, and space takes the last one back."""
    place.through(place.load(), 10, 20, 30)
    place.through(place.load(40), 40)
    load = place.load(50)
    place.at(load, "count")
    run = place.hand.run(load)
    app, keys = opened(place, who="AA")
    async with app.run_test(size=SIZE):
        app.go_walk(place.id, run.number)
        await keys.line()
        await keys.press("enter")
        await keys.until(lambda: isinstance(app.screen, CountScreen) and app.screen.is_mounted, "the count")
        await keys.press("1", "1", "space")
        reasons = place.batch.operation(50).reasons
        assert f"+ 1 {reasons[0].to}" in words(app)
        await keys.press("enter")
        await keys.until(lambda: place.batch.runs[run.number].count, "the count")
    count = place.batch.runs[run.number].count
    assert count is not None
    assert count.good == len(run.pieces) - 1


def test_the_batch_fixture_leaves_time_standing(place: Place) -> None:
    """Nothing in these tests reads the machine's clock."""
    before = place.clock()
    place.load()
    assert place.clock() == before
    place.clock.forward(1)
    assert place.clock().at - before.at == timedelta(seconds=1)


async def test_an_empty_shop_offers_the_demo_by_a_key_that_works(bare_shop: Shop) -> None:
    app = FloorApp(bare_shop, ticking=False)
    async with app.run_test(size=(80, 24)) as pilot:
        assert "c   people, gauges, and a demo: a half-done batch" in words(app)
        await pilot.press("c")
        assert isinstance(app.screen, ChoiceDialog)
        assert [choice.key for choice in app.screen.choices] == ["people", "gauges", "closed", "demo"]
        await pilot.press("4")

    assert app.return_value == "demo"


async def test_a_shop_at_work_is_not_left_for_the_demo(shop: Shop, batch: str) -> None:
    app = FloorApp(shop, who="AA", ticking=False)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("c")
        assert isinstance(app.screen, ChoiceDialog)
        assert [choice.key for choice in app.screen.choices] == ["people", "gauges", "closed"]
        await pilot.press("4", "d")
        await pilot.pause()
        assert app.is_running
        assert isinstance(app.screen, ChoiceDialog)


async def test_a_terminal_left_alone_signs_out_who_left_it(place: Place) -> None:
    """Nobody's entry goes in another's name: what was typed stands, and Enter asks who is there."""
    run = place.at(place.load(), "Probe G54 X Z")
    async with on_walk(place, run) as (app, keys, pilot):
        await pilot.press("0")
        place.clock.forward(29 * 60)
        app.sign_out_if_left()
        assert app.session.who == "AA"
        await pilot.press("enter")
        place.clock.forward(29 * 60)
        app.sign_out_if_left()
        assert app.session.who == "AA", "a key was pressed meanwhile"
        place.clock.forward(60)
        app.sign_out_if_left()
        assert app.session.who == ""
        assert "AA signed out: no key pressed for 30 min" in words(app) + said(app)
        app.session.sign_in("AA")
        for touch in (app.on_event(Paste("0.01")), pilot.click()):
            place.clock.forward(29 * 60)
            await touch
            place.clock.forward(29 * 60)
            app.sign_out_if_left()
            assert app.session.who == "AA", "a scan or a click is somebody too"
        (place.shop.folder / "shop.toml").write_text("sign_out_minutes = 0\n")
        place.clock.forward(10 * 3600)
        app.sign_out_if_left()
        assert app.session.who == "AA", "the shop never signs anybody out"


async def test_the_key_that_stops_other_programs_says_which_one_stops_this(place: Place) -> None:
    run = place.at(place.load(), "Probe G54 X Z")
    async with on_walk(place, run) as (app, keys, pilot):
        await pilot.press("escape", "ctrl+c")
        await pilot.pause()
        assert app.is_running
        assert "Ctrl+Q quits; the record is safe on the disk" in words(app)
        assert not app._notifications, "nothing of the toolkit's own"


async def test_quitting_asks_once_where_something_typed_is_in_no_record(place: Place) -> None:
    """A form typed for minutes went with one chord."""
    run = place.at(place.load(), "Probe G54 X Z")
    async with on_walk(place, run) as (app, keys, pilot):
        await pilot.press("0", "ctrl+q")
        assert isinstance(app.screen, ConfirmDialog)
        assert "not recorded yet" in words(app)
        await pilot.press("escape")
        assert app.screen.asks.inputs[0].value == "0", "what was typed stands"
        await pilot.press("ctrl+q", "ctrl+q")
        assert not app.is_running


async def test_quitting_asks_over_another_question_too(place: Place) -> None:
    run = place.at(place.load(), "Probe G54 X Z")
    async with on_walk(place, run) as (app, keys, pilot):
        await pilot.press("0")
        app.push_screen(ConfirmDialog("Is it really complete?"))
        await pilot.press("ctrl+q")
        assert "not recorded yet" in words(app)
        await pilot.press("y")
        assert not app.is_running


async def test_quitting_asks_where_pieces_are_marked_and_not_where_nothing_is(place: Place) -> None:
    run = place.at(place.load(), "count")
    async with on_walk(place, run) as (app, keys, pilot):
        await pilot.press("enter", "1", "ctrl+q")
        assert isinstance(app.screen, ConfirmDialog)
        await pilot.press("escape", "space", "ctrl+q")
        assert not app.is_running


async def test_the_run_that_one_is_at_stands_before_what_is_merely_due_too(place: Place) -> None:
    first = place.load()
    place.through(first, 10)
    place.shop.do(place.id, BeginRun(first), "BB")
    second = place.load()
    place.shop.do(place.id, BeginRun(second), "AA")
    for who, loads in (("BB", [first, second]), ("AA", [second, first])):
        app, _ = opened(place, who)
        async with app.run_test(size=SIZE):
            screen = app.screen
            assert isinstance(screen, NextScreen)
            assert [due.load for due in screen.due if due.go == "run"] == loads
