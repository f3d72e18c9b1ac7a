"""Whatever people type is shown as typed: never as markup, color, or a terminal command."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from floor.app import FloorApp
from floor.batch.corrections.commands import Note
from floor.batch.counting.commands import CountRun, MarkedPieces
from floor.batch.gates.commands import Waive
from floor.batch.handover.commands import OfferHandover
from floor.batch.lifecycle.commands import OpenBatch, SetPiecesAside
from floor.batch.walk.commands import Release
from floor.screens.batch.closed import ClosedScreen
from floor.screens.batch.history import HistoryScreen
from floor.screens.batch.hold import HoldScreen
from floor.screens.batch.screen import BatchScreen
from floor.screens.batch.trace import TraceScreen
from floor.screens.frame.screen import FloorScreen
from floor.screens.handover.screen import HandoverScreen
from floor.screens.shop.people import PeopleScreen
from floor.screens.walk.screen import WalkScreen
from floor.shop import Shop
from floor.shop.simulation import ManualClock, SimulatedOperator
from tests.batch.factory import part
from tests.screens.painted import flat, painted, rows

ODD = {
    "markup": ("[/] [red]hot[/red] [@click=app.quit]x[/] \\[ ] $error", "[/] [red]hot[/red]"),
    "escapes": ("\x1b[31mŁódź\x07 治具\r\none\ttwo", "[31mŁódź 治具 one"),
    "long": ("x" * 200, "x" * 20),
}
"""What is typed, and what is to be seen of it."""


@pytest.fixture(params=ODD.values(), ids=ODD)
def text(request: pytest.FixtureRequest) -> tuple[str, str]:
    return request.param  # type: ignore[no-any-return]


def _full_of_it(shop: Shop, clock: ManualClock, text: str) -> str:
    """A batch whose every free text is this one."""
    shop.add_person("XX", text, False, by="LL")
    batch = shop.open_batch(OpenBatch(shop.find_next_id(), part(), "-", "part.toml", 8, 10, reference=text), "LL").id
    hand = SimulatedOperator(shop, batch, "LL", clock, second="BB")
    load = hand.form(10)
    hand.work(load, stop=lambda line: line.title == "Measure groove depth")
    run, line = hand.run(load).number, hand.current(load)
    assert line is not None
    hand.do(Waive(run, line.key, text))
    hand.do(Note(text, run=run, abnormal=True, next_shift=True))
    hand.work(load, stop=lambda line: line.kind == "count")
    hand.do(CountRun(run, 3, (MarkedPieces("other", ("A1",), note=text),)))
    hand.do(Release(run))
    hand.do(SetPiecesAside("hold", text, load=load, positions=("A2",)))
    second = hand.form(10)
    hand.work(second, stop=lambda line: line.kind == "count")
    return batch


async def test_odd_text_is_shown_as_it_is_on_every_screen_it_reaches(
    shop: Shop, clock: ManualClock, text: tuple[str, str]
) -> None:
    typed, shown = text
    batch = _full_of_it(shop, clock, typed)
    app = FloorApp(shop, who="LL", ticking=False)
    session = app.session
    visits: dict[str, Callable[[], FloorScreen]] = {
        "batch": lambda: BatchScreen(session, batch),
        "walk": lambda: WalkScreen(session, batch, 1),
        "hold": lambda: HoldScreen(session, batch),
        "handover": lambda: HandoverScreen(session, batch),
        "history": lambda: HistoryScreen(session, batch),
        "trace": lambda: TraceScreen(session, batch, 2),
        "people": lambda: PeopleScreen(session),
        "closed": lambda: ClosedScreen(session),
    }
    seen: dict[str, str] = {}
    async with app.run_test(size=(160, 50), notifications=True) as pilot:
        seen["next"] = await painted(pilot)
        for name, visit in visits.items():
            app.go(visit())
            seen[name] = await painted(pilot)
            assert not any(character < " " or character == "\x7f" for row in rows(app) for character in row), name
            app.pop_screen()
        app.tell([f"Confirm cycle complete · {typed}"])
        app.trouble(typed)
        await pilot.pause()
        await pilot.press("enter")
        shop.do(batch, OfferHandover(typed), "LL")
        app.go(HandoverScreen(session, batch))
        session.who = "BB"
        app.update_screens()
        seen["handed over"] = await painted(pilot)
    for name in ("batch", "people", "hold", "history", "handed over"):
        assert flat(shown)[:18] in seen[name], f"{name}: {seen[name]}"
