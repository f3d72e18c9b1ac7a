"""A waiting load is viewed, not begun, by Enter; y begins it; and a run only begun is put back with one key."""

from __future__ import annotations

import pytest

from floor.app import FloorApp
from floor.batch.handover.commands import OfferHandover
from floor.batch.walk.commands import BeginRun
from floor.batch.walk.load_clocks import list_running_clocks
from floor.batch.walk.put_back import PutBack
from floor.screens.batch.screen import BatchScreen
from floor.screens.forms.dialogs import ConfirmDialog, FormDialog
from floor.screens.shop.what_next import NextScreen
from floor.screens.walk.begin_run import BeginScreen
from floor.screens.walk.screen import WalkScreen
from tests.screens.conftest import Open
from tests.screens.keys import fill, words
from tests.screens.operator import Place, said
from tests.screens.painted import rows

SIZE = (80, 24)


def curing(place: Place) -> int:
    """A pallet that is coated, and stands 12 h before it is cut free at the mill."""
    load = place.load()
    place.through(load, 10, 20)
    return load


def stand_at(app: FloorApp, load: int) -> None:
    screen = app.screen
    assert isinstance(screen, NextScreen | BatchScreen)
    rows = [due.load for due in screen.due] if isinstance(screen, NextScreen) else [key for _, key, _ in screen.rows]
    screen.table.move_cursor(row=rows.index(load))


@pytest.mark.parametrize("at_batch", [False, True], ids=["what is next", "the batch"])
async def test_enter_on_a_load_that_cures_enters_nothing(open_app: Open, place: Place, at_batch: bool) -> None:
    load = curing(place)
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        if at_batch:
            app.go_batch(place.id)
            await pilot.pause()
        before = place.batch.seq
        stand_at(app, load)
        await pilot.press("enter")
        assert isinstance(app.screen, BeginScreen)
        assert "cure needs 11 h 59 more. Ready 19:28" in words(app)
        assert "at Mill" in words(app)
        await pilot.press("enter")
        assert "Ready " in said(app)
        await pilot.press("escape")
        assert not isinstance(app.screen, BeginScreen)
        assert place.batch.seq == before
        other = place.load()
        place.hand.do(BeginRun(other))  # the mill is free for it


async def test_once_it_is_ripe_one_key_begins_it_and_enter_still_does_not(open_app: Open, place: Place) -> None:
    load = curing(place)
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        stand_at(app, load)
        await pilot.press("enter")
        place.clock.forward(12 * 3600)
        app.advance_clocks()
        await pilot.pause()
        assert "y or +: start op 30;" in words(app)
        await pilot.press("enter")
        assert "Not started. y or +: start op 30" in said(app)
        assert place.batch.loads[load].run is None
        await pilot.press("y")
        assert isinstance(app.screen, WalkScreen)
        await pilot.press("escape", "escape")  # out of the form first
        assert isinstance(app.screen, NextScreen), "nothing is waited for any more"
    assert place.batch.loads[load].run is not None


async def test_begun_anyway_it_is_put_back_with_one_key(open_app: Open, place: Place) -> None:
    load = curing(place)
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        stand_at(app, load)
        await pilot.press("enter", "y")
        assert isinstance(app.screen, ConfirmDialog)
        assert "Start all the same and wait there?" in words(app)
        assert place.batch.loads[load].run is None
        await pilot.press("y")
        assert isinstance(app.screen, WalkScreen)
        assert "u: put it back" in words(app)
        await pilot.press("u")
        assert isinstance(app.screen, NextScreen)
        assert "✓ Pallet 1 (load 1) is put back: Mill is free, the load is where it was" in said(app)
    assert place.batch.loads[load].run is None
    assert place.batch.entries[-1].kind == "run_put_back"


async def test_where_lines_fall_it_is_asked_first(open_app: Open, place: Place) -> None:
    load = place.load()
    run = place.at(load, "Shut the door")
    place.clock.forward(61)  # else the key takes back the last line alone
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        await pilot.press("u")
        assert isinstance(app.screen, ConfirmDialog)
        assert "will have to be done again" in words(app)
        await pilot.press("escape")
        assert isinstance(app.screen, WalkScreen)
        assert place.batch.loads[load].run == run
        await pilot.press("u", "y")
        assert isinstance(app.screen, NextScreen)
    assert place.batch.loads[load].run is None


async def test_what_has_started_is_refused_with_what_to_do(open_app: Open, place: Place) -> None:
    load = place.load()
    run = place.at(load, "end", wait=False)
    place.clock.forward(61)
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        await pilot.press("u")
        assert "End it, count and release" in said(app)
    assert place.batch.loads[load].run == run


async def test_with_a_handover_open_it_is_begun_by_a_stated_exception(open_app: Open, place: Place) -> None:
    load = curing(place)
    place.shop.do(place.id, OfferHandover("it cures"), "LL")
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.go_batch(place.id)
        await pilot.pause()
        stand_at(app, load)
        await pilot.press("enter", "y", "y")
        assert isinstance(app.screen, FormDialog)
        await fill(pilot, "set-up takes the night")
        assert isinstance(app.screen, WalkScreen)
    begun = next(entry for entry in reversed(place.batch.entries) if entry.kind == "run_begun")
    assert begun.body["exception"] == "set-up takes the night"
    assert "cure needs 11 h" in begun.body["unmet"]


