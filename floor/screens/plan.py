"""The plan: when everything is through, what it hangs on, who is needed when, and what if."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from textual import events, getters
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.widgets import Static

from floor.batch.said import plural
from floor.screens.base import FloorScreen
from floor.screens.desk import Desk
from floor.screens.dialogs import Choice, Choose
from floor.screens.papers import PAPERS, choose_paper
from floor.screens.planner import Key, aside, keep_planned

if TYPE_CHECKING:
    from floor.figures.schedule import Saving
    from floor.planning.plan import ShopPlan
    from floor.planning.whatif import WhatIf

LABEL = 14
"""Columns of a row's name."""
SIDE = 52
"""Columns beside the chart where there is room."""
VIEWS = ("time chart", "who is needed when", "what one more saves")
KEPT = 3
"""What-ifs kept on view."""


class PlanScreen(FloorScreen):
    """Questions 4 and 5: will the order be filled, when, and what limits it."""

    BINDINGS = [
        Binding("plus,equals_sign", "zoom(-1)", "Zoom in", key_display="+", id="zoom_in"),
        Binding("minus", "zoom(1)", "Zoom out", key_display="-", id="zoom_out"),
        Binding("v", "view", "View", id="view"),
        Binding("w", "what_if", "What if", id="what_if"),
        PAPERS,
        Binding("x", "forget", "Forget it", show=False, id="forget"),
        Binding("left", "shift(-1)", "Earlier", show=False),
        Binding("right", "shift(1)", "Later", show=False),
        Binding("up", "scroll(-1)", "Up", show=False),
        Binding("down", "scroll(1)", "Down", show=False),
        Binding("pageup", "scroll(-8)", "Page up", show=False),
        Binding("pagedown", "scroll(8)", "Page down", show=False),
        Binding("home", "now", "Back to now", show=False),
    ]
    CSS = f"""
    PlanScreen #plan-main {{ width: 1fr; padding: 0 1; }}
    PlanScreen #plan-head {{ height: auto; max-height: 8; }}
    PlanScreen #plan-what-ifs {{ height: auto; max-height: {KEPT}; text-style: bold; }}
    PlanScreen #plan-body {{ height: 1fr; text-wrap: nowrap; }}
    PlanScreen #plan-side {{ display: none; width: {SIDE}; border-left: solid $panel; padding: 0 1; }}
    PlanScreen #plan-side {{ height: 100%; text-wrap: nowrap; }}
    PlanScreen.-wide #plan-side {{ display: block; }}
    """

    head = getters.query_one("#plan-head", Static)
    asked = getters.query_one("#plan-what-ifs", Static)
    chart_body = getters.query_one("#plan-body", Static)
    side = getters.query_one("#plan-side", Static)

    def __init__(self, desk: Desk, batch: str = "") -> None:
        """Open on all batches; one that is named stands first."""
        super().__init__(desk)
        self.batch_id = batch
        self.view = 0
        self.minutes = 0
        """To a cell; 0 until the first plan chooses."""
        self.start: datetime | None = None
        """Where the chart begins; None follows the plan's own beginning."""
        self.first = 0
        self.what_ifs: list[str] = []
        self.saved: tuple[Saving, ...] = ()
        self.saved_for: Key = ()

    def body(self) -> ComposeResult:
        with Horizontal():
            with Vertical(id="plan-main"):
                yield Static(id="plan-head", markup=False)
                yield Static(id="plan-what-ifs", markup=False)
                yield Static(id="plan-body", markup=False)
            yield Static(id="plan-side", markup=False)

    def place(self) -> str:
        return f"Plan  {plural(len(self.desk.shop.batches), 'open batch')}"

    def aside(self) -> str:
        return "planning …" if self.desk.planner.busy else "" if self.wide else VIEWS[self.view]

    def abnormal(self) -> list[str]:
        planner = self.desk.planner
        found = [planner.trouble] if planner.trouble else []
        if planner.shop_plan is not None:
            from floor.planning.words import troubles_said

            found += troubles_said(planner.shop_plan)
        return found

    @property
    def wide(self) -> bool:
        return self.has_class("-wide")

    def on_resize(self, event: events.Resize) -> None:
        self.call_after_refresh(self.update_all)

    def show(self) -> None:
        keep_planned(self)
        shop_plan = self.desk.planner.shop_plan
        if shop_plan is None:
            self.head.update("There is no plan yet." if not self.desk.planner.trouble else self.desk.planner.trouble)
            return
        self.head.update(Content("\n".join(self._head(shop_plan))))
        self.asked.update(Content("\n".join(self.what_ifs)))
        if self.wide or self.view == 2:
            self._keep_saved(shop_plan)
        lines = (self._chart, self._people, self._savings)[0 if self.wide else self.view](shop_plan)
        self.chart_body.update(Content("\n".join(lines)))
        if self.wide:
            beside = [*self._savings(shop_plan), "", *self._people(shop_plan)]
            self.side.update(Content("\n".join(beside[: max(self.size.height - 4, 1)])))

    def _head(self, shop_plan: ShopPlan) -> list[str]:
        from floor.planning.whatif import bottleneck
        from floor.planning.words import finish_said

        spread = self.desk.planner.spread
        order = sorted(shop_plan.plan.finish, key=lambda batch: batch != self.batch_id)
        said = [finish_said(shop_plan, batch, spread.batches.get(batch) if spread else None) for batch in order[:3]]
        if len(order) > 3:
            said.append(f"and {len(order) - 3} more, all through {shop_plan.plan.end:%a %d %b %H:%M}")
        return [*said, f"Bottleneck: {bottleneck(shop_plan, self.saved).words}"]

    def _chart(self, shop_plan: ShopPlan) -> list[str]:
        from floor.planning.chart import LEGEND, beginning, chart, fitting

        width = self.chart_body.size.width - LABEL
        if width < 1:
            return []  # not laid out yet: the first size of the screen draws it
        if not self.minutes:
            self.minutes = fitting(shop_plan, width)
        start = self.start or beginning(shop_plan.plan.start, self.minutes)
        drawn = chart(shop_plan, start, self.minutes, width)
        *rows, people = drawn.rows
        room = max(self.chart_body.size.height - 4, 1)
        self.first = max(0, min(self.first, len(rows) - room))
        shown = rows[self.first : self.first + room]
        more = f"↑↓ {self.first + 1}–{self.first + len(shown)} of {len(rows)}" if len(rows) > room else ""
        return [
            f"{more:<{LABEL}}{drawn.days}",
            f"{_cell(self.minutes):<{LABEL}}{drawn.hours}",
            *(f"{row.label[: LABEL - 1]:<{LABEL}}{row.cells}" for row in [*shown, people]),
            LEGEND,
        ]

    def _people(self, shop_plan: ShopPlan) -> list[str]:
        from floor.planning.words import needed, needed_said, needed_short

        found = needed(shop_plan)
        if self.wide:
            return ["Who is needed when", *(f"  {needed_short(one, shop_plan)}" for one in found)]
        several = any(max(one.people) > 1 for one in found)
        self.first = max(0, min(self.first, len(found) - 1))
        return ["Who is needed when", *(needed_said(one, shop_plan, several) for one in found[self.first :])]

    def _savings(self, shop_plan: ShopPlan) -> list[str]:
        from floor.planning.whatif import saving_said

        said = [f"  {saving_said(saving)}" for saving in self.saved]
        return ["What one more of each would save", *(said or ["  being worked out …"])]

    def _keep_saved(self, shop_plan: ShopPlan) -> None:
        """Work out in the background what one more of each saves, once for each plan."""
        made_of = self.desk.planner.made_of
        if self.saved_for == made_of:
            return
        self.saved_for = made_of

        async def work_out() -> None:
            from floor.planning.whatif import savings

            self.saved = await aside(savings, shop_plan, lambda: self.saved_for != made_of)
            self.update_all()

        self.run_worker(work_out(), group="savings", exclusive=True)

    def on_mouse_scroll_down(self, event: events.MouseScrollDown) -> None:
        self.action_scroll(3)

    def on_mouse_scroll_up(self, event: events.MouseScrollUp) -> None:
        self.action_scroll(-3)

    # --- keys --------------------------------------------------------------------------------------------------

    def action_zoom(self, step: int) -> None:
        from floor.planning.chart import ZOOMS

        at = ZOOMS.index(self.minutes) if self.minutes in ZOOMS else 0
        self.minutes = ZOOMS[max(0, min(at + step, len(ZOOMS) - 1))]
        self.update_all()

    def action_shift(self, way: int) -> None:
        """Scroll the time by a quarter of the width."""
        shop_plan = self.desk.planner.shop_plan
        if shop_plan is None or not self.minutes:
            return
        from floor.planning.chart import beginning

        cells = max(self.chart_body.size.width - LABEL, 4) // 4
        start = self.start or beginning(shop_plan.plan.start, self.minutes)
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

    def action_forget(self) -> None:
        self.what_ifs = []
        self.update_all()

    def action_papers(self) -> None:
        """The plan that is on view, as text for people and as a table."""
        planner = self.desk.planner
        if planner.shop_plan is None:
            self.say("There is no plan to write yet", wrong=True)
            return
        from floor.papers.plan import plan_offers

        looked = {id: (found, planner.first_op[id]) for id, found in planner.outlooks.items()}
        choose_paper(self, plan_offers(planner.shop_plan, self.desk.now(), planner.spread, self.saved, looked))

    def action_what_if(self) -> None:
        """Choose a question; its answer stands beside the present plan, and the batch is not touched."""
        shop_plan, planner = self.desk.planner.shop_plan, self.desk.planner
        if shop_plan is None:
            self.say("There is no plan to compare with yet", wrong=True)
            return
        from floor.planning.prospect import ask_again
        from floor.planning.whatif import what_ifs

        batches = [batch for batch in self.desk.shop.batches if not batch.gone]
        now = self.desk.now()
        mixed = shop_plan.mixed
        questions = what_ifs(
            shop_plan, batches, now, lambda changes: ask_again(batches, now, planner.crew, changes, mixed)
        )[: len(Choose.LETTERS)]

        def chosen(key: str | None) -> None:
            if key is not None:
                self._answer(shop_plan, questions[int(key)])

        choices = [Choice(str(n), question.text) for n, question in enumerate(questions)]
        self.floor.push_screen(Choose("What if", choices, "Only looked at: nothing is entered."), chosen)

    def _answer(self, shop_plan: ShopPlan, question: WhatIf) -> None:
        from floor.planning.whatif import answer, difference_said

        problem = question.problem()  # now, between two keys: it may read the batch
        self.say(f"{question.text}: being worked out …")

        async def work_out() -> None:
            difference = await aside(answer, shop_plan, question, problem)
            self.say("")
            self.what_ifs = [*self.what_ifs, f"{question.text}: {difference_said(shop_plan, difference)}"][-KEPT:]
            self.update_all()

        self.run_worker(work_out(), group="what if", exclusive=True)


def _cell(minutes: int) -> str:
    """What a cell of the chart stands for."""
    return f"▏{minutes} min" if minutes < 60 else f"▏{minutes // 60} h"
