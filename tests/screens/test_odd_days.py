"""A batch in which everything happens that a plan cannot know, by the keys at 80 x 24, from half done to close.

It is half done when the program comes to the shop; a pallet still cures; the zero of another pallet is typed; a groove
is too deep and the piece is named; a new bottle is opened; a mill wears out; a piece comes back from the last
inspection and is filled by hand, while the others go on; the order is filled before the last pieces are finished, and
the rest are kept. Invented; the part is that of the tests of the batch rules.
"""

from __future__ import annotations

from collections import Counter
from typing import Any

from floor.app import FloorApp
from floor.batch.state import Batch
from floor.batch.walk.lines import Line
from floor.checklist.gates import Measured
from floor.ledger.verify import verify_journal
from floor.screens.batch.hold import HoldScreen
from floor.screens.batch.screen import BatchScreen
from floor.screens.shop.what_next import NextScreen
from floor.screens.walk.begin_run import BeginScreen
from floor.screens.walk.screen import WalkScreen
from floor.shop import Shop
from floor.shop.simulation import ManualClock
from tests.batch.factory import BY_HAND, TWO_UP, conserved, edited_text
from tests.screens.keys import PIN, fill, words
from tests.screens.operator import Operator
from tests.screens.test_underway import typical, under_way_with

ORDER, STARTED = 10, 22


def the_part() -> str:
    """An end mill that lasts four grooves and not a fifth; a zero for each pallet; scratches are filled by hand.

    The mill has two spindles, so that the operator, who does what is next, never waits for the other pallet's cut.
    """
    two = ("runs_at_once = 2\ncarrier", "runs_at_once = 2\ncycles_at_once = 2\ncarrier")
    return edited_text(*TWO_UP, two, *BY_HAND, ('life = "60 min"', 'life = "20 min"'))


async def _told(pilot: Any, app: FloorApp, shop: Shop) -> str:
    """Two pallets cure, a tray is in the oven, two are scrap, six wait: entered by a lead in one act."""
    screen = await under_way_with(pilot, shop, the_part(), str(ORDER), str(STARTED))
    await typical(pilot, screen)
    await pilot.press("y")
    await pilot.pause()
    assert isinstance(app.screen, BatchScreen), words(app)
    (batch,) = shop.batches
    assert [(batch.format_carrier(load), load.at) for load in batch.list_live_loads()] == [
        ("Pallet 1", 30), ("Pallet 2", 30), ("Tray 1", 40),
    ]  # fmt: skip
    assert batch.list_waiting_pools() == [(10, "", 6)]
    conserved(batch)
    return batch.id


async def _look_at_what_cures(app: FloorApp, operator: Operator, batch: str) -> None:
    """Enter on the pallet that cures shows what it waits for; the mill stays free."""
    screen = await operator.back()
    screen.update_all()
    row = next(n for n, due in enumerate(screen.due) if due.load == 1)
    screen.table.move_cursor(row=row)
    before = app.session.shop.batch(batch).seq
    await operator.press("enter")
    assert isinstance(app.screen, BeginScreen), words(app)
    assert "Ready " in words(app)
    assert app.session.shop.batch(batch).seq == before, "nothing is written by looking"
    await operator.back()


def _zero(line: Line) -> bool:
    return line.key.startswith("probed")


async def _the_zero_of_another_pallet(pilot: Any, app: FloorApp, operator: Operator, batch: str) -> None:
    """Pallet 3 goes by G56: that G54 was probed says nothing of it, and is refused."""
    await operator.work_on(lambda state: operator.stands_at(_zero), batch, only=_fresh, stop=_zero)
    await operator.line()
    await fill(pilot, "G54", "400", "0")
    await operator.line()
    assert [field.value for field in operator.walk.asks.inputs] == ["", "", ""], "those of another zero go with it"
    assert "which belongs to Pallet 1" in words(app), words(app)
    assert operator.stands_at(_zero), "on record, and the gate stays shut"
    await fill(pilot, "G56", "400", "0")
    await operator.until(lambda: not operator.stands_at(_zero), "the next line")


def _depth(line: Line) -> bool:
    return line.kind == "gate" and isinstance(line.step, Measured) and line.step.what == "groove depth"


