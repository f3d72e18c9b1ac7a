"""An order of the demo part through the keys: opened, worked, reworked, held, waived, handed over, closed.

The clock stands until the test moves it; every record is made by a key that the terminal could have sent. All 96 good
plates of the demo order go through commands alone in `tests/shop/test_whole_order.py`; here two pallets do, as every
further one takes the same keys again.
"""

from __future__ import annotations

from collections import Counter
from datetime import timedelta
from typing import Any

from floor.app import FloorApp
from floor.batch.handover.page import list_count_subjects, list_safety_lines
from floor.batch.state import Batch
from floor.batch.walk.lines import Line
from floor.batch.walk.next_run import list_unmet_arrival_gates
from floor.batch.worklist.due_task import DueTask
from floor.checklist.gates import Cured, Measured
from floor.ledger.verify import verify_journal
from floor.screens.batch.hold import HoldScreen
from floor.screens.handover.rows import get_row_digit
from floor.screens.handover.screen import HandoverScreen
from floor.screens.shop.open_batch import ChecklistsScreen
from floor.screens.walk.begin_run import BeginScreen
from floor.shop import Shop
from floor.shop.simulation import ManualClock
from tests.batch.factory import conserved, went_through
from tests.screens.keys import fill as paste
from tests.screens.keys import words
from tests.screens.operator import Operator

ORDER, STARTED = 20, 24
FOUND: dict[int, list[tuple[str, str]]] = {
    10: [("B3", "chatter")],
    30: [("A4", "void"), ("D1", "void"), ("C1", "bridge")],
    60: [("A2", "seat depth"), ("A3", "fill loose")],
    80: [("A1", "run"), ("A2", "run")],
    90: [("", "leak"), ("", "coat")],
}
"""What the first full run of an operation finds. Rework: voids on the pallet, runs and coat back at the spray booth."""
SCRAP = Counter({"chatter": 1, "bridge": 1, "seat depth": 1, "leak": 1})
REWORKED = Counter({"refill": 2, "recoat": 3})


async def fill(pilot: Any, *texts: str) -> None:
    """Once the form has the cursor, each text into its field."""
    for text in texts:
        await pilot.pause()
        await paste(pilot, text)
    await pilot.pause()


async def _open_batch(pilot: Any, app: FloorApp) -> str:
    """By the keys, from the shipped checklist."""
    await pilot.press("a")
    screen = app.screen
    assert isinstance(screen, ChecklistsScreen)
    while not screen.found:
        await pilot.pause()
    row = next(n for n, one in enumerate(screen.found) if one.name.startswith("thermal-break"))
    await pilot.press(*["down"] * row, "enter")
    await fill(pilot, str(ORDER), str(STARTED), "", "PO 12")
    await pilot.press("y")
    assert [batch.id for batch in app.session.shop.batches] == ["B0001"], words(app)
    return "B0001"


async def _refused_before_the_cure(pilot: Any, app: FloorApp, operator: Operator, batch: str) -> None:
    """The first pallet comes to its cure; no key but waiting gets it further."""
    shop = app.session.shop

    def poured(state: Batch) -> bool:
        return 1 in state.loads and state.loads[1].at == 30

    def first_load(due: DueTask) -> bool:
        return due.load == 1 if shop.batch(batch).loads else due.go == "form"

    await operator.work_on(poured, batch, only=first_load)
    screen = await operator.back()
    screen.update_all()
    row = next(n for n, due in enumerate(screen.due) if due.load == 1)
    assert screen.due[row].urgency == "later", "it is not offered before its time"
    screen.table.move_cursor(row=row)
    await operator.press("enter")
    assert isinstance(app.screen, BeginScreen), "it is looked at, not started"
    before = shop.batch(batch).seq
    await pilot.press("enter", "space", "enter")
    assert "needs 23 h" in words(app)
    assert "Ready " in words(app), "when it is ready"
    await pilot.press("s")
    assert shop.batch(batch).seq == before, "nothing is recorded, and a gate cannot be skipped"
    state = shop.batch(batch)
    (unmet,) = list_unmet_arrival_gates(state, state.loads[1], app.session.now())
    assert isinstance(unmet.gate, Cured)
    assert unmet.gate.clock == "epoxy cure"
    assert unmet.verdict.when is not None
    assert unmet.verdict.when - app.session.now().at > timedelta(hours=23)


def _measured(line: Line) -> bool:
    return line.kind == "gate" and isinstance(line.step, Measured) and line.step.waive == "lead"


