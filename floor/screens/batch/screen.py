"""The batch at a glance: where every piece is, loads against operations."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

from textual import events, getters, on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.content import Content
from textual.widgets import Static

from floor.batch.counting.blind_count import (
    HIDDEN_FIGURE,
    find_blind_subjects,
    format_total,
    hides_total,
)
from floor.batch.counting.scrap import list_open_scrap
from floor.batch.counting.surplus import find_undecided_surplus, is_order_filled
from floor.batch.lifecycle.commands import FormLoad, open_points
from floor.batch.load import LOST, Load
from floor.batch.state import Batch
from floor.batch.walk.clock_jumps import is_clock_change_untold
from floor.batch.walk.load_clocks import LoadClock, Status, list_running_clocks
from floor.entry import Entry, Moment
from floor.papers.catalog import list_offers
from floor.screens.batch.closing import close_batch
from floor.screens.batch.load_rows import NOT_IN_WORK, LoadRow, RowKey, list_row_keys, make_row
from floor.screens.batch.lying import lay_out_load
from floor.screens.frame.key_line import LARGE_VIEW, NEW_LOT, NOTE, TAKE_BACK
from floor.screens.frame.paper_choice import PAPERS, choose_paper, make_paper_source
from floor.screens.frame.screen import LEAST_ROWS, TALL, USUAL, BatchFrame
from floor.screens.frame.session import Session
from floor.screens.frame.side_panel import draw_loss_panel
from floor.screens.frame.theme import draw_bar
from floor.screens.frame.troubles import Trouble
from floor.screens.plan.background_plan import format_batch_outlook
from floor.screens.plan.replan import keep_planned
from floor.screens.widgets.diff_static import DiffStatic
from floor.screens.widgets.place_map import PlaceMap
from floor.screens.widgets.rows import TableView
from floor.text import format_clock, format_count, format_day, set_out

LOST_ROWS = 15
LEAST_BELOW = 2
"""Rows that the list keeps besides those of the loads: its heads, and one to spare."""
SHORT = 20
"""Rows below which the list of loads needs those of what is said of the whole batch."""
PIECES = "pieces"
TIMER_ROWS, TALL_TIMER_ROWS = 3, 6
LONGEST_LOAD = 18
"""Columns that the names of loads may take; their numbers stand at the end and are not cut off."""
LEGEND = "✓ done  ▶ under way  ◔ timer  ✕ blocked  ○ next  ↺ rework  · ahead  W waived"


class BatchScreen(BatchFrame):
    """Questions 3 and 4: where is every piece, and how many are good, scrap, in rework, on hold."""

    GUIDE = ("Each row is a load: `Enter` opens or loads it; `h` is work that differs.",)
    BINDINGS = [
        Binding("enter", "go", "Open", id="open", priority=True, tooltip="open the load, or load waiting pieces"),
        Binding("a", "start_more", "Add", id="add", tooltip="start more pieces"),
        Binding("d", "decide", "Decide", id="decide", tooltip="held pieces, waivers, gauges, surplus, the clock"),
        Binding("o", "handover", "Handover", id="handover", tooltip="hand over, or take over"),
        Binding("j", "history", "History", id="history", tooltip="every entry; strike out a wrong one"),
        Binding("t", "trace", "Trace", id="trace", tooltip="a piece back to its pallet, tools and lots"),
        Binding("g", "plan", "Plan", id="plan", tooltip="finish dates, who is needed where, bottleneck"),
        Binding("v", "view", "View", id="view", tooltip="losses, values, key figures, lessons, trials"),
        PAPERS,
        Binding("x", "report", "Report", id="report", tooltip="a station out of service, a guard off, a lock on"),
        NEW_LOT,
        Binding("m", "aside", "Set aside", id="aside", tooltip="pieces missing, dropped or suspect"),
        Binding("h", "move", "Move", id="move", tooltip="split, join, form a load, move; another order"),
        NOTE,
        TAKE_BACK,
        replace(LARGE_VIEW, tooltip="the carrier under the cursor as it lies"),
        Binding("k", "close", "Close batch", id="close", tooltip="close the batch for good"),
    ]
    DEFAULT_CSS = """
    #totals { height: auto; padding: 0 1; }
    #outlook { height: auto; max-height: 2; padding: 0 1; color: $secondary; }
    BatchScreen #lying { display: none; padding: 0 1; }
    #lost { display: none; height: auto; max-height: 16; padding: 0 1; border-top: solid $panel; }
    #timers { height: auto; max-height: 6; padding: 0 1; }
    #row { height: auto; max-height: 2; padding: 0 1; color: $accent; }
    #keys-now { height: auto; max-height: 2; padding: 0 1; color: $accent; }
    #legend { height: 1; padding: 0 1; color: $secondary; }
    """

    table = getters.query_one("#loads", TableView)
    totals = getters.query_one("#totals", Static)
    outlook = getters.query_one("#outlook", Static)
    lost = getters.query_one("#lost", Static)
    row = getters.query_one("#row", Static)
    timers = getters.query_one("#timers", Static)
    keys_now = getters.query_one("#keys-now", Static)
    legend = getters.query_one("#legend", Static)
    lying = getters.query_one("#lying", PlaceMap)

    def __init__(self, session: Session, batch: str) -> None:
        super().__init__(session, batch)
        self.since = ""
        """What has become of the checklist's file since the batch was opened."""
        self.short = len(self.current_batch.checklist.operations) <= 10
        self.hidden: frozenset[str] = frozenset()
        """What is still to be counted at a handover: its figure is shown to nobody."""
        self.rows: list[RowKey] = []
        self.room = 0
        """Rows in which the carrier was drawn last."""

    def body(self) -> ComposeResult:
        yield DiffStatic(id="totals", markup=False)
        yield DiffStatic(id="outlook", markup=False)
        yield TableView(self._columns(len(PIECES)), id="loads", gap=1, fixed=1)
        yield DiffStatic(id="row", markup=False)
        yield PlaceMap("lying")
        yield DiffStatic(id="timers", markup=False)
        yield DiffStatic(id="lost", markup=False)
        yield DiffStatic(id="keys-now", markup=False)
        yield DiffStatic(LEGEND, id="legend", markup=False)

    def _columns(self, pieces: int) -> list[tuple[str, int]]:
        """The heads of the list, with so many columns for the figures of a load."""
        numbers = [f"{operation.op:>2}" for operation in self.current_batch.checklist.operations]
        ops = [(number, len(number)) for number in numbers]
        names = [carrier.label(carrier.count) for carrier in self.current_batch.checklist.carriers]
        columns = [("", min(max(map(len, names)), LONGEST_LOAD)), (PIECES, pieces)]
        # Up to ten operations stand between; a longer route comes last and is scrolled to.
        return columns + ([*ops, ("now", 0)] if self.short else [("now", 30), *ops])

    def on_mount(self) -> None:
        self.update_all()
        self.table.focus()

    def on_screen_resume(self, event: events.ScreenResume) -> None:
        """A file may have been changed meanwhile (the frame's own part comes after)."""
        from floor.shop.checklists import describe_file_change

        self.since = describe_file_change(self.session.shop.folder, self.current_batch)

    def abnormal(self) -> list[Trouble]:
        return [*super().abnormal(), *([Trouble("know", self.since)] if self.since else [])]

    def update_body(self) -> None:
        batch, now = self.current_batch, self.session.now()
        self.hidden = find_blind_subjects(batch)
        self.totals.update(self._totals(batch, now))
        said = format_batch_outlook(self.session.planner, batch)
        self.outlook.update(said)
        self.outlook.display = bool(said)
        keep_planned(self)
        self._show_lost(batch)
        self._show_timers(batch, now)
        self.legend.display = self.size.height >= LEAST_ROWS
        self.rows = list_row_keys(batch)
        context = self.session.context(self.batch_id)
        rows = [make_row(batch, key, context, self.hidden) for key in self.rows]
        self.table.head(self._columns(max(len(text) for text in (PIECES, *(row.pieces for row in rows)))))
        self.table.fill([self._in_order(row) for row in rows])
        self._show_row()
        self.call_after_refresh(self._draw_again)

    def _keys_now(self, batch: Batch) -> list[str]:
        """Keys that are wanted only now and then, named while they are."""
        keys = []
        if batch.list_open_waivers():
            keys.append(f"d: {format_count(len(batch.list_open_waivers()), 'open waiver')}")
        if self.hidden:
            keys.append("o: take over (? = count first)")
        if is_clock_change_untold(batch):
            keys.append("d: confirm the clock (a lead)")
        if find_undecided_surplus(batch):
            keys.append("d: the order is filled, decide on the rest")
        elif batch.total("spare"):
            keys.append("d: take spares back")
        if list_open_scrap(batch):
            keys.append("d: scrap marked or destroyed?")
        if batch.closed is None and not open_points(batch):
            keys.append("k: close the batch")
        load = self._find_load()
        if load is not None and not self.lying.display and lay_out_load(batch, load) is not None:
            keys.append(f"f: {batch.format_carrier(load)} as it lies")
        return keys

    def _show_timers(self, batch: Batch, now: Moment) -> None:
        """All timers that run, the soonest first; those that have no room are counted."""
        running = list_running_clocks(batch, now)
        parts = [f"{batch.format_carrier(load)} {_say_timer(one, now)}" for load, one in running]
        height = self.app.size.height
        rows = TALL_TIMER_ROWS if height >= TALL else TIMER_ROWS if height >= LEAST_ROWS else 1
        said, left = parts, 0
        while (
            len(lines := set_out([*said, *([f"{left} more: o, the page"] if left else [])], self.size.width - 2)) > rows
        ):
            left += 1
            said = parts[: len(parts) - left]
        self.timers.update("\n".join(lines))
        self.timers.display = bool(lines)

    def _show_lost(self, batch: Batch) -> None:
        """Below the loads, where there is room: what was lost where, and why."""
        said = draw_loss_panel(batch, self.size.width - 3, LOST_ROWS) if self.has_class("-wide") else Content("")
        self.lost.update(said)
        self.lost.display = bool(said.plain)

    def on_resize(self) -> None:
        self.call_after_refresh(self.update_all)

    def _totals(self, batch: Batch, now: Moment) -> Content:
        finished = batch.total("finished")
        work = batch.total("load") + batch.total("waiting")
        unseen = hides_total(batch, "load", self.hidden) or hides_total(batch, "waiting", self.hidden)
        order = f"Order {batch.order}" + (" ✓ FILLED" if is_order_filled(batch) else "")
        first = [order, f"{draw_bar(finished, batch.order, 12)} {finished} finished"]
        first.append(f"{HIDDEN_FIGURE if unseen else work} in process")
        for where in (*LOST, "hold", "spare", "stopped", "trial"):
            if batch.total(where):
                first.append(f"{format_total(batch, where, self.hidden)} {where}")
        possible = batch.count_usable()
        short = batch.order - possible
        said = f"{possible} still usable" + (
            f": {format_count(short, 'piece')} short of the order" if short > 0 else ""
        )
        said = f"{HIDDEN_FIGURE} still usable" if unseen or hides_total(batch, "hold", self.hidden) else said
        parts = [f"{batch.started} started, {said}", f"{batch.responsible} is responsible"]
        parts += [f"due {format_day(batch.due, now.at.date())}"] if batch.due else []
        parts += [batch.reference] if batch.reference else []
        width, part = self.size.width - 2, batch.checklist.part
        revised = [*parts, f"revision {part.revision} of {part.revised}"]
        lines = [set_out(some, width) for some in (first, parts)]
        if len(set_out(revised, width)) == len(lines[1]):  # where there is room
            lines[1] = set_out(revised, width)
        if self.size.height < SHORT:
            return Content("\n".join(lines[0]))
        return Content("\n".join([*lines[0], *lines[1]]))

    def _in_order(self, row: LoadRow) -> tuple[str, ...]:
        return (row.name, row.pieces, *row.ops, row.now) if self.short else (row.name, row.pieces, row.now, *row.ops)

    @on(TableView.RowHighlighted)
    def moved(self, event: TableView.RowHighlighted) -> None:
        event.stop()
        self._show_row()

    def _show_row(self) -> None:
        """What of the row under the cursor is cut, in full."""
        said = self.table.cut_off()
        self.row.update(said)
        self.row.display = bool(said)
        self._draw()
        keys = self._keys_now(self.current_batch)
        self.keys_now.update("\n".join(set_out(keys, self.size.width - 2, gap="    ")))
        self.keys_now.display = bool(keys)

    def _find_load(self) -> Load | None:
        """The load under the cursor; None for what is on no carrier."""
        at = self._find_row()
        return self.current_batch.loads.get(at[1]) if at is not None and at[0] == "load" else None

    def _find_row(self) -> RowKey | None:
        """What is under the cursor; None where the list is empty."""
        at = self.table.cursor_row
        return self.rows[at] if 0 <= at < len(self.rows) else None

    def _draw(self) -> None:
        """The carrier of the load under the cursor as it lies, where the loads leave the room."""
        load = self._find_load()
        title = self.current_batch.format_load(load.number) if load is not None else ""
        self.room = self._count_room()
        width = self.size.width - 2 if self.size.width >= USUAL else 0
        self.lying.draw(lay_out_load(self.current_batch, load, title=title), width, self.room)

    def _count_room(self) -> int:
        """Rows that the loads leave."""
        there = self.table.size.height + (self.lying.size.height if self.lying.display else 0)
        return there - len(self.rows) - LEAST_BELOW

    def _draw_again(self) -> None:
        """What stands above may take more or fewer rows than before: the room is known only now."""
        if self.stands and not self.gone() and self._count_room() != self.room:
            self._show_row()

    # --- keys --------------------------------------------------------------------------------------------------

    @on(TableView.RowSelected)
    def row_selected(self, event: TableView.RowSelected) -> None:
        event.stop()
        self.action_go()

    def _loaded(self, op: int, rework: str, made: list[Entry]) -> None:
        """Stay where more wait for it, else go to what was loaded: a slip of Enter must not load other pieces."""
        from floor.screens.batch.load_pieces import say_loaded

        say_loaded(self, self.batch_id, made)
        self.update_body()
        for row in (("pool", op, rework), ("load", int(made[0].body["load"]), "")):
            if row in self.rows:
                self.table.move_cursor(self.rows.index(row))
                return

    def action_go(self) -> None:
        """Walk the load under the cursor, start its next run where none is under way; or load loose pieces."""
        at = self._find_row()
        if at is None:
            return
        kind, key, rework = at
        if kind in ("spare", "stopped"):
            self._decide_surplus()
            return
        if kind == "finished":
            self.say(NOT_IN_WORK[kind], wrong=True)
            return
        if kind == "pool":
            from floor.screens.batch.load_pieces import ask_load

            ask_load(self, self.batch_id, FormLoad(key, rework), partial(self._loaded, key, rework))
            return
        load = self.current_batch.loads[key]
        if load.run is not None:
            self.floor.go_walk(self.batch_id, load.run)
        else:
            from floor.screens.walk.begin_run import BeginScreen

            self.floor.go(BeginScreen(self.session, self.batch_id, key))

    def action_start_more(self) -> None:
        from floor.screens.shop.open_batch import ask_start_more

        ask_start_more(self, self.batch_id)

    def action_decide(self) -> None:
        """What is open on the batch, each with who may decide; the held pieces and the rework where nothing is."""
        from floor.screens.batch.decide import choose_decision

        choose_decision(self, self.batch_id, self._decide_surplus)

    def _decide_surplus(self) -> None:
        """What the filled order does not need, all of it or what is under the cursor; and spares to take back."""
        from floor.screens.batch.surplus import decide_surplus

        kind, key, rework = self._find_row() or ("", 0, "")
        if kind == "load":
            decide_surplus(self, self.batch_id, load=key)
        else:
            decide_surplus(self, self.batch_id, op=key if kind == "pool" else None, rework=rework)

    def action_note(self) -> None:
        from floor.screens.walk.step_actions import add_note

        add_note(self, self.batch_id)

    def action_take_back(self) -> None:
        from floor.screens.frame.take_back import take_back

        take_back(self, self.batch_id)

    def action_handover(self) -> None:
        from floor.screens.handover.screen import HandoverScreen

        self.floor.go(HandoverScreen(self.session, self.batch_id))

    def action_history(self) -> None:
        from floor.screens.batch.history import HistoryScreen

        self.floor.go(HistoryScreen(self.session, self.batch_id))

    def action_trace(self) -> None:
        from floor.screens.batch.trace import TraceScreen

        self.floor.go(TraceScreen(self.session, self.batch_id))

    def action_view(self) -> None:
        from floor.screens.batch.process import choose_view

        choose_view(self, self.batch_id)

    def action_plan(self) -> None:
        from floor.screens.plan.screen import PlanScreen

        self.floor.go(PlanScreen(self.session, self.batch_id))

    def action_papers(self) -> None:
        """The papers of the batch, the traveler of the load under the cursor first."""
        load = self._find_load()
        source = make_paper_source(self.session, self.current_batch)
        choose_paper(self, list_offers(source, load=load.number if load is not None else None))

    def action_new_lot(self) -> None:
        from floor.screens.walk.new_lot import ask_new_lot

        ask_new_lot(self, self.batch_id)

    def action_report(self) -> None:
        from floor.screens.walk.disturbances import choose_station

        choose_station(self, self.batch_id)

    def action_aside(self) -> None:
        """Pieces of the load or heap under the cursor that are missing, dropped or doubtful."""
        at = self._find_row()
        if at is not None:
            from floor.screens.batch.set_aside import choose_set_aside

            kind, key, rework = at
            if kind in ("spare", "stopped"):
                self.say(NOT_IN_WORK[kind], wrong=True)
                return
            choose_set_aside(self, self.batch_id, *((key,) if kind == "load" else (None, key or None, rework)))

    def action_move(self) -> None:
        """What is to be done otherwise than by the list, with the row under the cursor."""
        at = self._find_row()
        if at is not None:
            from floor.screens.batch.moves import choose_move

            choose_move(self, self.batch_id, *at)

    def action_afar(self) -> None:
        """The carrier under the cursor as it lies, also where the list leaves no room for it."""
        from floor.screens.batch.carrier_dialog import CarrierDialog, describe_no_drawing

        batch, load = self.current_batch, self._find_load()
        if load is not None and lay_out_load(batch, load) is not None:
            self.floor.push_screen(CarrierDialog(batch, load))
        else:
            self.say(describe_no_drawing(batch, load), wrong=True)

    def action_close(self) -> None:
        """Close the batch; what stands in the way is said."""
        close_batch(self, self.batch_id, lambda said: self.floor.take_away(self, said, wrong=False))


def _say_timer(one: LoadClock, now: Moment) -> str:
    """``◔ cure ready 14:20``: what runs, and when it turns."""
    when = format_clock(one.turns, now.at) if one.turns is not None else ""
    said: dict[Status, str] = {
        "wait": f"ready {when}",
        "closes": f"by {when}",
        "misses": f"closes {when}, before it is ready",
        "stalled": "stalled",
        "late": "time limit passed",
    }
    return f"{'◔' if one.status in ('wait', 'closes') else '✕'} {one.name} {said[one.status]}"