async def _a_groove_too_deep(pilot: Any, app: FloorApp, operator: Operator, batch: str) -> None:
    """One of the two measured is out of limits: it is scrap, and those cut with it are looked at."""
    shop = app.session.shop
    await operator.work_on(lambda state: operator.stands_at(_depth), batch, only=_fresh, stop=_depth)
    await fill(pilot, "3.3", "3.0")
    await pilot.pause()
    assert "Out of limits: what becomes of" in words(app), words(app)
    await pilot.press("1", "enter")
    await pilot.pause()
    assert "Suspect pieces" in words(app), words(app)
    await fill(pilot, "1", "")
    await pilot.pause()
    assert not any(one.open for one in shop.batch(batch).out.values()), words(app)
    assert isinstance(app.screen, WalkScreen)
    await operator.work_on(lambda state: state.total("hold") > 0, batch, only=_fresh)
    state = shop.batch(batch)
    assert (state.total("scrap"), state.total("hold")) == (3, 1), "the count says what was decided"
    conserved(state)


def _fresh(due: Any) -> bool:
    """The work at the first operation alone."""
    return due.go == "form" or due.op == 10


async def _used_as_they_are(pilot: Any, app: FloorApp, operator: Operator, batch: str) -> None:
    """The lead measures the two that were made before it: they are good, and stand on their pallet as they stood."""
    await operator.sign("LL")
    app.go(HoldScreen(app.session, batch))
    await pilot.pause()
    await pilot.press("asterisk", "enter", "1")
    await fill(pilot, "both measured 3.05", "", "", "")
    await pilot.pause()
    state = app.session.shop.batch(batch)
    assert state.total("hold") == 0, words(app)
    assert not state.list_waiting_pools() or state.list_waiting_pools()[0][0] == 10, "no piece became a loose one"
    conserved(state)
    await operator.back()
    await operator.sign("AA")


async def _a_new_bottle(pilot: Any, app: FloorApp, operator: Operator, batch: str) -> None:
    """Opened between two runs: what is coated from now on has it."""
    await operator.back()
    await pilot.press("i", "2")
    await fill(pilot, "L-78", "2027-01-31")
    await pilot.pause()
    assert app.session.shop.batch(batch).lots["lacquer"].lot == "L-78", words(app)


async def test_a_batch_in_which_everything_happens(shop: Shop, clock: ManualClock) -> None:
    for initials in ("LL", "BB"):
        shop.set_pin(initials, PIN, initials)
    app = FloorApp(shop, who="LL", ticking=False)
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        batch = await _told(pilot, app, shop)
        operator = Operator(app, clock, second="BB")
        await operator.back()
        await operator.sign("AA")
        await _look_at_what_cures(app, operator, batch)
        await _the_zero_of_another_pallet(pilot, app, operator, batch)
        await _a_groove_too_deep(pilot, app, operator, batch)
        await _used_as_they_are(pilot, app, operator, batch)
        await _a_new_bottle(pilot, app, operator, batch)

        changed = Counter(act.kind for act in operator.acts)["disturb"]
        finds = {50: [("", "drop")]}
        await operator.work_on(lambda state: state.total("finished") >= ORDER, batch, finds)
        assert Counter(act.kind for act in operator.acts)["disturb"] > changed, "the worn mill was changed"
        by_hand = [run.op for run in shop.batch(batch).runs.values() if run.op in (42, 44) and run.released is not None]
        assert by_hand == [42, 44], "the one that was found went by itself, while the others went on"
        await _the_order_is_filled(pilot, app, operator, batch)

        kinds = {entry.kind for entry in shop.batch(batch).entries}
        assert "batch_closed" in kinds
        assert verify_journal(shop.journals.open(batch)).sound


async def _the_order_is_filled(pilot: Any, app: FloorApp, operator: Operator, batch: str) -> None:
    shop = app.session.shop
    screen = await operator.back()
    screen.update_all()
    await pilot.pause()
    assert isinstance(screen, NextScreen)
    assert screen.due[0].go == "surplus", [due.sentence for due in screen.due]
    assert "ORDER FILLED" in words(app)
    state: Batch = shop.batch(batch)
    conserved(state)
    screen.table.move_cursor(row=0)
    await pilot.press("enter", "3")
    await fill(pilot, "for the next order")
    await pilot.pause()
    conserved(shop.batch(batch))
    await operator.sign("LL")
    await operator.work_on(lambda state: not state.list_live_loads() and not state.list_waiting_pools(), batch)
    screen = await operator.back()
    screen.update_all()
    await pilot.pause()
    assert [due.go for due in screen.due] == ["close"], words(app)
    screen.table.move_cursor(row=0)
    await pilot.press("enter", "y")
    await pilot.pause()
    assert shop.closed() == [batch], words(app)
