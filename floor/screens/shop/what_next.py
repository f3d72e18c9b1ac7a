"""The opening screen: what needs a person now, and what next, and when. Enter goes there."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from functools import partial

from textual import getters, on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal, Vertical
from textual.widgets import Static

from floor.batch.state import Batch
from floor.batch.walk.lines import Walk
from floor.batch.worklist.due_task import DueTask, say_when
from floor.batch.worklist.task_order import find_own_task, keep_order, rank_tasks
from floor.entry import Entry
from floor.screens.forms.dialogs import Choice, ChoiceDialog
from floor.screens.frame.key_line import LARGE_VIEW, NEW_LOT, TAKE_BACK
from floor.screens.frame.screen import TALL, FloorScreen
from floor.screens.frame.session import Session
from floor.screens.frame.troubles import Trouble, add_batch, list_batch_troubles
from floor.screens.plan.background_plan import sort_by_plan
from floor.screens.plan.replan import keep_planned
from floor.screens.shop.open_task import open_task
from floor.screens.shop.task_rows import COLUMNS, GIVES_WAY, Task, draw_field, set_out_tasks, summarize_batch
from floor.screens.widgets.diff_static import DiffStatic
from floor.screens.widgets.rows import TableView
from floor.text import format_count, format_share

SIDE = 56
"""Columns beside the list, on a wide screen."""
STEADY = 10.0
"""Seconds for which the order stands still once the cursor was moved or something was loaded: nobody aims at what moves
(shop decision)."""
SIDE_SECONDS = 10
"""How often the clocks beside the list move."""
SHOP = {
    "people": "people: operators, leads and PINs",
    "gauges": "measuring gauges: which are due",
    "closed": "closed batches: their history and papers",
    "demo": "the demo: a half-done batch, in a folder of its own",
}
NEEDS_ABOVE = 2
"""Rows of the heads of the list and of the line above what to bring."""
LEAST_NEEDS = 6
"""Rows without which it is not begun."""
ABOVE_BATCHES = 16
"""Rows of a short screen that the list and all else take before the counts of the batches."""
WELCOME = """This shop has no batch yet.

  a   open a batch from a checklist
  c   people, gauges, and a demo: a half-done batch in a folder of its own
  ?   all keys
"""
ALL_CLOSED = """No batch is open.

  a   open a batch from a checklist
  c   closed batches: {closed}; people; gauges
  ?   all keys
