"""Papers by one key from every screen that has some: chosen, saved in the shop's folder, read on screen."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from floor.app import FloorApp
from floor.batch.lifecycle.commands import CloseBatch, OpenBatch, SetPiecesAside
from floor.figures.schedule import QUICK
from floor.papers.handover import FORM_REVISION
from floor.planning.plan import make_plan
from floor.planning.problem import Crew
from floor.planning.snapshot import take_snapshot
from floor.screens.batch.closed import ClosedScreen
from floor.screens.batch.history import HistoryScreen
from floor.screens.batch.screen import BatchScreen
from floor.screens.batch.trace import TraceScreen
from floor.screens.forms.dialogs import ChoiceDialog, TroubleDialog
from floor.screens.frame.paper_choice import PAPERS
from floor.screens.frame.paper_screen import PaperScreen
from floor.screens.frame.screen import FloorScreen
from floor.screens.frame.session import Session
from floor.screens.handover.screen import HandoverScreen
from floor.screens.plan.screen import PlanScreen
from floor.screens.walk.screen import WalkScreen
from floor.shop import Shop
from floor.shop.load_settings import load_settings
from tests.batch.factory import part
from tests.screens.conftest import Picture
from tests.screens.keys import words
from tests.screens.seen import seen

Open = Callable[..., FloorApp]


def run_of(shop: Shop, batch: str) -> int:
    return shop.batch(batch).list_open_runs()[0].number


WHERE: dict[str, tuple[Callable[[Session, str], FloorScreen], str, str]] = {
    "batch": (BatchScreen, "Traveler: Pallet", "TRAVELER"),
    "walk": (
        lambda session, id: WalkScreen(session, id, run_of(session.shop, id)), "Traveler: Pallet", "TRAVELER"
    ),
    "handover": (HandoverScreen, "Handover sheet", f"HANDOVER SHEET, form revision {FORM_REVISION}"),
    "history": (HistoryScreen, "Travelers of all", "TRAVELER"),
    "trace": (lambda session, id: TraceScreen(session, id, 2), "Trace of piece 2", "TRACE"),
}  # fmt: skip
"""Screen, what is offered first there, and how that paper begins."""


@pytest.mark.parametrize("where", WHERE)
async def test_the_same_key_writes_and_shows_a_paper(open_app: Open, shop: Shop, half: str, where: str) -> None:
    """IEEE 1786-2011: a copy on demand; a person without a printer reads it on screen."""
    make, title, begins = WHERE[where]
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        app.push_screen(make(app.session, half))
        await pilot.pause()
        out = ["escape"] if where == "walk" else []  # of the field of its form
        await pilot.press(*out, "e")
        assert isinstance(app.screen, ChoiceDialog)
        assert f"1  {title}" in seen(app)
        await pilot.press("escape", *out, "e", "1")

        assert isinstance(app.screen, PaperScreen)
        paper = app.screen.paths[0]
        assert paper is not None
        assert paper.parent == shop.folder / "papers"
        shown = seen(app)
        assert str(paper) in shown
        assert f"{begins}  {half}" in shown
        text = paper.read_text(encoding="utf-8")
        assert shop.head(half) in text

        await pilot.press("end")
        assert text.splitlines()[-1].split()[-1] in seen(app)
        await pilot.press("escape")
        assert type(app.screen) is type(make(app.session, half))


async def test_a_closed_batch_has_its_report(shop: Shop, open_app: Open) -> None:
    id = shop.open_batch(OpenBatch(shop.find_next_id(), part(), "digest", "part.toml", 3, 3), by="LL").id
    shop.do(id, SetPiecesAside("scrap", "stock was cracked", op=10, count=3), "LL")
    shop.do(id, CloseBatch("stock was cracked"), "LL")
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        app.push_screen(ClosedScreen(app.session))
        await pilot.pause()
        await pilot.press("e")
        assert "1  Close-out report" in seen(app)
        assert "Handover sheet" not in seen(app)
        await pilot.press("enter")
        assert "NOT CLOSED" not in seen(app)
        assert "Closed 2026-03-02" in seen(app)


async def test_the_plan_is_a_paper_too(open_app: Open, shop: Shop, half: str) -> None:
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        app.push_screen(PlanScreen(app.session))
        await pilot.pause()
        await pilot.press("e")
        assert "There is no plan to write yet" in seen(app)

        settings = load_settings(shop.folder, shop.now().at)
        taken = take_snapshot(shop.batches, shop.now(), Crew(settings.calendar, settings.hands))
        app.session.planner.shop_plan = make_plan(taken.ways, effort=QUICK)
        await pilot.press("e", "1")
        assert isinstance(app.screen, PaperScreen)
        assert "Plan of Mon 02 Mar 2026" in seen(app)
        await pilot.press("escape", "e", "2")
        assert isinstance(app.screen, PaperScreen)
        assert app.screen.paths
        assert app.screen.paths[0].suffix == ".csv"


async def test_where_the_disk_refuses_it_is_shown_all_the_same(open_app: Open, shop: Shop, half: str) -> None:
    (shop.folder / "papers").write_text("a file is in the way")
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        app.push_screen(HandoverScreen(app.session, half))
        await pilot.pause()
        await pilot.press("e", "1")

        shown = seen(app)
        assert "HANDOVER SHEET" in shown
        assert "Not saved: this paper is on this screen only" in shown
        assert "✕ Not written: " in shown
        assert "then choose it again" in " ".join(shown.split())


async def test_nothing_in_a_paper_is_taken_by_the_terminal_as_a_command(open_app: Open) -> None:
    """ECMA-48: CSI and OSC also come as one character, which JSON does not escape."""
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        app.push_screen(PaperScreen(app.session, "x", "a\x9b2Jb [red]c[/]\fd\x1b]0;e", [Path("x.txt")]))
        await pilot.pause()

        lines = list(app.screen.query_one("#paper").lines)  # type: ignore[attr-defined]
        assert lines[:2] == ["a\N{REPLACEMENT CHARACTER}2Jb [red]c[/]", "d\N{REPLACEMENT CHARACTER}]0;e"]
        assert "[red]c[/]" in seen(app)


def test_the_key_is_the_same_everywhere() -> None:
    for screen in (BatchScreen, WalkScreen, HandoverScreen, HistoryScreen, TraceScreen, ClosedScreen, PlanScreen):
        assert PAPERS in screen.BINDINGS, screen


def test_picture_of_a_paper(picture: Picture, open_app: Open, half: str) -> None:
    """A traveler to read: its head, its first lines, and where its file is."""

    async def go(pilot: Any) -> None:
        pilot.app.push_screen(BatchScreen(pilot.app.session, half))
        await pilot.pause()
        await pilot.press("e", "1")
        await pilot.pause()

    picture(open_app("LL"), run_before=go)


def name_printer(shop: Shop, script: str) -> None:
    """A printer that runs a script with the paper on its standard input."""
    program = shop.folder.resolve() / "printer.py"
    program.write_text(f"import sys\npaper = sys.stdin.buffer.read()\n{script}\n")
    (shop.folder / "shop.toml").write_text(f'print = "{sys.executable} {program}"\n')


async def until_said(pilot: Any, said: str) -> None:
    """Wait until a reply is on screen, as long as a printer may take."""
    for _ in range(400):
        await pilot.pause(0.05)
        if said in " ".join(words(pilot.app).split()):
            return
    pytest.fail(f"{said!r} never came: {words(pilot.app)}")


async def test_a_paper_is_printed_as_it_was_saved_and_nothing_is_recorded(
    open_app: Open, shop: Shop, half: str
) -> None:
    out = shop.folder.resolve() / "printed"
    name_printer(shop, f"open({str(out)!r}, 'wb').write(paper)\nprint('request id is office-7')")
    before = shop.batch(half).seq
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        app.push_screen(BatchScreen(app.session, half))
        await pilot.pause()
        await pilot.press("e", "1", "ctrl+p")
        await until_said(pilot, "✓ Sent to the printer. request id is office-7")
        assert isinstance(app.screen, PaperScreen)
        assert app.screen.paths
        assert out.read_bytes() == app.screen.paths[0].read_bytes()
    assert shop.batch(half).seq == before


async def test_a_printer_that_fails_is_a_sentence(open_app: Open, shop: Shop, half: str) -> None:
    name_printer(shop, "print('cover open', file=sys.stderr); sys.exit(2)")
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        app.push_screen(BatchScreen(app.session, half))
        await pilot.pause()
        await pilot.press("e", "1", "ctrl+p")
        await until_said(pilot, "✕ Not printed: cover open (exit status 2)")


async def test_keys_work_while_a_slow_printer_does_not_answer(open_app: Open, shop: Shop, half: str) -> None:
    go = shop.folder.resolve() / "go"
    os.mkfifo(go)
    name_printer(shop, f"open({str(go)!r}).read()\nprint('at last')")
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        app.push_screen(BatchScreen(app.session, half))
        await pilot.pause()
        await pilot.press("e", "1", "ctrl+p")
        assert "Printing …" in words(app)
        await pilot.press("ctrl+p")
        assert "✕ Still working on the last key" in words(app)
        await pilot.press("escape")
        assert isinstance(app.screen, BatchScreen)
        go.write_text("")
        await until_said(pilot, "Sent to the printer. at last")


async def test_who_named_no_printer_is_told_how_to(open_app: Open, shop: Shop, half: str) -> None:
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        app.push_screen(BatchScreen(app.session, half))
        await pilot.pause()
        await pilot.press("e", "1", "ctrl+p")
        assert f'Write print = "lp" in {shop.folder / "shop.toml"}' in " ".join(words(app).split())
        (shop.folder / "shop.toml").write_text("print = 3")
        await pilot.press("ctrl+p")
        assert isinstance(app.screen, TroubleDialog)
        assert "write text in quotes" in words(app)


async def test_a_table_for_other_programs_is_not_printed(open_app: Open, shop: Shop, half: str) -> None:
    name_printer(shop, "")
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        app.push_screen(HistoryScreen(app.session, half))
        await pilot.pause()
        await pilot.press("e")
        assert isinstance(app.screen, ChoiceDialog)
        await pilot.press(next(pick for pick, one in zip(app.screen.picks, app.screen.choices, strict=True)
                               if "CSV" in one.text), "ctrl+p")  # fmt: skip
        assert "Not printed: it is machine-readable" in words(app)
