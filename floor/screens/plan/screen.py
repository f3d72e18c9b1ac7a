"""The plan: when everything is through, what it hangs on, who is needed when."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from textual import events, getters
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.widgets import Static

from floor.screens.frame.paper_choice import PAPERS, choose_paper
from floor.screens.frame.run_in_thread import run_in_thread
from floor.screens.frame.screen import FloorScreen
from floor.screens.frame.session import Session
from floor.screens.plan.replan import keep_planned
from floor.screens.plan.whatif import LastQuestion, WhatIfScreen
from floor.screens.widgets.last_answer import Memo
from floor.text import format_count

if TYPE_CHECKING:
    from floor.figures.schedule import Saving
    from floor.planning.plan import ShopPlan

SIDE = 52
"""Columns beside the chart where there is room."""
VIEWS = ("time chart", "who is needed when", "bottleneck")


class PlanScreen(FloorScreen):
    """Questions 4 and 5: will the order be filled, when, and what limits it."""

    BINDINGS = [
        Binding("plus,equals_sign", "zoom(-1)", "Zoom in", key_display="+", id="zoom_in"),
        Binding("minus", "zoom(1)", "Zoom out", key_display="-", id="zoom_out"),
        Binding("v", "view", "View", id="view"),
        Binding("w", "what_if", "What if", id="what_if"),
        PAPERS,
        Binding("left", "shift(-1)", "Earlier", show=False),
        Binding("right", "shift(1)", "Later", show=False),
        Binding("up", "scroll(-1)", "Up", show=False),
        Binding("down", "scroll(1)", "Down", show=False),
        Binding("pageup", "scroll(-8)", "Page up", show=False),
        Binding("pagedown", "scroll(8)", "Page down", show=False),
        Binding("home", "now", "Back to now", show=False),
    ]
    DEFAULT_CSS = f"""
    PlanScreen #plan-main {{ width: 1fr; padding: 0 1; }}
    PlanScreen #plan-head {{ height: auto; max-height: 8; }}
    PlanScreen #plan-body {{ height: 1fr; text-wrap: nowrap; }}
    PlanScreen #plan-side {{ display: none; width: {SIDE}; border-left: solid $panel; padding: 0 1; }}
    PlanScreen #plan-side {{ height: 100%; text-wrap: nowrap; }}
    PlanScreen.-wide #plan-side {{ display: block; }}
    """

    head = getters.query_one("#plan-head", Static)
    chart_body = getters.query_one("#plan-body", Static)
    side = getters.query_one("#plan-side", Static)

    def __init__(self, session: Session, batch: str = "") -> None:
        """Open on all batches; one that is named stands first."""
        super().__init__(session)
        self.batch_id = batch
        self.view = 0
        self.zoom = 0
        """Minutes to a cell that a person chose; 0 where all of the plan is to fit in."""
        self.start: datetime | None = None
        """Where the chart starts; None follows the plan's own start."""
        self.first = 0
        self.kept = Memo()
        self.asked = LastQuestion()
        self.saving: ShopPlan | None = None
        """The plan for which it is worked out what one more of each saves."""
        self.saved: tuple[Saving, ...] = ()
        self.saved_of: ShopPlan | None = None
        """The plan for which `saved` was worked out."""
        self.doing = ""
        self.fault = ""
        """Why what one more of each saves will not be known."""

    def body(self) -> ComposeResult:
        with Horizontal():
            with Vertical(id="plan-main"):
                yield Static(id="plan-head", markup=False)
                yield Static(id="plan-body", markup=False)
            yield Static(id="plan-side", markup=False)

    def place(self) -> str:
        return f"Plan  {format_count(len(self.session.shop.batches), 'open batch')}" + (
            "" if self.wide else f"  {VIEWS[self.view]}"
        )

    def aside(self) -> str:
        """How far the next plan is; this one stands meanwhile."""
        said = self.session.planner.progress
        return said if self.wide else said.partition(",")[0]

    def abnormal(self) -> list[str]:
        planner = self.session.planner
        found = [planner.trouble] if planner.trouble else []
        if planner.shop_plan is not None:
            from floor.planning.plan_text import describe_missed_deadlines, describe_missing_finishes

            # Both stand in full on top of the plan; here they are told in the line that every screen has.
            found += describe_missed_deadlines(planner.shop_plan)
            found += describe_missing_finishes(planner.shop_plan, sorted(planner.shop_plan.plan.finish))
        return found

    @property
    def wide(self) -> bool:
        return self.has_class("-wide")

    def on_resize(self, event: events.Resize) -> None:
        self.call_after_refresh(self.update_all)

    def update_body(self) -> None:
        keep_planned(self)
        shop_plan = self.session.planner.shop_plan
        if shop_plan is None:
            progress = self.session.planner.progress
            first = f"The first plan is being made: {progress}" if progress else "There is no plan yet."
            self.head.update(self.session.planner.trouble or first)
            return
        from floor.screens.plan.view import format_limits, format_plan_head

        self._keep_saved(shop_plan)
        width = self.chart_body.size.width
        saved = self._saved(shop_plan)
        self.head.update(
            Content(
                "\n".join(
                    format_plan_head(self.session.planner, shop_plan, saved, self.batch_id, width or 78, self.fault)
                )
            )
        )
        if width:  # not laid out yet: the first size of the screen draws it
            self._show_body(shop_plan, width, max(self.chart_body.size.height, 6))
        if self.wide:
            self.side.update(Content("\n".join(format_limits(shop_plan, saved, self._doing(), SIDE - 3))))

    @property
    def minutes(self) -> int:
        """To a cell of the chart, as it is drawn now; 0 before there is a plan, or room for it."""
        from floor.planning.chart import find_fitting_zoom
        from floor.screens.plan.view import LABEL

        shop_plan, width = self.session.planner.shop_plan, self.chart_body.size.width
        return self.zoom or (find_fitting_zoom(shop_plan, width - LABEL) if shop_plan is not None and width else 0)

    def _show_body(self, shop_plan: ShopPlan, width: int, room: int) -> None:
        from floor.screens.plan.view import ChartView, format_attendance_days, format_limits, paint_chart

        view = 0 if self.wide else self.view
        if view == 0:
            window = ChartView(self.start, self.minutes, self.first)
            text, self.first = self.kept.of(paint_chart, shop_plan, window, width, room)
            self.chart_body.update(text)
            return
        saved = self._saved(shop_plan)
        people = self.kept.of(format_attendance_days, shop_plan, width)
        lines = people if view == 1 else format_limits(shop_plan, saved, self._doing(), width)
        self.first = max(0, min(self.first, len(lines) - room))
        self.chart_body.update(Content("\n".join(lines[self.first : self.first + room])))

    def _doing(self) -> str:
        return f"✕ {self.fault}" if self.fault else self.doing

    def _saved(self, shop_plan: ShopPlan) -> tuple[Saving, ...] | None:
        """What one more of each saves in this plan; None until it is worked out."""
        return self.saved if self.saved_of is shop_plan else None

    def _keep_saved(self, shop_plan: ShopPlan) -> None:
        """Work out in the background what one more of each saves, once for each plan, while this screen is up."""
        if self.saving is shop_plan or self.session.planner.busy or not self.is_attached:
            return  # the spread of the finish goes first
        self.saving = shop_plan

        async def work_out() -> None:
            from floor.figures.schedule import LARGE, QUICK, THOROUGH
            from floor.planning.whatif import describe_fault

            try:
                await self._work_out_saved(shop_plan, "being worked out", QUICK)
                if len(shop_plan.plan.runs) <= LARGE:
                    longer = self.session.planner.effort or THOROUGH
                    await self._work_out_saved(shop_plan, "searching longer", longer)
            except Exception as error:  # the plan stands without it
                known = self._saved(shop_plan) is not None
                self.doing, self.fault = "", describe_fault(error, "The figures above stand." if known else "")
                if self.stands:
                    self.update_all()

        self.doing, self.fault = "", ""
        self.run_worker(work_out(), group="savings", exclusive=True)

    async def _work_out_saved(self, shop_plan: ShopPlan, how: str, effort: int) -> None:
        from floor.planning.whatif import rank_savings

        def tell(share: float, doing: str) -> None:
            self.doing = f"{how} … {share:.0%}, {doing}"

        found = await run_in_thread(rank_savings, shop_plan, self._over(shop_plan), effort, progress=tell)
        if self.saving is shop_plan:
            self.saved, self.saved_of, self.doing = found, shop_plan, ""
            if self.stands:
                self.update_all()
                self.call_after_refresh(self.update_all)  # a longer head leaves the chart less room

    def _over(self, shop_plan: ShopPlan) -> Callable[[], bool]:
        """Whether nobody waits for an answer about this plan: the screen was left, or there is a newer plan."""
        return lambda: not self.is_attached or self.saving is not shop_plan

    def on_mouse_scroll_down(self, event: events.MouseScrollDown) -> None:
        self.action_scroll(3)

    def on_mouse_scroll_up(self, event: events.MouseScrollUp) -> None:
        self.action_scroll(-3)

    # --- keys --------------------------------------------------------------------------------------------------

    def action_zoom(self, step: int) -> None:
        from floor.planning.chart import ZOOMS

        at = ZOOMS.index(self.minutes) if self.minutes in ZOOMS else 0
        self.zoom = ZOOMS[max(0, min(at + step, len(ZOOMS) - 1))]
        self.update_all()

    def action_shift(self, way: int) -> None:
        """Scroll the time by a quarter of the width."""
        shop_plan = self.session.planner.shop_plan
        if shop_plan is None or not self.minutes:
            return
        from floor.planning.chart import find_cell_start
        from floor.screens.plan.view import LABEL

        cells = max(self.chart_body.size.width - LABEL, 4) // 4
        start = self.start or find_cell_start(shop_plan.plan.start, self.minutes)
        self.start = start + way * timedelta(minutes=cells * self.minutes)
        self.update_all()

    def action_scroll(self, rows: int) -> None:
        self.first = max(0, self.first + rows)
        self.update_all()

    def action_now(self) -> None:
        self.start, self.first = None, 0
        self.update_all()

    def action_view(self) -> None:
        self.view, self.first = (self.view + 1) % len(VIEWS), 0
        self.update_all()

    def action_papers(self) -> None:
        """The plan that is on view, as text for people and as a table."""
        planner = self.session.planner
        if planner.shop_plan is None:
            self.say("There is no plan to write yet", wrong=True)
            return
        from floor.papers.plan import list_plan_offers

        looked = {id: (found, planner.first_op[id]) for id, found in planner.outlooks.items()}
        saved = self._saved(planner.shop_plan)
        choose_paper(self, list_plan_offers(planner.shop_plan, self.session.now(), planner.spread, saved, looked))

    def action_what_if(self) -> None:
        """Ask what other carriers, hours, people or machines would do; the batches are not touched."""
        shop_plan = self.session.planner.shop_plan
        if shop_plan is None:
            self.say("There is no plan to compare with yet", wrong=True)
            return
        self.floor.go(WhatIfScreen(self.session, self.asked, self._saved(shop_plan)))
