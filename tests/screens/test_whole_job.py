"""The whole job through the keys: opened, walked, counted, reworked, held, waived, handed over, closed.

The clock stands until the test moves it; every record is made by a key that the terminal could have sent.
"""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from floor.app import FloorApp
from floor.batch.handover import safety_lines, subjects
from floor.batch.walk import Line
from floor.screens.handover import HandoverScreen
from floor.screens.hold import HoldScreen
from floor.screens.next import NextScreen
from floor.shop import Shop
from floor.shop.hand import HandClock
from tests.batch.factory import HERE
from tests.screens.keys import fill as paste
from tests.screens.keys import words
from tests.screens.operator import Operator


async def fill(pilot: Any, *texts: str) -> None:
    """Once the form has the cursor, each text into its field."""
    for text in texts:
        await pilot.pause()
        await paste(pilot, text)
    await pilot.pause()


async def _open_batch(pilot: Any, app: FloorApp) -> str:
    """By the keys, from the shop's own checklist: 8 ordered, 10 started."""
    await pilot.press("n", "enter")
    await fill(pilot, "8", "10", "", "PO 12")
    assert [batch.id for batch in app.desk.shop.batches] == ["B0001"], words(app)
    return "B0001"


async def _hand_over(pilot: Any, app: FloorApp, operator: Operator, batch: str, to: str) -> None:
    """The outgoing person offers; the incoming one counts everything unseen, reads back, accepts."""
    shop = app.desk.shop
    await operator.back()
    await pilot.press("b", "o", "enter")
    outgoing = shop.batch(batch).responsible
    while shop.batch(batch).handover is None:
        await fill(pilot, "nothing unusual")
    app.desk.who = to
    screen = app.screen
    assert isinstance(screen, HandoverScreen)
    screen.update_all()
    expected = {subject.key: subject.expected for subject in subjects(shop.batch(batch))}
    await pilot.press("enter")
    for subject in subjects(shop.batch(batch)):
        await fill(pilot, str(expected[subject.key]))
    assert shop.batch(batch).handover.counted == expected  # type: ignore[union-attr]
    for number in range(1, len(safety_lines(shop.batch(batch), app.desk.now())) + 1):
        await pilot.press(str(number))
    assert shop.batch(batch).responsible == outgoing, "not before it is accepted by name"
    await pilot.press("enter", "y")
    assert shop.batch(batch).responsible == to, words(app)
    await operator.back()


def _lacquer(line: Line) -> bool:
    return line.kind == "gate" and line.title == "Record the lot of lacquer"


async def _waive_the_lacquer(pilot: Any, app: FloorApp, operator: Operator, batch: str, marks: Any) -> None:
    """The gate refuses an empty answer; a lead waives it with a reason and a second signature."""
    shop = app.desk.shop
    await operator.work_on(lambda state: any(run.released for run in state.runs.values()), batch, marks)
    screen = await operator.back()
    screen.update_all()
    row = next(n for n, due in enumerate(screen.due) if due.go == "begin" and due.op == 20)
    screen.table.move_cursor(row)
    await pilot.press("enter")
    await operator.work(stop=_lacquer)
    before = shop.batch(batch).seq
    await pilot.press("enter", "enter")
    assert shop.batch(batch).seq == before, "an empty lot proves nothing"
    await pilot.press("escape", "w")
    await fill(pilot, "tin without a label, from the new delivery", "BB", "")
    assert [waiver.second for waiver in shop.batch(batch).open_waivers()] == ["BB"], words(app)
    assert "aived" in words(app), "it stays in sight"


async def test_a_batch_from_opening_to_close(shop: Shop, clock: HandClock) -> None:
    """A gate that refuses, a cure that ripens, scrap by position, rework, hold, waiver, handover, close."""
    (shop.folder / "checklists").mkdir(exist_ok=True)
    part = (HERE / "part.toml").read_text(encoding="utf-8")
    (shop.folder / "checklists" / "part.toml").write_text(part, encoding="utf-8")
    app = FloorApp(shop, who="LL", ticking=False)
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        batch = await _open_batch(pilot, app)
        operator = Operator(app, clock, second="BB")
        marks = {10: [("A2", "deep")], 30: [("B1", "bare"), ("A1", "soft")]}

        await _waive_the_lacquer(pilot, app, operator, batch, marks)

        await operator.work_on(lambda state: state.total("scrap") == 1 and state.total("hold") == 1, batch, marks)
        state = shop.batch(batch)
        scrapped = next(entry for entry in state.entries if entry.kind == "counted" and entry.body["marks"])
        assert scrapped.body["marks"][0]["places"] == ["A2"]
        assert any(load.detours for load in state.live_loads()), "the bare one is reworked on its pallet"

        await _hand_over(pilot, app, operator, batch, "AA")

        # Only a lead decides on the held piece.
        screen = await operator.back()
        assert isinstance(screen, NextScreen)
        app.desk.who = "LL"
        app.go(HoldScreen(app.desk, batch))
        await pilot.pause()
        await pilot.press("enter", "a")
        await fill(pilot, "hard after another hour")
        assert shop.batch(batch).total("hold") == 0, words(app)
        app.desk.who = "AA"

        before = clock().at
        await operator.work_on(lambda state: state.total("finished") == 9, batch, marks)
        assert clock().at - before > timedelta(hours=12), "the coat that was touched up had to cure again"
        state = shop.batch(batch)
        assert (state.total("scrap"), state.total("finished"), state.started) == (1, 9, 10)

        app.desk.who = "LL"
        await operator.back()
        await pilot.press("b", "v", "a")
        await fill(pilot, "label found, in date")
        await operator.back()
        await pilot.press("enter")
        assert shop.closed() == [batch]
        kinds = {entry.kind for entry in shop.batch(batch).entries}
        assert {"handover_accepted", "waived", "disposed", "counted", "released", "batch_closed"} <= kinds