async def test_a_load_that_is_still_to_be_counted_is_shown_without_its_pieces(open_app: Open, place: Place) -> None:
    """Who counts at a handover learns the figure from no screen."""
    load = curing(place)
    loose = len(place.batch.waiting(10, ""))
    place.shop.do(place.id, OfferHandover("it cures"), "LL")
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.go_batch(place.id)
        await pilot.pause()
        stand_at(app, load)
        await pilot.press("enter")
        assert isinstance(app.screen, BeginScreen)
        assert "? pieces: next op" in words(app)
        assert "4 pieces" not in words(app)
        await pilot.press("escape", "h")
        assert "still to be counted" in said(app)
        assert isinstance(app.screen, BatchScreen)
        stand_at(app, 10)
        await pilot.press("enter")
        assert isinstance(app.screen, ConfirmDialog)
        assert "Load ? pieces on Pallet 2 for op 10" in words(app)
        assert str(loose) not in app.screen.question.replace("op 10", "")


async def test_a_cycle_of_a_load_still_to_be_counted_is_asked_about_without_its_pieces(
    open_app: Open, place: Place
) -> None:
    run = place.at(place.load(), "Start the cycle")
    place.shop.do(place.id, OfferHandover("it runs tonight"), "LL")
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        await pilot.press("enter")
        assert isinstance(app.screen, ConfirmDialog)
        assert "(load 1), ? pieces." in words(app)


async def test_a_word_left_at_the_release_is_read_before_the_next_start_and_costs_no_key_more(
    open_app: Open, place: Place
) -> None:
    """HND-28: n, the words, Enter where there is something to say; whoever starts reads it and presses y as ever."""
    spoken, silent = place.load(), place.load()
    place.through(silent, 10)
    run = place.at(spoken, "release")
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        assert "n: leave a note" in words(app)
        await pilot.press("n", "b", "u", "r", "r", "enter", "enter")
        assert place.batch.runs[run].released is not None
        app.session.sign_in("BB")
        for load, read in ((silent, ()), (spoken, (run,))):
            app.go(BeginScreen(app.session, place.id, load))
            await pilot.pause()
            assert ("! AA, op 10" in words(app)) == ("I have read the note; " in words(app)) == bool(read)
            await pilot.press("y")
            begun = place.batch.entries[-1]
            assert (begun.kind, begun.by, begun.body["load"]) == ("run_begun", "BB", load)
            told = [place.batch.entries[seq - 1].body for seq in begun.body.get("read", ())]
            assert [(one["text"], one["run"]) for one in told] == [("burr", run) for _ in read]
            place.shop.do(place.id, PutBack(begun.body["run"]), "BB")


async def test_all_timers_stand_together_on_the_batch_screen_the_soonest_first(
    open_app: Open, place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    """CBP-51, at 80 columns; loads stand in the order of their numbers, timers do not."""
    later = place.load()
    place.through(later, 10)
    sooner = curing(place)
    place.clock.forward(600)
    place.through(later, 20)
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.go_batch(place.id)
        await pilot.pause()
        screen = app.screen
        assert isinstance(screen, BatchScreen)
        running = list_running_clocks(place.batch, place.clock())
        turns = [one.turns for _, one in running if one.turns is not None]
        assert turns == sorted(turns)
        assert [load.number for load, one in running if one.name == "cure"] == [sooner, later]
        said = " ".join("\n".join(rows(app)).split())
        places = [said.index(f"{place.batch.format_carrier(load)} ◔ {one.name} ") for load, one in running]
        assert places == sorted(places)
        assert len(running) > 2
        monkeypatch.setattr("floor.screens.batch.screen.TIMER_ROWS", 1)
        screen.update_all()
        await pilot.pause()
        assert f"{len(running) - 2} more: o" in words(app), "no timer is left out silently"


async def test_a_station_in_use_is_told_on_the_page_before_y(open_app: Open, place: Place) -> None:
    """The list said it; the page that opens says it too, with what is there, and offers no start."""
    first, second = place.load(), place.load()
    place.hand.do(BeginRun(first))
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        stand_at(app, second)
        await pilot.press("enter")
        assert isinstance(app.screen, BeginScreen)
        assert "✕ Mill busy: Pallet 1 (load 1) at op 10. Finish and release that" in words(app)
        assert "or +: start op" not in words(app)
        assert "Yes, start" not in words(app), "nor in the line of keys"
        await pilot.press("enter")
        assert "Mill busy: Pallet 1 (load 1) at op 10." in said(app)
        place.hand.do(PutBack(place.batch.runs[place.batch.loads[first].run or 0].number))
        app.advance_clocks()
        await pilot.pause()
        await pilot.pause()
        assert "y or +: start op 10; it takes Mill" in words(app)
        assert "Yes, start" in words(app)
