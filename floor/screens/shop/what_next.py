"""The opening screen: what needs a person now, and what next, and when. Enter goes there."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from functools import partial

from textual import getters, on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.widgets import Static

from floor.batch.counting.blind_count import find_blind_subjects, format_total
from floor.batch.load import LOST, Where
from floor.batch.state import Batch
from floor.batch.worklist.due_task import Destination, DueTask, Urgency, say_when
from floor.entry import Entry
from floor.screens.forms.dialogs import Choice, ChoiceDialog
from floor.screens.frame.key_line import LARGE_VIEW, NEW_LOT, TAKE_BACK
from floor.screens.frame.screen import TALL, FloorScreen
from floor.screens.frame.session import Session
from floor.screens.frame.theme import draw_bar
from floor.screens.frame.troubles import Trouble, add_batch, list_batch_troubles
from floor.screens.plan.background_plan import sort_by_plan
from floor.screens.plan.replan import keep_planned
from floor.screens.shop.open_task import open_task
from floor.screens.widgets.diff_static import DiffStatic
from floor.screens.widgets.rows import Shortened, TableView
from floor.text import count_cells, format_count, format_day, format_share, set_out, wrap_cut

SIDE = 56
"""Columns beside the list, on a wide screen."""
COLUMNS = (("", 1), ("When", 12), ("Load", 10), ("What", 0), ("Where", 13), ("Batch", 6))
"""The last one only where there are several batches."""
ASIDE: tuple[Where, ...] = (*LOST, "hold", "spare", "stopped", "trial")
GIVES_WAY = {"When": 12, "Batch": 6, "Where": 7, "Load": 10}
"""What to do is read before where and on what: names are shortened for it, times and batches are not."""
LOAD_FROM = 54
"""Columns from which a slim list has one for the load; with fewer it leads what is to be done."""
LONGEST_LOAD = 18
"""Columns that the names of loads may take; their numbers stand at the end and are not cut off."""
STEADY = 10.0
"""Seconds for which the order stands still once the cursor was moved or something was loaded: nobody aims at what moves
(shop decision)."""
WAITS: tuple[Urgency, ...] = ("later", "blocked")
WORK: tuple[Destination, ...] = ("run", "begin", "form")
"""What is done at a station; all else is decided, counted or signed."""
SIDE_SECONDS = 10
"""How often the clocks beside the list move."""
SIGNS: dict[Urgency, str] = {"overdue": "✕", "now": "▶", "soon": "▶", "later": "◔", "blocked": "·"}
SHOP = {
    "people": "people: operators, leads and PINs",
    "gauges": "measuring gauges: which are due",
    "closed": "closed batches: their history and papers",
    "demo": "the demo: a half-done batch, in a folder of its own",
}
ENTERS: dict[Destination, str] = {
    "run": "open the walk",
    "begin": "look at what starts; y there starts it",
    "form": "asks whether they are loaded; y records it",
    "hold": "open the held pieces",
    "handover": "open the handover",
    "difference": "open the handover, to count again",
    "unproved": "asks what becomes of it",
    "out": "asks what becomes of it",
    "gauge": "asks what becomes of what it measured",
    "settle": "open the batch",
    "close": "asks whether to close it",
    "surplus": "asks what becomes of the rest",
}
"""What Enter does; none of it records anything by itself."""
LARGE_LINES = SENTENCE_LINES = 2
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
        aiming = self.moved is not None and 0 <= now.up - self.moved < STEADY
        due = self._rank(due)
        self.due = self._as_it_stood(due) if aiming else due
        self._fill_table(now.at)
        self._stay_with(before)
        if before is None and self.due:
            self.stood_at = self.due[self.table.cursor_row].key
        empty = not self.session.shop.batches
        self.table.display, self.welcome.display = not empty, empty
        if empty:
            closed = len(self.session.shop.closed())
            self.welcome.update(ALL_CLOSED.format(closed=closed) if closed else WELCOME)
        rows = [row for batch in self.session.shop.batches[:6] for row in self._summarize(batch)]
        self.batches.update("\n".join(rows[: max(self.size.height - ABOVE_BATCHES, 1)]))
        self._show_side()
        if self.signed != self.session.who:
            self.signed = self.session.who
            self.refresh_bindings()
        if self.painted:
            keep_planned(self)

    def _fill_table(self, now: datetime) -> None:
        slim, several = self.has_class("-slim"), len(self.session.shop.batches) > 1
        loads = self.size.width >= LOAD_FROM
        shown = [0, 1, *([2] if loads else []), 3] if slim else range(6 if several else 5)
        columns = [COLUMNS[n] for n in shown]
        cells = [self._row(due, now) for due in self.due]
        if not loads:
            cells = [_lead_with_load(row) for row in cells]
        rows = [tuple(row[n] for n in shown) for row in cells]
        load = min(max([count_cells(row[2]) for row in cells] + [10]), LONGEST_LOAD)
        self.table.head([(name, load if name == "Load" else width) for name, width in columns])
        self.table.fill(rows)

    def _rank(self, due: list[DueTask]) -> list[DueTask]:
        """A cycle that is over comes before what is merely next; what this person may not do, after what they may.

        The run that they are at comes before other work that is next: it does not sink while they are away from it.
        """
        lead = self.session.is_lead

        def rank(one: DueTask) -> tuple[bool, bool, bool]:
            return one.urgency in WAITS, one.needs_lead and not lead, not one.is_pressing

        ranked, own = sorted(due, key=rank), self._find_own(due)
        if own is not None and rank(own) == (False, False, True):
            ranked.remove(own)
            work = (
                n
                for n, one in enumerate(ranked)
                if rank(one) > rank(own) or (rank(one) == rank(own) and one.go in WORK)
            )
            ranked.insert(next(work, len(ranked)), own)
        return ranked

    def _find_own(self, due: list[DueTask]) -> DueTask | None:
        """The run under way that this person was at last."""
        who, own = self.session.who, []
        for one in due:
            run = self.session.batch(one.batch).runs.get(one.run) if one.run is not None else None
            if run is not None and who and run.touched_by == who and run.touched is not None:
                own.append((run.touched, one.key, one))
        return max(own, key=lambda found: found[:2])[2] if own else None

    def _as_it_stood(self, due: list[DueTask]) -> list[DueTask]:
        """In the order on screen, what is new at the end: the plan that comes a second later pulls nothing away.

        What waits now stands below what is due all the same, so that nobody reads past it.
        """
        stood = {one.key: place for place, one in enumerate(self.due)}
        return sorted(due, key=lambda one: (one.urgency in WAITS, stood.get(one.key, len(stood))))

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

    def _say_when(self, due: DueTask, now: datetime, long: bool) -> str:
        """When it is due; by when at the latest, where nothing but the plan says so."""
        when = say_when(due, now, long=long)
        return self.latest.get(due.key) or when if when == "now" else when

    def _row(self, due: DueTask, now: datetime) -> tuple[str, ...]:
        batch = self.session.batch(due.batch)
        load = batch.loads.get(due.load) if due.load else None
        carrier = batch.format_carrier(load) if load else ""
        carrier += " W" if load and batch.list_open_waivers(load) else ""
        when = self._say_when(due, now, long=False)
        where = Shortened(due.where, due.short_where or due.where)
        sign = "!" if due.outlasts else SIGNS[due.urgency]
        return (sign, when, carrier, Shortened(due.sentence, due.short_sentence), where, due.batch)

    def _summarize(self, batch: Batch) -> list[str]:
        finished, order = batch.total("finished"), batch.order
        parts = [f"{batch.id} {batch.checklist.part.number} {batch.checklist.part.revision}"]
        filled = "✓ FILLED " if finished >= order else ""
        parts.append(f"{filled}{draw_bar(finished, order, 12)} {finished} of {order} finished")
        parts.append(f"{batch.started} started")
        hidden = find_blind_subjects(batch)
        parts += [f"{format_total(batch, where, hidden)} {where}" for where in ASIDE if batch.total(where)]
        if batch.due:
            parts.append(f"due {format_day(batch.due, self.session.now().at.date())}")
        parts.append(f"{batch.responsible} is responsible")
        return set_out(parts, self.size.width - 2, gap="  ")

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
        from floor.screens.frame.side_panel import draw_due_panel  # the first screen stands before it is thought of

        batch, width, height = self.session.batch(due.batch), self.side.size.width, max(self.side.size.height, 1)
        taken = self.spot.size.height + len(self.due)
        seen = (self.session.who, width, height, taken, int(now.at.timestamp() // SIDE_SECONDS))
        shown = (due.key, batch.id, batch.seq, *seen)
        if shown != self.shown:
            self.shown = shown
            self.side.update(draw_due_panel(batch, due, now, self.session.who, width, height))
            self._show_needs(due)

    def _show_needs(self, due: DueTask | None) -> None:
        """Below the list, what to bring to the line under the cursor; where room is short, the list has all of it."""
        room = self.side.size.height - self.spot.outer_size.height - len(self.due) - NEEDS_ABOVE
        batch = self.session.batch(due.batch) if due is not None else None
        load = batch.loads.get(due.load) if batch is not None and due is not None and due.load else None
        drawn = None
        if batch is not None and load is not None and load.at is not None and room >= LEAST_NEEDS:
            from floor.batch.stations.qualified_people import describe_unqualified
            from floor.screens.frame.needs_panel import draw_needs
            from floor.screens.frame.side_panel import find_walk

            walked = find_walk(batch, load, self.session.now(), self.session.who)
            unfit = self.session.who and describe_unqualified(batch, walked.run.station, self.session.context(batch.id))
            drawn = draw_needs(batch, load, walked, unfit, self.table.size.width - 2, room)
        self.needs.update(drawn or "")
        self.needs.display = drawn is not None
        self.table.styles.height = len(self.due) + 1 if drawn is not None else "1fr"

    def _show_spot(self, due: DueTask | None) -> None:
        """What is under the cursor, large and in its place, and what Enter does."""
        self.spot.display = due is not None
        if due is None:
            return
        batch, now, width = (
            self.session.batch(due.batch),
            self.session.now(),
            max(self.size.width - 2 - (SIDE if self.has_class("-wide") else 0), 34),
        )
        load = batch.loads.get(due.load) if due.load else None
        where = " · ".join(part for part in (batch.format_carrier(load) if load else "", due.where) if part).upper()
        when = self._say_when(due, now.at, long=True)
        gap = " " * max(width - count_cells(where) - count_cells(when), 2)
        rows = [Content.assemble((f"{where}{gap}{when}", "bold"))]
        if self.app.size.height >= TALL:
            rows += self._draw_large(due, width)
        rows += [Content.assemble((row, "bold")) for row in wrap_cut(due.sentence, SENTENCE_LINES, width=width)]
        rows.append(Content(f"Enter: {ENTERS[due.go]}"))
        self.spot.update(Content("\n").join(rows))

    def _draw_large(self, due: DueTask, width: int) -> list[Content]:
        from floor.block_letters import draw_block_letters, draw_blocks, is_drawable, wrap_squares

        text = due.what
        if not is_drawable(text):
            return []
        lines = wrap_squares(draw_block_letters(text), width, LARGE_LINES)
        return [Content(row) for line in lines for row in (*draw_blocks(line, 1), "")]

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
        if all(
            due.key != key for due in self.due
        ):  # nothing more to load there: a slip of Enter must not load elsewhere
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


def _lead_with_load(row: tuple[str, ...]) -> tuple[str, ...]:
    """For a list without room for a column of loads: ``Pallet 1: Confirm cycle complete``."""
    sign, when, load, what, *rest = row
    if not load:
        return row
    short = what.short if isinstance(what, Shortened) else what
    return sign, when, load, Shortened(f"{load}: {what}", f"{load}: {short}"), *rest
