"""What if: what is asked in words or by keys, and what it would do in a table beside today's plan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import field
from typing import TYPE_CHECKING, ClassVar

from textual import events, getters, on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.content import Content
from textual.widgets import Input, Static

from floor.dataclass import dataclass
from floor.screens.forms.field_rows import FieldMarker
from floor.screens.frame.run_in_thread import run_in_thread
from floor.screens.frame.screen import FloorScreen
from floor.screens.frame.session import Session
from floor.screens.widgets.ordered_input import OrderedInput
from floor.text import cut, set_out, wrap_text

if TYPE_CHECKING:
    from floor.figures.schedule import Saving
    from floor.planning.plan import ShopPlan
    from floor.planning.questions.likely_questions import Suggestion
    from floor.planning.scenario import Scenario
    from floor.planning.whatif import WhatIfRow, WhatIfTrial

WIDEST = 110
"""Columns of the table: beyond it the eye loses the row."""
MORE = 3
"""Times the effort of a quick plan for each row: the plan on view has had more than that."""
LONGEST = 300
"""Characters of a question."""


@dataclass(slots=True)
class LastQuestion:
    """What was asked last, kept while the plan is on view."""

    text: str = ""
    rows: list[WhatIfRow] = field(default_factory=list)
    of: ShopPlan | None = None
    """The plan that it was set beside."""


class WhatIfScreen(FloorScreen):
    """Questions 4 and 5: what would bring the order in on time, and what limits it then. Nothing is entered."""

    GUIDE = (
        "Type a change, or press `F2` to `F9` for one on the list.",
        "`Enter` works it out beside today's plan. Nothing is recorded.",
    )
    BINDINGS: ClassVar = [
        Binding("pagedown", "scroll(1)", "More below", key_display="PgDn", id="what_if_down", priority=True),
        Binding("pageup", "scroll(-1)", "More above", show=False, id="what_if_up", priority=True),
        Binding("down", "scroll_line(1)", show=False),
        Binding("up", "scroll_line(-1)", show=False),
        *(Binding(f"f{n + 2}", f"put({n})", show=False, id=f"what_if_{n}", priority=True) for n in range(8)),
    ]
    DEFAULT_CSS = """
    WhatIfScreen #ask { height: auto; padding: 0 1; }
    WhatIfScreen #offers { height: auto; color: $secondary; padding-left: 2; }
    WhatIfScreen #wrong { height: auto; color: $error; text-style: bold; padding-left: 2; }
    WhatIfScreen #answer { height: 1fr; border-top: solid $panel; padding: 0 0 0 1; scrollbar-size-vertical: 1; }
    WhatIfScreen #table { height: auto; }
    """

    asked_in = getters.query_one("#field-what-if", OrderedInput)
    offered = getters.query_one("#offers", Static)
    wrong = getters.query_one("#wrong", Static)
    table = getters.query_one("#table", Static)

    def __init__(self, session: Session, asked: LastQuestion, saved: Sequence[Saving] | None = None) -> None:
        """Open on what was asked last.

        Args:
            saved: what one more of each saves, as far as it is known: those that save most are offered first.
        """
        super().__init__(session)
        self.asked = asked
        self.saved = saved
        self.offers: list[Suggestion] = []
        self.turn = 0
        """Raised by each question: what is worked out for the one before stops."""
        self.doing = ""

    def body(self) -> ComposeResult:
        with Vertical(id="ask"):
            with Horizontal(classes="field"):
                yield FieldMarker()
                yield Static("What if", classes="field-label", markup=False)
                yield OrderedInput(self.asked.text, id="field-what-if", compact=True, max_length=LONGEST)
            yield Static(id="offers", markup=False)
            yield Static(id="wrong", markup=False)
        with VerticalScroll(id="answer", can_focus=False):
            yield Static(id="table", markup=False)

    def place(self) -> str:
        return "Plan  What if"

    def aside(self) -> str:
        return self.doing

    def on_mount(self) -> None:
        from floor.planning.questions.likely_questions import suggest_questions

        plan = self.session.planner.shop_plan
        if plan is not None:
            self.offers = suggest_questions(plan, self._case(), self.session.now(), self.saved)
        self.asked_in.focus()

    def on_resize(self, event: events.Resize) -> None:
        self.call_after_refresh(self.update_all)

    def update_body(self) -> None:
        width = min(self.app.size.width - 2, WIDEST)
        keys = [f"F{n + 2} {offer.one}" for n, offer in enumerate(self.offers)]
        self.offered.update("\n".join(set_out(keys, width - 4)))
        self.table.update(Content("\n".join(self._lines(width))))

    def _lines(self, width: int) -> list[str]:
        if not self.asked.rows:
            return ["Being worked out …"] if self.doing else _what_can_be_asked(width)
        from floor.papers.whatif import MEASURE, format_whatif_table

        lines = [*format_whatif_table(self.asked.rows, (), width), "", *wrap_text(MEASURE, width=width)]
        now, of = self.asked.rows[0].shop_plan, self.asked.of
        if now is not None and of is not None and now.plan is not of.plan:
            lines += wrap_text("Today was planned again here, and better than the plan shown.", width=width)
        if not self.doing and of is not self.session.planner.shop_plan:
            lines += wrap_text("There is a newer plan. Enter: work it out again.", width=width)
        return lines

    # --- keys --------------------------------------------------------------------------------------------------

    def action_scroll(self, way: int) -> None:
        answer = self.query_one("#answer", VerticalScroll)
        answer.scroll_relative(y=way * max(answer.size.height - 1, 1), animate=False)

    def action_scroll_line(self, way: int) -> None:
        self.query_one("#answer", VerticalScroll).scroll_relative(y=way, animate=False)

    def action_put(self, n: int) -> None:
        """Put an offered change in; once more, and there is one more of it, or it is taken out again."""
        if n >= len(self.offers):
            return
        from floor.planning.questions.likely_questions import insert_suggestion

        self.asked_in.value = insert_suggestion(self.asked_in.value, self.offers[n])
        self.asked_in.cursor_position = len(self.asked_in.value)

    @on(Input.Changed)
    def typed_anew(self, event: Input.Changed) -> None:
        event.stop()
        self.wrong.update("")

    @on(Input.Submitted)
    def question_submitted(self, event: Input.Submitted) -> None:
        event.stop()
        plan = self.session.planner.shop_plan
        if plan is None:
            self.wrong.update("✕ There is no plan to compare with yet. Wait until it is made.")
            return
        from floor.planning.questions import NotUnderstood, read_questions
        from floor.planning.whatif import build_trials, describe_fault

        case, now = self._case(), self.session.now()
        try:  # now, between two keys: it reads the batches
            asked = build_trials(case, read_questions(event.value, case, now), now)
        except NotUnderstood as wrong:
            self.wrong.update(f"✕ {wrong}")
            return
        except Exception as error:  # whatever it is, the program goes on
            self.wrong.update(f"✕ {describe_fault(error)}")
            return
        self.asked.text, self.asked.rows, self.asked.of = event.value, [], plan
        self.turn += 1
        self.run_worker(self._work_out(plan, asked, self.turn), group="what if", exclusive=True)

    def _case(self) -> Scenario:
        from floor.planning.scenario import build_scenario

        return build_scenario(self.session.shop.batches, self.session.planner.crew)

    async def _work_out(self, plan: ShopPlan, asked: Sequence[WhatIfTrial], turn: int) -> None:
        """Row by row, then what limits each: a row is on view as soon as it stands."""
        from floor.figures.schedule import QUICK
        from floor.planning.whatif import add_savings, describe_fault, plan_row

        effort = MORE * QUICK

        def over() -> bool:
            return turn != self.turn or not self.is_attached

        def tell(doing: str) -> None:
            self.doing = doing
            if self.stands:
                self.update_all()

        rows = self.asked.rows
        for n, question in enumerate(asked):
            tell(f"row {n + 1} of {len(asked)} …")
            now = rows[0] if n else None
            rows.append(await run_in_thread(plan_row, plan, question, now, effort=effort, should_stop=over))
        for n, row in enumerate(rows):
            tell(f"what limits row {n + 1} of {len(rows)} …")
            try:
                rows[n] = await run_in_thread(add_savings, row, rows[0] if n else None, should_stop=over)
            except Exception as error:  # the rows stand without it
                self.say(describe_fault(error), wrong=True)
        tell("")


def _what_can_be_asked(width: int) -> list[str]:
    from floor.planning.questions import WORDS

    return [
        "Ask one or several, with commas between. Enter compares with today's plan.",
        "Press the same key again for one more, or to take it out.",
        "",
        *(cut(f"{words:<43} {means}", width) for words, means in WORDS),
    ]
