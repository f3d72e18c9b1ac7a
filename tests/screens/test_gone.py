"""No screen outlives what it shows: if that is struck out, put back or closed, here or elsewhere, it says so and goes
away."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from textual.pilot import Pilot

from floor.app import FloorApp
from floor.batch.corrections.commands import StrikeOut
from floor.batch.counting.commands import CountRun
from floor.batch.gates.commands import Prove
from floor.batch.lifecycle.commands import CloseBatch, OpenBatch, SetPiecesAside, StartPieces
from floor.batch.walk.commands import BeginRun
from floor.batch.walk.put_back import PutBack
from floor.checklist.loading import load_checklist
from floor.screens.batch.history import HistoryScreen
from floor.screens.batch.hold import HoldScreen
from floor.screens.batch.screen import BatchScreen
from floor.screens.batch.trace import TraceScreen
from floor.screens.forms.dialogs import FormDialog
from floor.screens.frame.screen import FloorScreen
from floor.screens.handover.forms import ask_question
from floor.screens.handover.screen import HandoverScreen
from floor.screens.plan.screen import PlanScreen
from floor.screens.shop.order_form import OpenBatchScreen
from floor.screens.shop.what_next import NextScreen
from floor.screens.walk.begin_run import BeginScreen
from floor.screens.walk.count_form import CountScreen
from floor.screens.walk.large_view import LargeViewScreen
from floor.screens.walk.screen import WalkScreen
from floor.shop import Shop
from floor.shop.checklists import ChecklistFile
from tests.batch.factory import part
from tests.screens.conftest import Open
from tests.screens.keys import fill, words
from tests.screens.operator import Place, said

SIZE = (80, 24)
Opens = Callable[[FloorApp, Place, int], FloorScreen]

OF_A_RUN: dict[str, Opens] = {
    "walk": lambda app, place, run: WalkScreen(app.session, place.id, run),
    "count": lambda app, place, run: CountScreen(app.session, place.id, run),
    "afar": lambda app, place, run: LargeViewScreen(app.session, place.id, run),
}
OF_A_BATCH: dict[str, Opens] = {
    "batch": lambda app, place, run: BatchScreen(app.session, place.id),
    "hold": lambda app, place, run: HoldScreen(app.session, place.id),
    "handover": lambda app, place, run: HandoverScreen(app.session, place.id),
    **OF_A_RUN,
}


def begun(place: Place) -> int:
    load = place.load()
    return int(place.hand.do(BeginRun(load))[0].body["run"])


def elsewhere(place: Place, *commands: object) -> None:
    """At another terminal of the shop."""
    other = Shop(place.shop.folder, place.clock)
    for command in commands:
        other.do(place.id, command, "LL")  # type: ignore[arg-type]
    other.close()


def strike_begin(place: Place, run: int) -> StrikeOut:
    return StrikeOut(place.batch.runs[run].seq, "wrong load")


@pytest.mark.parametrize("screen", OF_A_RUN)
@pytest.mark.parametrize("how", ["struck out", "put back"])
@pytest.mark.parametrize("dialog", [False, True], ids=["alone", "behind a dialog"])
async def test_a_run_goes_while_its_screen_is_open(
    open_app: Open, place: Place, screen: str, how: str, dialog: bool
) -> None:
    run = begun(place)
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.go(OF_A_RUN[screen](app, place, run))
        await pilot.pause()
        if dialog:
            app.ask_who(lambda: pytest.fail("signed in for something that is gone"))
            await pilot.pause()
        elsewhere(place, strike_begin(place, run) if how == "struck out" else PutBack(run))
        app.look()
        await pilot.pause()
        assert isinstance(app.screen, NextScreen)
        assert how in said(app)
        await pilot.press("down", "b")
        assert isinstance(app.screen, BatchScreen), "it goes on"


async def test_all_screens_above_it_go_too(open_app: Open, place: Place) -> None:
    """What-next, batch, walk, count: the run is struck out in the history on top of them, the operator goes back."""
    run = begun(place)
    app = open_app("LL")
    async with app.run_test(size=SIZE) as pilot:
        app.go_batch(place.id)
        for opens in OF_A_RUN.values():
            app.go(opens(app, place, run))
            await pilot.pause()
        app.go(HistoryScreen(app.session, place.id))
        await pilot.pause()
        app.session.do(place.id, strike_begin(place, run))
        app.update_screens()
        await pilot.pause()
        assert isinstance(app.screen, HistoryScreen), "the history is all there"
        await pilot.press("escape")
        await pilot.pause()
        assert isinstance(app.screen, BatchScreen)
        assert "struck out" in said(app)


@pytest.mark.parametrize(
    "key", ["enter", "s", "w", "x", "n", "p", "m", "down", "home", "b", "f", "e", "u", "i", "1", "question_mark"]
)
@pytest.mark.parametrize("screen", ["walk", "count"])
async def test_a_key_that_comes_before_the_news_does_no_harm(
    open_app: Open, place: Place, screen: str, key: str
) -> None:
    """The record is read with the next command or check; a key may come in between."""
    run = begun(place)
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.go(OF_A_RUN[screen](app, place, run))
        await pilot.pause()
        before = place.batch.seq
        elsewhere(place, strike_begin(place, run))
        app.session.shop.refresh()
        await pilot.press(key, "escape")
        assert app.is_running
        assert place.batch.seq == before + 1, "nothing is entered in it"
        app.update_screens()
        await pilot.pause()
        app.update_screens()
        await pilot.pause()
        assert not isinstance(app.screen, WalkScreen | CountScreen)


@pytest.mark.parametrize("screen", OF_A_BATCH)
async def test_a_batch_is_closed_while_its_screen_is_open(open_app: Open, place: Place, screen: str) -> None:
    run = begun(place)
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.go(OF_A_BATCH[screen](app, place, run))
        await pilot.pause()
        elsewhere(
            place,
            PutBack(run),
            SetPiecesAside("scrap", "order is off", load=1, positions=("A1", "A2", "B1", "B2")),
            SetPiecesAside("scrap", "order is off", op=10, count=6),
            CloseBatch("order is off"),
        )
        app.look()
        await pilot.pause()
        assert isinstance(app.screen, NextScreen)
        assert "closed" in said(app) or "put back" in said(app)


@pytest.mark.parametrize("screen", [HistoryScreen, TraceScreen])
async def test_what_only_reads_goes_on_reading_a_closed_batch(
    open_app: Open, place: Place, screen: type[HistoryScreen | TraceScreen]
) -> None:
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.go(screen(app.session, place.id, 1) if screen is TraceScreen else screen(app.session, place.id))
        await pilot.pause()
        elsewhere(place, SetPiecesAside("scrap", "order is off", op=10, count=10), CloseBatch("order is off"))
        app.look()
        await pilot.pause()
        assert isinstance(app.screen, screen)


async def test_a_piece_whose_start_is_struck_out(open_app: Open, place: Place) -> None:
    place.shop.do(place.id, StartPieces(2), "LL")
    start = place.batch.seq
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.go(TraceScreen(app.session, place.id, 12))
        await pilot.pause()
        elsewhere(place, StrikeOut(start, "not cut"))
        app.look()
        await pilot.pause()
        assert isinstance(app.screen, NextScreen)
        assert "no piece 12 any more: 10 pieces are started" in said(app)


@pytest.mark.parametrize("screen", ["walk", "count"])
async def test_a_walk_of_a_run_that_is_not_there_opens_and_goes(open_app: Open, place: Place, screen: str) -> None:
    run = begun(place)
    place.shop.do(place.id, PutBack(run), "LL")
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.go(OF_A_RUN[screen](app, place, run))
        await pilot.pause()
        assert isinstance(app.screen, NextScreen)
        assert "put back" in said(app)


# --- dialogs about it, and screens of what only waits --------------------------------------------------------------


DIALOGS: dict[str, tuple[Opens, tuple[str, ...]]] = {
    "waiver": (OF_A_RUN["walk"], ("escape", "w")),
    "note": (OF_A_RUN["walk"], ("escape", "n")),
    "question": (OF_A_BATCH["handover"], ()),
    "offer": (OF_A_BATCH["handover"], ("enter",)),
    "left unattended": (OF_A_BATCH["handover"], ("d", "1")),
}


def at_a_gate(place: Place) -> int:
    return place.at(place.load(), "Load and measure tool 1")


def order_is_off(place: Place, run: int) -> tuple[object, ...]:
    return (
        PutBack(run),
        SetPiecesAside("scrap", "order is off", load=1, positions=("A1", "A2", "B1", "B2")),
        SetPiecesAside("scrap", "order is off", op=10, count=6),
        CloseBatch("order is off"),
    )


async def ask_and_put_off(app: FloorApp, pilot: Pilot[str], place: Place, run: int, dialog: str) -> None:
    """A dialog is open, and the order is put off elsewhere."""
    opens, keys = DIALOGS[dialog]
    app.go(opens(app, place, run))
    await pilot.pause()
    await pilot.press(*keys)
    if not keys:  # the key asks once all is counted
        ask_question(app.screen)  # type: ignore[arg-type]
        await pilot.pause()
    assert isinstance(app.screen, FormDialog)
    elsewhere(place, *order_is_off(place, run))


@pytest.mark.parametrize("dialog", DIALOGS)
async def test_a_dialog_goes_with_what_it_asks_about(open_app: Open, place: Place, dialog: str) -> None:
    app, run = open_app("LL"), at_a_gate(place)
    async with app.run_test(size=SIZE) as pilot:
        await ask_and_put_off(app, pilot, place, run, dialog)
        app.look()
        await pilot.pause()
        assert isinstance(app.screen, NextScreen)
        assert "closed" in said(app) or "put back" in said(app)


@pytest.mark.parametrize("dialog", DIALOGS)
async def test_an_answer_that_comes_before_the_news_enters_nothing(open_app: Open, place: Place, dialog: str) -> None:
    app, run = open_app("LL"), at_a_gate(place)
    async with app.run_test(size=SIZE) as pilot:
        await ask_and_put_off(app, pilot, place, run, dialog)
        for _ in range(4):
            if isinstance(app.screen, FormDialog):
                await fill(pilot, "all is well")
        await pilot.pause()
        assert app.is_running
        app.look()
        await pilot.pause()
        assert place.batch.closed is not None
        assert place.batch.entries[-1].kind == "batch_closed", "nothing is entered in it"
        assert isinstance(app.screen, NextScreen)


def waiting(place: Place, *through: int) -> int:
    """A load through these operations that nobody has started at the next."""
    load = place.load()
    place.through(load, *through)
    return load


@pytest.mark.parametrize(
    ("how", "why"),
    [("begun", "was started by LL"), ("struck out", "no longer there"), ("set aside", "no longer there"),
     ("gone on", "has gone on"), ("closed", "is closed")],
)  # fmt: skip
async def test_a_load_that_is_looked_at_while_it_waits(open_app: Open, place: Place, how: str, why: str) -> None:
    load = waiting(place, *{"struck out": (), "gone on": (10,)}.get(how, (10, 20)))
    formed = next(entry.seq for entry in place.batch.entries if entry.kind == "load_formed")
    aside = SetPiecesAside("scrap", "order is off", load=load, positions=("A1", "A2", "B1", "B2"))
    acts: dict[str, tuple[object, ...]] = {
        "begun": (BeginRun(load, anyway=True),),
        "struck out": (StrikeOut(formed, "wrong pallet"),),
        "set aside": (aside,),
        "gone on": (),
        "closed": (aside, SetPiecesAside("scrap", "order is off", op=10, count=6), CloseBatch("order is off")),
    }
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.go(BeginScreen(app.session, place.id, load))
        await pilot.pause()
        assert isinstance(app.screen, BeginScreen)
        elsewhere(place, *acts[how])
        if how == "gone on":
            place.through(load, 20)
        app.look()
        app.update_screens()
        await pilot.pause()
        assert isinstance(app.screen, NextScreen)
        assert why in said(app)


async def test_the_plan_goes_on_without_a_batch_that_is_closed(open_app: Open, place: Place) -> None:
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.go(PlanScreen(app.session, place.id))
        await pilot.pause()
        elsewhere(place, SetPiecesAside("scrap", "order is off", op=10, count=10), CloseBatch("order is off"))
        app.look()
        await pilot.pause()
        assert isinstance(app.screen, PlanScreen), "it is of all batches"
        assert app.screen.place().startswith("Plan  0 open batches")
        for key in ("v", "plus", "minus", "left", "down", "home", "z", "escape", "escape"):
            await pilot.press(key)
            assert app.is_running
        assert isinstance(app.screen, NextScreen)


async def test_an_order_is_opened_though_another_took_its_number(open_app: Open, place: Place) -> None:
    """While the figures were put in, another terminal opened a batch."""
    checklist = part()
    path = Path(__file__).parents[1] / "batch" / "part.toml"
    one = ChecklistFile(path, path.name, load_checklist(path))
    app = open_app("LL")
    async with app.run_test(size=SIZE) as pilot:
        app.go(OpenBatchScreen(app.session, one, checklist))
        await pilot.pause()
        other = Shop(place.shop.folder, place.clock)
        taken = other.open_batch(OpenBatch(other.find_next_id(), checklist, "digest", "part.toml", 1, 4), by="AA").id
        other.close()
        await fill(pilot, "2", "", "", "")
        await pilot.press("y")
        await pilot.pause()
        app.look()
        await pilot.pause()
        opened = [batch.id for batch in app.session.shop.batches]
        assert opened == [place.id, taken, f"B{int(taken[1:]) + 1:04d}"]


@pytest.mark.parametrize("heard", [True, False], ids=["heard of it", "pressed first"])
async def test_a_count_made_elsewhere_leaves_no_form_to_count_again(open_app: Open, place: Place, heard: bool) -> None:
    run = place.at(place.load(), "count")
    app = open_app("BB")
    async with app.run_test(size=SIZE) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        await pilot.press("enter", "1")
        elsewhere(place, CountRun(run, 4))
        if heard:
            app.look()
            await pilot.pause()
        else:
            await pilot.press("enter")
        assert isinstance(app.screen, WalkScreen)
        assert "Pallet 1 (load 1) was counted by LL at" in words(app)


async def test_a_count_follows_what_is_set_aside_elsewhere(open_app: Open, place: Place) -> None:
    run = place.at(place.load(), "count")
    app = open_app("BB")
    async with app.run_test(size=SIZE) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        await pilot.press("enter", "1", "right", "1")
        elsewhere(place, SetPiecesAside("hold", "doubtful", load=1, positions=("A1",)))
        app.look()
        await pilot.pause()
        screen = app.screen
        assert isinstance(screen, CountScreen)
        assert (list(screen.marks), screen.names) == (["A2"], ["A2", "B1", "B2"])
        assert "3 went in = 2 good (the rest) + 1 scrap: adds up; 1 on hold (A1) still" in words(app)


async def test_enter_meant_for_a_line_that_another_terminal_recorded_confirms_no_other(
    open_app: Open, place: Place
) -> None:
    """What was typed is not recorded, which is said; the line that came up is read first."""
    run = place.at(place.load(), "Probe G54 X Z")
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        await pilot.press("0", "enter", "0")
        elsewhere(place, Prove(run, "probed 1", {"X": 0, "Z": 0}))
        app.look()
        await pilot.pause()
        assert said(app) == "✕ LL recorded this at another terminal: X 0 mm, Z 0 mm; yours was not recorded: 0, 0"
        before = place.batch.seq
        await pilot.press("enter")
        await pilot.pause()
        assert said(app) == "✕ Another terminal recorded here: read this line, then press Enter"
        assert place.batch.seq == before
        await pilot.press("enter")
        await pilot.pause()
        assert place.batch.seq > before


async def test_the_slower_of_two_who_fill_one_form_is_told(open_app: Open, place: Place) -> None:
    """Enter in both at once: one entry, and who was slower reads what stands and that theirs does not."""
    run = place.at(place.load(), "Probe G54 X Z")
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        await pilot.press("0", ".", "5", "enter", "0")
        elsewhere(place, Prove(run, "probed 1", {"X": 0, "Z": 0}))
        await pilot.press("enter")
        await pilot.pause()
        assert said(app) == "✕ LL recorded this at another terminal: X 0 mm, Z 0 mm; yours was not recorded: 0.5, 0"
        before = place.batch.seq
        await pilot.press("enter")
        await pilot.pause()
        assert place.batch.seq == before, "the line that came up is read first"


async def test_what_was_typed_stands_again_where_the_line_asks_for_it_again(open_app: Open, place: Place) -> None:
    """The other terminal's zero was out of limits, so the line asks again: what was typed here is of use still."""
    run = place.at(place.load(), "Probe G54 X Z")
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        await pilot.press("0", ".", "5", "enter", "0")
        elsewhere(place, Prove(run, "probed 1", {"X": 3, "Z": 3}))
        app.look()
        await pilot.pause()
        assert isinstance(app.screen, WalkScreen)
        assert "LL recorded this at another terminal: X 3 mm, Z 3 mm; what you typed still stands here" in said(app)
        assert [box.value for box in app.screen.asks.inputs] == ["0.5", "0"]
        await pilot.press("enter", "enter")
        await pilot.pause()
        assert place.batch.entries[-1].body["values"] == {"X": 0.5, "Z": 0}
