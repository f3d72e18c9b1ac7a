"""An operator at the keyboard: drives the program by its documented keys and waits for facts, never for seconds.

`Pilot.press` waits twice for the machine to be idle after each key; a whole order takes thousands of keys. Here each
key goes in the same way (the driver), and its effect is awaited.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Any

from textual import events
from textual.css.query import NoMatches
from textual.keys import _character_to_key
from textual.widgets import Input, Static

from floor.app import FloorApp
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.walk.clocks import compute_planned_end
from floor.batch.walk.lines import Line
from floor.entry import Entry
from floor.screens.forms.dialogs import ChoiceDialog, ConfirmDialog, FormDialog
from floor.screens.shop.what_next import NextScreen
from floor.screens.walk.count_form import CountScreen
from floor.screens.walk.recap_dialog import RecapDialog
from floor.screens.walk.screen import WalkScreen
from floor.shop import Shop
from floor.shop.simulation import ManualClock, SimulatedOperator
from tests.screens.keys import PIN, words

PATIENCE = 10.0
"""Seconds after which an awaited effect will not come; only a failing test waits this long."""

ROUNDS = 3
"""A key goes down to the field, its message up to the screen, what that sets off down again."""

Marks = Mapping[int, list[tuple[str, str]]]
"""Operation → places ("" on a carrier without) and the codes of the reasons that its first full run finds there."""
FEWEST = 4
"""Pieces of a run that count as full, where there are no places to tell by."""


@dataclass
class Act:
    """What one record took: the entry, its kind on screen, and the keys pressed for it."""

    kind: str
    keys: list[str] = field(default_factory=list)
    entry: Entry | None = None


class Operator:
    """One person at one terminal."""

    def __init__(self, app: FloorApp, clock: ManualClock, second: str, per_line: float = 20.0) -> None:
        self.app = app
        self.clock = clock
        self.second = second
        self.per_line = per_line
        self.acts: list[Act] = []
        self.keys: list[str] = []
        """Every key since the last act."""

    # --- keys --------------------------------------------------------------------------------------------------

    def send(self, key: str) -> None:
        """Send a key as the terminal does."""
        self.keys.append(key)
        character = key if len(key) == 1 else None
        if character is not None and not character.isalnum():
            key = _character_to_key(key)
        if key == "space":
            character = " "
        event = events.Key(key, character)
        event.set_sender(self.app)
        assert self.app._driver is not None
        self.app._driver.send_message(event)

    async def until(self, fact: Callable[[], Any], what: str) -> None:
        """Let the program work until the fact is true."""
        patient = time.monotonic() + PATIENCE
        while time.monotonic() < patient:
            if fact():
                return
            await asyncio.sleep(0)
        typed = [(box.name or box.id, box.value, box is self.app.focused) for box in self.app.screen.query(Input)]
        raise AssertionError(f"{what}: did not come about\n{typed} {self.app.focused}\n{words(self.app)}")

    async def press(self, *keys: str) -> None:
        """Press keys one after the other; each must have an effect."""
        for key in keys:
            before = self._stamp()
            self.send(key)
            await self._through()
            await self.until(lambda before=before: self._stamp() != before, f"anything by the key {key}")
            await self.until(self._ready, f"the screen after the key {key}")

    async def _through(self) -> None:
        """The key and its effects are done: everything it may pass through has handled what came before.

        News and clocks change the screen too, so a change alone does not show a key's effect.
        """
        for _ in range(ROUNDS):
            way = [self.app, *reversed((self.app.focused or self.app.screen).ancestors_with_self)]
            for node in way:
                passed = asyncio.Event()
                if node.call_later(passed.set):
                    while not passed.is_set() and node.is_running:
                        await asyncio.sleep(0)

    def _ready(self) -> bool:
        """The top screen is up, its step is laid out; a dialog has the focus if it takes it."""
        screen = self.app.screen
        if isinstance(screen, WalkScreen):
            step = screen.step if screen.is_mounted else None
            if step is None or not step.is_laid_out or (step.is_outgrown and not step.form.display):
                return False
        return screen.is_mounted and not (isinstance(screen, FormDialog | ChoiceDialog) and screen.focused is None)

    async def type(self, text: str) -> None:
        for character in text:
            await self.press("space" if character == " " else character)

    def _stamp(self) -> tuple[Any, ...]:
        """Everything visible that a key can change."""
        screen, focused = self.app.screen, self.app.focused
        typed = (focused.value, focused.cursor_position) if isinstance(focused, Input) else None
        at = ()
        if isinstance(screen, CountScreen):
            at = (screen.cursor, len(screen.marks), str(screen.heap), screen.good_typed)
        elif isinstance(screen, NextScreen):
            at = (screen.table.cursor_row,)
        records = tuple(batch.seq for batch in self.app.session.shop.batches)
        return screen, len(self.app.screen_stack), focused, typed, at, records, self.app.session.who, said(self.app)

    def act(self, kind: str) -> None:
        """The keys so far made one record, the newest."""
        newest = max((batch.entries[-1] for batch in self.app.session.shop.batches), key=lambda entry: entry.at)
        self.acts.append(Act(kind, self.keys, None if kind == "mark" else newest))
        self.keys = []

    async def sign(self, initials: str) -> None:
        """Sign in somebody, in place of whoever is signed in; a lead without a PIN chooses one."""
        await self.press("ctrl+l")
        await self.until(lambda: isinstance(self.app.focused, Input), "the question who it is")
        await self.type(initials.lower())
        await self.press("enter")
        person = self.app.session.shop.people.known[initials]
        if person.lead or person.has_pin:
            for _ in range(1 if person.has_pin else 2):
                await self.type(PIN)
                await self.press("enter")
        await self.until(lambda: self.app.session.who == initials, f"{initials} signed in")

    # --- work --------------------------------------------------------------------------------------------------

    @property
    def walk(self) -> WalkScreen:
        assert isinstance(self.app.screen, WalkScreen), f"not on a walk but on {self.app.screen}"
        return self.app.screen

    def stands_at(self, fits: Callable[[Line], bool]) -> bool:
        """A walk is on screen, and its current line fits."""
        current = self.app.screen.get_walk().current if isinstance(self.app.screen, WalkScreen) else None
        return current is not None and fits(current)

    async def line(self) -> Line | None:
        """The current line, once its form, if any, is ready for typing."""
        screen = self.walk
        await self.until(lambda: screen.is_mounted and screen.lines.is_attached, "the walk")
        line = screen.get_walk().current
        asks = line is not None and line.kind == "gate" and line.state in ("now", "reopened") and line.step.asks()  # type: ignore[union-attr]
        if line is not None and asks and not (line.verdict and line.verdict.reads):
            tried = line.verdict.proof.seq if line.verdict and line.verdict.proof else 0
            await self.until(
                lambda: (
                    screen.asks.about == f"{line.key} {tried}"
                    and screen.asks.inputs
                    and self.app.focused in screen.asks.inputs
                ),
                f"the form of {line.title}",
            )
        return line

    async def fill(self, values: Mapping[str, Any]) -> None:
        """Type values into the current line's form, Enter after each; kept values are already there."""
        screen = self.walk
        await self._through()  # a form still coming up may be a different one by the next key
        await self.until(lambda: screen.asks.inputs and self.app.focused in screen.asks.inputs, "the form")
        queues = {name: list(value) if isinstance(value, list) else [value] for name, value in values.items()}
        given = [
            (field, box, queues[field.name].pop(0) if field.name in queues else field.value)
            for field, box in zip(screen.asks.fields, screen.asks.inputs, strict=True)
        ]
        boxes = [(box, value) for field, box, value in given if not field.kept]
        for box, value in boxes:
            name = box.name
            await self.until(lambda box=box: self.app.focused is box, f"the focus on {name}")
            await self.type(f"{value:g}" if isinstance(value, float) else str(value))
            before = screen.current_batch.seq
            await self.press("enter")
            if box is boxes[-1][0]:
                await self.until(
                    lambda before=before: (
                        screen.current_batch.seq > before or said(self.app) or self.app.screen is not screen
                    ),
                    f"an answer to {name}",
                )
        await self.sign_second()

    async def sign_second(self) -> None:
        """The second person gives their PIN, where the shop has PINs."""
        dialog = self.app.screen
        if isinstance(dialog, FormDialog) and dialog.heading.endswith(" signs"):
            await self.type(PIN)
            await self.press("enter")
            await self.until(lambda: self.app.screen is not dialog, "the signature")

    async def pass_line(self, run: Run, line: Line, values: Mapping[str, Any] | None = None) -> None:
        """Do what the current line asks for, as on a good day."""
        screen, shop = self.walk, self.app.session.shop
        self.keys = []
        self.clock.forward(self.per_line)
        if screen.asks.inputs:
            hand = SimulatedOperator(shop, screen.batch_id, self.app.session.who, self.clock, second=self.second)
            given = values or hand._proof(run, line).values
            await self.fill(given)
            self.act(getattr(line.step, "gate", line.kind))
        else:
            await self.press("enter")
            if line.kind == "start":
                await self._say_yes()
            self.act(getattr(line.step, "gate", line.kind) if line.kind == "gate" else line.kind)

    async def _say_yes(self) -> None:
        """To the question that Enter put; nothing is recorded before."""
        if isinstance(self.app.screen, ConfirmDialog):
            asked = self.app.screen
            await self.press("y")
            await self.until(lambda: self.app.screen is not asked, "the answer")

    async def count(self, marks: list[tuple[str, str]] | None = None) -> None:
        """Count the run on screen: what is marked at its places by cursor and digit, all else good."""
        self.keys = []
        await self.press("enter")
        await self.until(lambda: isinstance(self.app.screen, CountScreen) and self.app.screen.is_mounted, "the count")
        screen = self.app.screen
        assert isinstance(screen, CountScreen)
        before = self.keys
        for place, code in marks or []:
            self.keys = []
            if place:
                await self._to_place(screen, place)
            digit = next(screen.key_of(reason) for reason in screen.codes if reason.code == code)
            await self.press(digit)
            self.act("mark")
        self.keys = before
        walk = self.app.screen_stack[-2]
        await self.press("enter")
        await self.until(lambda: self.app.screen is walk or self._asked("Scrap"), "the walk after the count")
        self.act("count")
        if self.app.screen is not walk:  # what was scrapped was marked at once
            await self.press("1")
            await self.until(lambda: self.app.screen is walk, "the walk after the scrap")
            self.act("scrap")

    async def _to_place(self, screen: CountScreen, place: str) -> None:
        """The shortest way; the cursor goes round at the edges."""
        row, column = ord(place[0]) - 65, int(place[1:]) - 1
        while screen.cursor[0] != row:
            await self.press("down" if (row - screen.cursor[0]) % screen.rows <= screen.rows // 2 else "up")
        while screen.cursor[1] != column:
            away = (column - screen.cursor[1]) % screen.columns
            await self.press("right" if away <= screen.columns // 2 else "left")

    async def work(self, marks: Marks | None = None, stop: Callable[[Line], bool] = lambda line: False) -> bool:
        """Work the run on screen up to its release, or until there is nothing to do; returns whether it got there."""
        screen = self.walk
        while True:
            line = await self.line()
            run, batch = screen.current_run, screen.current_batch
            if line is None:
                return True
            if stop(line):
                return False
            if line.kind == "count":
                found = self._finds(batch, run, marks)
                self.clock.forward(batch.operation(run.op).time.seconds("after", len(run.pieces)))
                await self.count(found)
            elif line.state == "waits" or (line.kind == "end" and self._runs_on(batch, run)):
                return False
            elif line.state == "blocked":
                if not await self._change_tool(line):
                    return False
            else:
                await self.pass_line(run, line)

    def _finds(self, batch: Batch, run: Run, marks: Marks | None) -> list[tuple[str, str]]:
        wanted = (marks or {}).get(run.op, [])
        if not wanted or run.rework:
            return []
        load = batch.loads[run.load]
        has_places = bool(batch.checklist.carrier(load.carrier).positions)
        sits = {batch.format_slot(load, piece) if has_places else "" for piece in run.pieces}
        if len(run.pieces) < FEWEST or not all(place in sits for place, _ in wanted):
            return []
        found = list(wanted)
        wanted.clear()
        return found

    def _runs_on(self, batch: Batch, run: Run) -> bool:
        assert run.started is not None
        return self.clock().at < compute_planned_end(batch, run, self.clock())  # type: ignore[operator]

    async def _change_tool(self, line: Line) -> bool:
        """A worn tool is changed, and reported by three keys."""
        tool = getattr(line.step, "tool", None)
        if tool is None:
            return False
        self.keys = []
        run = self.walk.current_run
        tools = [one.number for one in self.walk.current_batch.checklist.tools if one.station == run.station]
        before = self.walk.current_batch.seq
        for key, title in (("x", "Report event"), ("2", "Which tool")):
            await self.press(key)
            await self.until(lambda title=title: self._asked(title), f"the question: {title}")
        await self.press(ChoiceDialog.KEYS[tools.index(tool)])
        await self.until(
            lambda: isinstance(self.app.screen, WalkScreen) and self.walk.current_batch.seq > before, "the tool change"
        )
        self.act("disturb")
        return True

    def _asked(self, title: str) -> bool:
        """A choice with this title is on top and ready."""
        screen = self.app.screen
        return isinstance(screen, ChoiceDialog) and screen.heading.startswith(title) and screen.focused is not None

    # --- what is next ------------------------------------------------------------------------------------------

    async def back(self) -> NextScreen:
        """Escape until the opening screen."""
        while not isinstance(self.app.screen, NextScreen):
            await self.press("escape")
        screen = self.app.screen
        await self.until(lambda: screen.table.filled or not screen.due, "the table")
        return screen

    async def take_next(
        self, marks: Marks | None = None, only: Callable[[Any], bool] = lambda due: True,
        stop: Callable[[Line], bool] = lambda line: False,
    ) -> bool:  # fmt: skip
        """Choose the first thing to do now on the opening screen, and do it; returns whether there was one."""
        screen = await self.back()
        screen.update_all()
        for row, due in enumerate(screen.due):
            if due.urgency not in ("now", "soon") or due.go not in ("run", "begin", "form") or not only(due):
                continue
            self.keys = []
            before = self.app.session.batch(due.batch).seq
            while screen.table.cursor_row != row:
                await self.press("down" if screen.table.cursor_row < row else "up")
            await self.press("enter")
            if due.go == "form":
                await self._say_yes()
                self.act("form")
                return True
            if due.go == "begin":
                await self.press("y")
                await self.until(lambda: isinstance(self.app.screen, WalkScreen), "the walk")
                self.act("begin")
            await self.until(lambda: isinstance(self.app.screen, WalkScreen | RecapDialog), "the walk")
            if isinstance(self.app.screen, RecapDialog):  # away for a while
                await self.press("enter")
            await self.work(marks, stop)
            recorded = self.app.session.batch(due.batch).seq > before
            assert recorded or self.stands_at(stop), f"sent to where nothing can be done: {due}\n{words(self.app)}"
            return True
        return False

    async def work_on(
        self, done: Callable[[Batch], bool], batch: str, marks: Marks | None = None,
        only: Callable[[Any], bool] = lambda due: True, stop: Callable[[Line], bool] = lambda line: False,
        limit: int = 2000,
    ) -> None:  # fmt: skip
        """Never idle while work waits; when none does, let the clock run to what comes first."""
        for _ in range(limit):
            if done(self.app.session.batch(batch)):
                return
            if not await self.take_next(marks, only, stop):
                coming = [due.when for due in self.app.session.shop.due() if due.when and due.when > self.clock().at]
                assert coming, "nothing to do and nothing to come:\n" + "\n".join(
                    f"{due.urgency} {due.sentence}" for due in self.app.session.shop.due()
                )
                self.clock.until(min(coming))
                self.app.advance_clocks()
        raise AssertionError("the work does not come to an end")


def said(app: FloorApp) -> str:
    """The answer to the last key, at the form or above the keys."""
    found = []
    for name in ("#reply", "#step-why"):
        with suppress(NoMatches):
            found.append(app.screen.query_one(name, Static))
    found += app.screen.query(".field-error.-shown").results(Static)
    return " ".join(str(one.content) for one in found if one.display and one.content)


class Place:
    """A load under way, brought by commands to where the test starts."""

    def __init__(self, shop: Shop, batch: str, clock: ManualClock) -> None:
        self.shop, self.id, self.clock = shop, batch, clock
        self.hand = SimulatedOperator(shop, batch, "AA", clock, second="BB")

    @property
    def batch(self) -> Batch:
        return self.shop.batch(self.id)

    def load(self, op: int = 10) -> int:
        return self.hand.form(op)

    def at(self, load: int, title: str, wait: bool = True) -> int:
        """Work a load until the line of this title (or kind) is the current one; the number of its run."""
        reached = not self.hand.work(load, stop=lambda line: line.title == title or line.kind == title, wait=wait)
        current = self.hand.current(load)
        assert reached
        assert current is not None
        return self.hand.run(load).number

    def through(self, load: int, *ops: int) -> None:
        """Work a load through these operations."""
        for _ in ops:
            assert self.hand.work(load)

    def current(self, load: int) -> str:
        line = self.hand.current(load)
        assert line is not None
        return line.title
