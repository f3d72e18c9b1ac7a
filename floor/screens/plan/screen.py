"""The plan: when everything is through, what it hangs on, who is needed when."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from textual import events, getters
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.content import Content

from floor.screens.frame.paper_choice import PAPERS, choose_paper
from floor.screens.frame.run_in_thread import run_in_thread
from floor.screens.frame.screen import FloorScreen
from floor.screens.frame.session import Session
from floor.screens.frame.troubles import Trouble
from floor.screens.plan.background_plan import Planner
from floor.screens.plan.replan import keep_planned
from floor.screens.plan.whatif import LastQuestion, WhatIfScreen
from floor.screens.widgets.diff_static import DiffStatic
from floor.screens.widgets.last_answer import Memo
from floor.text import format_clock, format_count, format_share

if TYPE_CHECKING:
    from floor.planning.chart import Chart, ChartRow, ChartSpan, Side
    from floor.planning.plan import ShopPlan
    from floor.planning.time_scale import TimeScale
    from floor.screens.plan.view import Cursor

VIEWS = ("stations", "carriers", "who is needed when", "bottleneck")
AXIS = 2
"""Lines above the first row of a chart."""
CHARTS = 2
"""How many of the views, the first ones, are charts with a cursor.

It goes from run to run, not from cell to cell: each key tells something, and short runs that share a cell are reached.
"""


class PlanScreen(FloorScreen):
    """Questions 4 and 5: will the order be filled, when, and what limits it."""

    GUIDE = (
        "When the batches will be done, what limits them, who is needed when.",
        "The arrows go from run to run; `+` and `-` zoom, `v` changes the view.",
        "`z` works out what one more shift, pallet or operator would change.",
        "Nothing here is recorded.",
    )
    BINDINGS = [
        Binding("plus,equals_sign", "zoom(-1)", "Zoom in", key_display="+", id="zoom_in"),
        Binding("minus", "zoom(1)", "Zoom out", key_display="-", id="zoom_out"),
        Binding("v", "view", "View", id="view", tooltip="stations, carriers, who is needed when, bottleneck"),
        Binding("z", "what_if", "What if", id="what_if", tooltip="more shifts, carriers, people: what it would save"),
        PAPERS,
        Binding("left", "run(-1)", "Run before", show=False),
        Binding("right", "run(1)", "Run after", show=False),
        Binding("up", "row(-1)", "Row above", show=False),
        Binding("down", "row(1)", "Row below", show=False),
        Binding("pageup", "page(-1)", "Earlier", show=False),
        Binding("pagedown", "page(1)", "Later", show=False),
        Binding("home", "now", "Back to now", show=False),
    ]
    DEFAULT_CSS = """
    PlanScreen #plan-main { padding: 0 1; }
    PlanScreen #plan-head { height: auto; max-height: 3; text-wrap: nowrap; }
    PlanScreen #plan-body { height: 1fr; text-wrap: nowrap; }
    """

    head = getters.query_one("#plan-head", DiffStatic)
    chart_body = getters.query_one("#plan-body", DiffStatic)

    def __init__(self, session: Session, batch: str = "") -> None:
        """Open on all batches; one that is named stands first."""
        super().__init__(session)
        self.batch_id = batch
        self.view = 0
        self.zoom = 0
        """Minutes to a cell; 0 fits the first shifts."""
        self.start: datetime | None = None
        """Where the time on view begins; None is at the plan's own start."""
        self.cursor: Cursor | None = None
        """None until it was moved: on the first run of the first row."""
        self.first = 0
        """Row on top, or line."""
        self.kept = Memo()
        self.asked = LastQuestion()
        self.saving: object = None
        """What it is being worked out from, or was, what one more of each saves."""
        self.doing = ""
        self.fault = ""
        """Why what one more of each saves will not be known."""

    def body(self) -> ComposeResult:
        with Vertical(id="plan-main"):
            yield DiffStatic(id="plan-head", markup=False)
            yield DiffStatic(id="plan-body", markup=False)

    def place(self) -> str:
        return f"Plan  {format_count(len(self.session.shop.batches), 'open batch')}  {VIEWS[self.view]}"

    def aside(self) -> str:
        """How far the next plan is; this one stands meanwhile."""
        said = self.session.planner.progress
        return said if self.has_class("-wide") else said.partition(",")[0]

    def abnormal(self) -> list[Trouble]:
        planner = self.session.planner
        found = [planner.trouble] if planner.trouble else []
        if planner.shop_plan is not None:
            found += self._list_overtaken(planner)
            from floor.planning.plan_text import (
                describe_filled_orders,
                describe_missed_deadlines,
                describe_missing_finishes,
            )

            found += describe_missed_deadlines(planner.shop_plan)
            found += describe_missing_finishes(planner.shop_plan, sorted(planner.shop_plan.plan.finish))
            found += describe_filled_orders(planner.shop_plan)
        return [*super().abnormal(), *(Trouble("shift", one) for one in found)]

    def _list_overtaken(self, planner: Planner) -> list[str]:
        """What was entered since the plan on view was made: what it shows of that may be over already."""
        since, made = planner.count_entries_since(self.session.shop), planner.made_at
        if not since or made is None:
            return []
        newer = ", ".join(f"{format_count(count, 'entry')} of {id}" for id, count in since.items())
        return [f"Plan of {format_clock(made, self.session.now().at)}, before the last {newer}: a new one follows"]

    def on_resize(self, event: events.Resize) -> None:
        self.call_after_refresh(self.update_all)

    def update_body(self) -> None:
        keep_planned(self)
        planner = self.session.planner
        shop_plan = planner.shop_plan
        if shop_plan is None:
            first = f"The first plan is being made: {planner.progress}" if planner.progress else "There is no plan yet."
            self.head.update(planner.trouble or first)
            return
        from floor.screens.plan.view import format_plan_head

        self._keep_saved(shop_plan)
        width = self.chart_body.size.width
        head = format_plan_head(planner, shop_plan, planner.savings, self.batch_id, width or 78, self.fault)
        self.head.update(Content("\n".join(head)))
        if width:  # not laid out yet: the first size of the screen draws it
            self._show_body(shop_plan, width, max(self.chart_body.size.height, 6))

    @property
    def minutes(self) -> int:
        """To a cell of the chart, as it is drawn now; 0 before there is a plan, or room for it."""
        from floor.planning.time_scale import find_fitting_zoom

        shop_plan, cells = self.session.planner.shop_plan, self.cells
        if self.zoom or shop_plan is None or not cells:
            return self.zoom
        return self.kept.of(find_fitting_zoom, shop_plan, cells)

    @property
    def cells(self) -> int:
        """The width of the chart; 0 before there is room for it."""
        from floor.screens.plan.view import LABEL

        return max(self.chart_body.size.width - LABEL, 0)

    def _scale(self, shop_plan: ShopPlan) -> TimeScale:
        """The scale of the whole plan."""
        from floor.planning.time_scale import build_plan_scale

        return self.kept.of(build_plan_scale, shop_plan, self.minutes, self.cells)

    def _window(self, shop_plan: ShopPlan) -> TimeScale:
        """The part of it on view."""
        scale = self._scale(shop_plan)
        return scale.cut(scale.find_window(self.start, self.cells), self.cells)

    def _chart(self, shop_plan: ShopPlan) -> Chart:
        from floor.planning.chart import draw_chart

        side: Side = "carriers" if self.view else "stations"
        return self.kept.of(draw_chart, shop_plan, self._window(shop_plan), self.cells, side)

    def _show_body(self, shop_plan: ShopPlan, width: int, room: int) -> None:
        from floor.screens.plan.view import WIDE, Cursor, format_attendance_days, format_chart, format_limits

        saved = self.session.planner.savings
        if self.view < CHARTS:
            text, self.first = self.kept.of(
                format_chart,
                shop_plan,
                self._chart(shop_plan),
                self._window(shop_plan),
                self.cursor or Cursor(),
                self.first,
                saved,
                self._doing() if width >= WIDE else "",
                width,
                room,
            )
            self.chart_body.update(text)
            return
        people = self.kept.of(format_attendance_days, shop_plan, width)
        lines = people if self.view == CHARTS else format_limits(shop_plan, saved, self._doing(), width)
        self.first = max(0, min(self.first, len(lines) - room))
        self.chart_body.update(Content("\n".join(lines[self.first : self.first + room])))

    def _doing(self) -> str:
        return f"✕ {self.fault}" if self.fault else self.doing

    def _keep_saved(self, shop_plan: ShopPlan) -> None:
        """Work out in the background what one more of each saves: once for what was entered, however often planned."""
        planner = self.session.planner
        if planner.busy or not self.is_attached:
            return  # the spread of the finish goes first
        basis = planner.basis
        if self.saving == basis or (planner.savings is not None and planner.savings_searched):
            return
        self.saving = basis

        async def work_out() -> None:
            from floor.figures.schedule import LARGE, QUICK, THOROUGH
            from floor.planning.whatif import describe_fault

            try:
                await self._work_out_saved(shop_plan, basis, "being worked out", QUICK)
                if len(shop_plan.plan.runs) <= LARGE:
                    await self._work_out_saved(shop_plan, basis, "searching longer", planner.effort or THOROUGH)
                planner.savings_searched = planner.savings is not None
            except Exception as error:  # the plan stands without it
                known = planner.savings is not None
                self.doing, self.fault = "", describe_fault(error, "The figures above stand." if known else "")
                if self.stands:
                    self.update_all()

        self.doing, self.fault = "", ""
        self.run_worker(work_out(), group="savings", exclusive=True)

    async def _work_out_saved(self, shop_plan: ShopPlan, basis: object, how: str, effort: int) -> None:
        from floor.planning.whatif import rank_savings

        def over() -> bool:
            """Whether nobody waits for it: the screen was left, or something was entered and planned since."""
            return not self.is_attached or self.session.planner.basis != basis

        def tell(share: float, doing: str) -> None:
            self.doing = f"{how} … {format_share(share)}, {doing}"

        found = await run_in_thread(rank_savings, shop_plan, over, effort, progress=tell)
        if not over():
            self.session.planner.keep_savings(found)
            self.doing = ""
            if self.stands:
                self.update_all()

    def on_mouse_scroll_down(self, event: events.MouseScrollDown) -> None:
        self.action_row(1)

    def on_mouse_scroll_up(self, event: events.MouseScrollUp) -> None:
        self.action_row(-1)

    def on_click(self, event: events.Click) -> None:
        """The cursor goes where the chart is touched."""
        from floor.screens.plan.view import LABEL, Cursor

        shop_plan, at = self.session.planner.shop_plan, event.get_content_offset(self.chart_body)
        if shop_plan is None or at is None or self.view >= CHARTS or not self.cells:
            return
        rows, scale = len(self._chart(shop_plan).rows), self._window(shop_plan)
        row, cell = self.first + at.y - AXIS, max(at.x - LABEL, 0)
        if self.first <= row < rows and cell < len(scale.closed):
            self.cursor = Cursor(row, scale.read_wall(cell))
            self.update_all()

    # --- keys --------------------------------------------------------------------------------------------------

    def action_zoom(self, step: int) -> None:
        from floor.planning.time_scale import ZOOMS

        at = ZOOMS.index(self.minutes) if self.minutes in ZOOMS else 0
        self.zoom = ZOOMS[max(0, min(at + step, len(ZOOMS) - 1))]
        self.update_all()

    def action_run(self, way: int) -> None:
        """The run before or after in the same row; the time on view follows it."""
        found = self._under_cursor()
        if found is None or found[1] is None:
            return
        row, span = found
        n = row.spans.index(span) + way
        if 0 <= n < len(row.spans):
            self._go_to(row.spans[n])

    def action_row(self, way: int) -> None:
        """The row above or below, at the same time; where no chart is on view, the line above or below."""
        if self.view >= CHARTS:
            self.first = max(0, self.first + way)
            self.update_all()
            return
        from floor.screens.plan.view import Cursor

        shop_plan, cursor = self.session.planner.shop_plan, self.cursor or Cursor()
        if shop_plan is not None and self.cells:
            rows = len(self._chart(shop_plan).rows)
            self.cursor = Cursor(max(0, min(min(cursor.row, rows - 1) + way, rows - 1)), cursor.at)
            self.update_all()

    def action_page(self, way: int) -> None:
        """Most of a width earlier or later, with the cursor; where no chart is on view, so many lines."""
        if self.view >= CHARTS:
            self.action_row(way * max(self.chart_body.size.height - 1, 1))
            return
        from floor.screens.plan.view import Cursor

        shop_plan = self.session.planner.shop_plan
        if shop_plan is None or not self.cells:
            return
        scale, row = self._scale(shop_plan), (self.cursor or Cursor()).row
        first = scale.find_window(self.start, self.cells) + way * max(3 * self.cells // 4, 1)
        self.start = scale.read_wall(max(0, min(first, len(scale.closed) - self.cells)))
        self.cursor = Cursor(row, self.start)
        self.update_all()

    def _under_cursor(self) -> tuple[ChartRow, ChartSpan | None] | None:
        """The row of the cursor and what is under it; None where there is no chart."""
        from floor.planning.chart import find_span
        from floor.screens.plan.view import Cursor, find_row

        shop_plan, cursor = self.session.planner.shop_plan, self.cursor or Cursor()
        if shop_plan is None or not self.cells or self.view >= CHARTS:
            return None
        row = find_row(self._chart(shop_plan), cursor)
        return row, find_span(row, cursor.at or shop_plan.plan.start, cursor.run)

    def _go_to(self, span: ChartSpan) -> None:
        from floor.screens.plan.view import Cursor

        shop_plan = self.session.planner.shop_plan
        assert shop_plan is not None, "there is a run of it"
        self.cursor = Cursor((self.cursor or Cursor()).row, span.start, span.run.run)
        scale = self._scale(shop_plan)
        there, first = scale.find_cell(span.start.timestamp()), scale.find_window(self.start, self.cells)
        if not first <= there < first + self.cells:
            self.start = scale.read_wall(max(0, there - self.cells // 4))
        self.update_all()

    def action_now(self) -> None:
        self.start, self.cursor, self.first = None, None, 0
        self.update_all()

    def action_view(self) -> None:
        from floor.screens.plan.view import Cursor

        self.view, self.first = (self.view + 1) % len(VIEWS), 0
        self.cursor = Cursor(0, self.cursor.at) if self.cursor is not None else None
        self.update_all()

    def action_papers(self) -> None:
        """The plan that is on view, as text for people and as a table."""
        planner = self.session.planner
        if planner.shop_plan is None:
            self.say("There is no plan to write yet", wrong=True)
            return
        from floor.papers.plan import list_plan_offers

        looked = {id: (found, planner.first_op[id]) for id, found in planner.outlooks.items()}
        now, saved = self.session.now(), planner.savings
        choose_paper(self, list_plan_offers(planner.shop_plan, now, planner.spread, saved, looked))

    def action_what_if(self) -> None:
        """Ask what other carriers, hours, people or machines would do; the batches are not touched."""
        shop_plan = self.session.planner.shop_plan
        if shop_plan is None:
            self.say("There is no plan to compare with yet", wrong=True)
            return
        self.floor.go(WhatIfScreen(self.session, self.asked, self.session.planner.savings))