async def _waive_a_measurement(pilot: Any, app: FloorApp, operator: Operator, batch: str) -> None:
    """The gauge is away. AA cannot waive; the lead can, with a reason, and it stays in sight."""
    shop = app.session.shop
    await operator.work_on(lambda state: operator.stands_at(_measured), batch, stop=_measured)
    before = shop.batch(batch).seq
    await pilot.press("escape", "w")
    assert "Waiving a gate needs a lead. Ask LL." in words(app), "said before anything is typed"
    assert shop.batch(batch).seq == before, "an operator waives nothing"
    await operator.sign("LL")
    await pilot.press("escape", "w")
    await fill(pilot, "gauge away; compared with the master")
    assert [waiver.by for waiver in shop.batch(batch).list_open_waivers()] == ["LL"], words(app)
    assert "aived" in words(app), "it stays in sight"
    await operator.sign("AA")


async def _hand_over(pilot: Any, app: FloorApp, operator: Operator, batch: str, to: str) -> None:
    """The outgoing person offers; the incoming one counts everything unseen, reads back, accepts."""
    shop = app.session.shop
    await operator.back()
    await pilot.press("b", "o", "enter")
    outgoing = shop.batch(batch).responsible
    await fill(pilot, "half done", "the gauge is away, see the waiver", "pallets first")
    assert shop.batch(batch).handover is not None, words(app)
    await operator.sign(to)
    screen = app.screen
    assert isinstance(screen, HandoverScreen)
    await pilot.press(*["pagedown"] * 5, "enter")
    expected = {subject.key: subject.expected for subject in list_count_subjects(shop.batch(batch))}
    while screen.list_to_count():
        assert screen.stage == "count", words(app)
        await fill(pilot, str(expected[screen.chosen().key]))  # type: ignore[union-attr]
    assert shop.batch(batch).handover.counted == expected  # type: ignore[union-attr]
    for number, line in enumerate(list_safety_lines(shop.batch(batch), app.session.now())):
        if line.key not in shop.batch(batch).handover.read_back:  # type: ignore[union-attr]
            await pilot.press(get_row_digit(number))
    assert screen.stage == "accept", words(app)
    assert shop.batch(batch).responsible == outgoing, "not before it is accepted by name"
    await pilot.press("y")
    assert shop.batch(batch).responsible == to, words(app)
    await operator.back()


async def _decide(pilot: Any, app: FloorApp, operator: Operator, batch: str) -> None:
    """Only a lead decides on the held plate; then the second operator goes on."""
    await operator.sign("LL")
    app.go(HoldScreen(app.session, batch))
    await pilot.pause()
    await pilot.press("enter", "1")
    await fill(pilot, "set hard, pull-tested", "", "", "")
    assert app.session.shop.batch(batch).total("hold") == 0, words(app)
    await operator.back()
    await operator.sign("BB")


async def test_the_demo_order_from_opening_to_close(shop: Shop, clock: ManualClock) -> None:
    """A gate that refuses, a cure that finishes, scrap by position, rework, hold, waiver, handover, close."""
    app = FloorApp(shop, who="AA", ticking=False)
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        batch = await _open_batch(pilot, app)
        operator = Operator(app, clock, second="LL")
        left = {op: list(marks) for op, marks in FOUND.items()}

        await _refused_before_the_cure(pilot, app, operator, batch)
        await _waive_a_measurement(pilot, app, operator, batch)

        await operator.work_on(lambda state: state.total("scrap") == 2, batch, left)
        state = shop.batch(batch)
        scrapped = next(entry for entry in state.entries if entry.kind == "counted" and entry.body["marks"])
        assert scrapped.body["marks"][0]["places"] == ["B3"]
        conserved(state)

        await _hand_over(pilot, app, operator, batch, "BB")
        handed = shop.batch(batch).seq
        await operator.work_on(lambda state: state.total("hold") == 1, batch, left)
        await _decide(pilot, app, operator, batch)
        await operator.work_on(lambda state: state.total("finished") + state.total("scrap") == STARTED, batch, left)

        # The order is filled, by two operators; the lead closes the waiver, and the batch.
        state = shop.batch(batch)
        assert not any(left.values()), "everything that was to be found was found"
        assert state.total("finished") == ORDER
        assert Counter(place.reason for place in state.places.values() if place.where == "scrap") == SCRAP
        assert sum((Counter({route: n}) for (_, route), n in state.passes.items()), Counter()) == REWORKED
        for piece, place in state.places.items():
            if place.where == "finished":
                went_through(state, piece)
        counted = [(entry.by, entry.seq > handed) for entry in state.entries if entry.kind == "counted"]
        assert set(counted) == {("AA", False), ("BB", True)}

        await operator.sign("LL")
        await operator.back()
        await pilot.press("b", "d", "2", "1")
        await fill(pilot, "measured with the gauge, in limits")
        await operator.back()
        await pilot.press("enter", "y")
        assert shop.closed() == [batch], words(app)
        kinds = {entry.kind for entry in shop.batch(batch).entries}
        assert {"handover_accepted", "waived", "disposed", "counted", "released", "batch_closed"} <= kinds
        assert verify_journal(shop.journals.open(batch)).sound