"""


class NextScreen(FloorScreen):
    """Question 1: what waits for a person, across all open batches and stations, the most pressing first."""

    GUIDE = (
        "The list says what needs a person, the most pressing first.",
        "`Enter` opens the line in the field at the top and records nothing.",
        "`g` shows when everything will be done, `b` where every piece is.",
        "Sign in with `l` before you record anything.",
    )
    BINDINGS = [
        Binding("escape", "back", show=False, id="back"),
        Binding("enter", "go", "Open", id="go", priority=True, tooltip="open the selected line"),
        Binding("r", "resume", "Resume", id="resume", tooltip="back to your last walk"),
        Binding("b", "batch", "Batch", id="batch", tooltip="the batch at a glance"),
        Binding("g", "plan", "Plan", id="plan", tooltip="finish dates, who is needed where, bottleneck"),
        NEW_LOT,
        Binding("a", "add", "Add", id="add", tooltip="open a batch from a checklist"),
        Binding("c", "shop", "Shop", id="shop", tooltip="people, gauges, closed batches"),
        Binding("v", "view", "View", id="view", show=False, tooltip="for a screen on the wall: late, now, running"),
        TAKE_BACK,
        Binding("n", "note", "Note", id="note", show=False, tooltip="a note, also for the next shift"),
        Binding("l", "sign_in", "Sign in", id="sign", tooltip="initials (and PIN)"),
        Binding("l", "sign_out", "Sign out", id="sign", tooltip="end your session"),
        Binding("q", "app.quit", "Quit", id="leave"),
        LARGE_VIEW,
    ]

    table = getters.query_one("#due", TableView)
    welcome = getters.query_one("#welcome", Static)
    batches = getters.query_one("#batches", Static)
    side = getters.query_one("#next-side", Static)
    needs = getters.query_one("#next-needs", Static)
    spot = getters.query_one("#spot", Static)

    def __init__(self, session: Session) -> None:
        super().__init__(session)
        self.due: list[DueTask] = []
        self.painted = False
        self.signed = session.who
        """Whom the line of keys is for."""
        self.shown: tuple[object, ...] = ()
        """What stands beside the list was made from this."""
        self.stood_at = ""
        """Key of what the cursor was moved to last."""
        self.latest: dict[str, str] = {}
        """By when the plan wants what is due to be started, by its key."""
        self.moved: float | None = None
        """When, or something was loaded, in seconds by the clock that nobody can set."""

    def body(self) -> ComposeResult:
        with Horizontal(id="next"):
            with Vertical():
                yield DiffStatic(id="spot", markup=False)
                yield TableView(COLUMNS, id="due", gives_way=GIVES_WAY)
                yield DiffStatic(id="next-needs", markup=False)
                yield DiffStatic(WELCOME, id="welcome", markup=False)
            yield DiffStatic(id="next-side", markup=False)
        yield DiffStatic(id="batches", markup=False)

    def on_mount(self) -> None:
        self.table.focus()
        self.call_after_refresh(self._painted)

    def _painted(self) -> None:
        """The first screen stands; only now is a plan thought of."""
        self.painted = True
        self._show_side()
        keep_planned(self)
        self.head_right.update(self._head_right())

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """One key signs in or out; its word says which."""
        return bool(self.session.who) == (action == "sign_out") if action in ("sign_in", "sign_out") else True

    def place(self) -> str:
        count = len(self.session.shop.batches)
        return f"Floor  What next  {format_count(count, 'open batch')}"

    def aside(self) -> str:
        """While the first plan is being made, what stands at the top may not be all."""
        planner = self.session.planner
        return f"planning {format_share(planner.share)}" if planner.is_first_awaited else ""

    def abnormal(self) -> list[Trouble]:
        return [
            *(Trouble("now", one) for one in self.session.shop.out.values()),
            *(
                add_batch(trouble, batch)
                for batch in self.session.shop.batches
                for trouble in list_batch_troubles(self.session, batch)
            ),
        ]

    def update_body(self) -> None:
        now = self.session.now()
        before = self.chosen()
        due, self.latest = sort_by_plan(self.session.planner, self.session.due(), now.at)
        own = find_own_task(due, self.session.batch, self.session.who)
        due = rank_tasks(due, own, self.session.is_lead)
        aiming = self.moved is not None and 0 <= now.up - self.moved < STEADY
        self.due = keep_order(due, {one.key: row for row, one in enumerate(self.due)}) if aiming else due
        self._fill_table(now.at)
        self._stay_with(before)
        if before is None and self.due:
            self.stood_at = self.due[self.table.cursor_row].key
        empty = not self.session.shop.batches
        self.table.display, self.welcome.display = not empty, empty
        if empty:
            closed = len(self.session.shop.closed())
            self.welcome.update(ALL_CLOSED.format(closed=closed) if closed else WELCOME)
        today, width = now.at.date(), self.size.width - 2
        rows = [row for batch in self.session.shop.batches[:6] for row in summarize_batch(batch, today, width)]
        self.batches.update("\n".join(rows[: max(self.size.height - ABOVE_BATCHES, 1)]))
        self._show_side()
        if self.signed != self.session.who:
            self.signed = self.session.who
            self.refresh_bindings()
        if self.painted:
            keep_planned(self)

    def _fill_table(self, now: datetime) -> None:
        tasks = [self._word(due, now, long=False) for due in self.due]
        several = len(self.session.shop.batches) > 1
        table = set_out_tasks(tasks, self.size.width, self.has_class("-slim"), several)
        self.table.head(table.columns)
        self.table.fill(table.rows)

    @on(TableView.RowHighlighted)
    def row_highlighted(self, event: TableView.RowHighlighted) -> None:
        """Somebody chooses; where the cursor only follows what it stands at, nobody does."""
        self._show_side()
        chosen = self.chosen()
        if chosen is not None and chosen.key != self.stood_at:
            self.moved = self.session.now().up
            self.stood_at = chosen.key

    def _stay_with(self, before: DueTask | None) -> None:
        """The cursor stays with the thing it stood at when the order changes: Enter must not open another."""
        row = next((row for row, due in enumerate(self.due) if before and due.key == before.key), None)
        if row is not None and row != self.table.cursor_row:
            self.table.move_cursor(row=row)

    def _word(self, due: DueTask, now: datetime, long: bool) -> Task:
        """A task and when it is due; by when at the latest, where nothing but the plan says so."""
        when = say_when(due, now, long=long)
        when = self.latest.get(due.key) or when if when == "now" else when
        return Task(due, self.session.batch(due.batch), when)

    def _show_side(self) -> None:
        """Beside the list, what the line under the cursor is about."""
        due, now = self.chosen(), self.session.now()
        self._show_spot(due)
        if due is None or not self.has_class("-wide"):
            self.side.update("")
            self._show_needs(None)
            self.shown = ()
            return
        if not self.painted or self.floor.screen is not self:
            return
        from floor.screens.frame.side_panel import draw_due_panel, find_walk  # the first screen stands before

        batch, width, height = self.session.batch(due.batch), self.side.size.width, max(self.side.size.height, 1)
        taken = self.spot.size.height + len(self.due)
        seen = (self.session.who, width, height, taken, int(now.at.timestamp() // SIDE_SECONDS))
        shown = (due.key, batch.id, batch.seq, *seen)
        if shown != self.shown:
            self.shown = shown
            load = batch.loads.get(due.load) if due.load else None
            walked = find_walk(batch, load, now, self.session.who) if load is not None else None
            self.side.update(draw_due_panel(batch, due, walked, now, width, height))
            self._show_needs(batch, walked)

    def _show_needs(self, batch: Batch | None, walked: Walk | None = None) -> None:
        """Below the list, what to bring to the line under the cursor; where room is short, the list has all of it."""
        room = self.side.size.height - self.spot.outer_size.height - len(self.due) - NEEDS_ABOVE
        drawn = None
        if batch is not None and walked is not None and room >= LEAST_NEEDS:
            from floor.batch.stations.qualified_people import describe_unqualified
            from floor.screens.frame.needs_panel import draw_needs

            unfit = self.session.who and describe_unqualified(batch, walked.run.station, self.session.context(batch.id))
            drawn = draw_needs(batch, walked, unfit, self.table.size.width - 2, room)
        self.needs.update(drawn or "")
        self.needs.display = drawn is not None
        self.table.styles.height = len(self.due) + 1 if drawn is not None else "1fr"

    def _show_spot(self, due: DueTask | None) -> None:
        """What is under the cursor, large and in its place, and what Enter does."""
        self.spot.display = due is not None
        if due is None:
            return
        width = max(self.size.width - 2 - (SIDE if self.has_class("-wide") else 0), 34)
        task = self._word(due, self.session.now().at, long=True)
        self.spot.update(draw_field(task, width, large=self.app.size.height >= TALL))

    def on_resize(self) -> None:
        self.call_after_refresh(self.update_all)

    @on(TableView.RowSelected)
    def row_selected(self, event: TableView.RowSelected) -> None:
        event.stop()
        self.action_go()

    def chosen(self) -> DueTask | None:
        row = self.table.cursor_row
        return self.due[row] if 0 <= row < len(self.due) else None

    def action_go(self) -> None:
        """Open what is under the cursor: the walk, the carrier to load, the decision to take."""
        due = self.chosen()
        if due is not None:
            open_task(self, due, partial(self._loaded, due.key))

    def _loaded(self, key: str, batch: str, entries: list[Entry]) -> None:
        from floor.screens.batch.load_pieces import say_loaded

        self.moved = self.session.now().up  # whoever loaded starts it next
        say_loaded(self, batch, entries)
        self.update_body()
        if all(due.key != key for due in self.due):  # all is loaded there: a slip of Enter must not load elsewhere
            load = int(entries[0].body["load"])
            rows = (row for row, due in enumerate(self.due) if (due.batch, due.load) == (batch, load))
            self.table.move_cursor(next(rows, 0))

    def action_resume(self) -> None:
        """Back to the walk where the person signed in, or else anybody, was last at work: one key from the start."""
        from floor.batch.walk.recap import find_last_walk  # with it come the words for all entries

        last = find_last_walk(self.session.shop.batches, self.session.who)
        if last is not None:
            self.floor.go_walk(*last)
        else:
            self.say("Nothing is under way")

    def action_batch(self) -> None:
        due = self.chosen()
        if due is not None:
            self.floor.go_batch(due.batch)
        elif self.session.shop.batches:
            self.floor.go_batch(self.session.shop.batches[0].id)

    def action_view(self) -> None:
        from floor.screens.shop.wall import WallScreen

        self.floor.go(WallScreen(self.session))

    def action_note(self) -> None:
        """On the batch under the cursor."""
        due = self.chosen()
        if due is not None:
            from floor.screens.walk.step_actions import add_note

            add_note(self, due.batch)

    def action_take_back(self) -> None:
        """What this person entered last, on whichever batch."""
        from floor.screens.frame.take_back import list_last_act, take_back

        who, now, due = self.session.who, self.session.now(), self.chosen()
        acts = [(act[0].time, one.id) for one in self.session.shop.batches if (act := list_last_act(one, who, now))]
        batch = max(acts)[1] if acts else due.batch if due is not None else ""
        if batch:
            take_back(self, batch)

    def action_new_lot(self) -> None:
        """Of the batch under the cursor."""
        due = self.chosen()
        if due is not None:
            from floor.screens.walk.new_lot import ask_new_lot

            ask_new_lot(self, due.batch)

    def action_shop(self) -> None:
        """What belongs to the shop and not to a batch."""
        goes: dict[str, Callable[[], None]] = {
            "people": self.show_people,
            "gauges": self.show_gauges,
            "closed": self.show_closed,
        }
        if not self.session.shop.batches:  # with a batch open there is something else to do
            goes["demo"] = lambda: self.app.exit("demo")
        choices = [Choice(key, SHOP[key]) for key in goes]
        self.floor.push_screen(ChoiceDialog("The shop", choices), lambda key: goes[key]() if key is not None else None)

    def action_sign_in(self) -> None:
        self.floor.action_who()

    def action_sign_out(self) -> None:
        self.floor.action_who()

    def action_add(self) -> None:
        from floor.screens.shop.open_batch import ChecklistsScreen

        self.floor.go(ChecklistsScreen(self.session))

    def action_plan(self) -> None:
        from floor.screens.plan.screen import PlanScreen

        self.floor.go(PlanScreen(self.session))

    def action_afar(self) -> None:
        """What is under the cursor, readable from where one stands."""
        from floor.screens.walk.large_view import LargeViewScreen

        due = self.chosen()
        if due is not None:
            self.floor.go(LargeViewScreen(self.session, due.batch, due.run, due.key))

    def show_people(self) -> None:
        from floor.screens.shop.people import PeopleScreen

        self.floor.go(PeopleScreen(self.session))

    def show_gauges(self) -> None:
        from floor.screens.shop.gauges import GaugesScreen

        self.floor.go(GaugesScreen(self.session))

    def show_closed(self) -> None:
        from floor.screens.batch.closed import ClosedScreen

        self.floor.go(ClosedScreen(self.session))

    def action_back(self) -> None:
        """The opening screen is where back ends."""
