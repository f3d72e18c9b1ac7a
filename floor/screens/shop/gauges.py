"""The shop's gauges."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import ClassVar

from textual import getters, on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.widgets import Static

from floor.batch.gauge import Gauge, describe_closed_uses, describe_gauge_state, sort_gauges
from floor.screens.forms.dialogs import Choice, ChoiceDialog, TextDialog
from floor.screens.forms.fields import Errors, FieldSpec, Values
from floor.screens.frame.paper_choice import PAPERS, offer_tags
from floor.screens.frame.run_in_thread import Ahead
from floor.screens.frame.screen import FloorScreen
from floor.screens.frame.session import Session
from floor.screens.widgets.rows import TableView
from floor.shop.gauge_register import NO
from floor.text import capitalize_first, format_clock, format_count
from floor.wall import get_local_day

WHY = ("dropped", "failed a check", "reading jumps", "lost")
WHY_SUSPECT = ("calibration: out of its limits", "failed a check")
DATE = "YYYY-MM-DD"


class GaugesScreen(FloorScreen):
    """Which gauges may be used, and which are due? A lead enters them; anybody withdraws a suspect one."""

    GUIDE = (
        "All gauges, the next due first.",
        "`Enter` changes the due date, withdraws the gauge or brings it back.",
        "A suspect gauge is reported to every open batch that it measured;",
        "the closed ones are named, also on their papers.",
    )
    BINDINGS: ClassVar = [
        Binding("a", "add", "Add", id="gauge_add", tooltip="add a gauge (a lead)"),
        Binding(
            "enter", "change", "Change", id="gauge_change", priority=True, tooltip="due date, withdraw, bring back"
        ),
        PAPERS,
    ]

    table = getters.query_one("#gauges", TableView)
    none = getters.query_one("#no-gauges", Static)
    DEFAULT_CSS = "GaugesScreen #no-gauges { padding: 2 4; height: 1fr; }"

    def __init__(self, session: Session, serial: str = "") -> None:
        """Show the register, the cursor on a gauge if one is named."""
        super().__init__(session)
        self.serial = serial
        self.gauges: list[Gauge] = []

    def body(self) -> ComposeResult:
        columns = [("Serial", 12), ("Gauge", 27), ("Due", 10), ("", 0)]
        yield TableView(columns, id="gauges", gives_way={"Gauge": 20, "Serial": 6})
        yield Static(
            "No gauges yet. A check that asks for a serial number accepts any.\n\n  a   add the first gauge",
            id="no-gauges",
            markup=False,
        )

    def on_mount(self) -> None:
        self.table.focus()
        self.update_all()
        row = next((row for row, one in enumerate(self.gauges) if one.serial == self.serial), 0)
        self.table.move_cursor(row=row)

    def place(self) -> str:
        return f"Floor  {format_count(len(self.session.shop.people.gauges), 'gauge')}, next due first"

    def update_body(self) -> None:
        today = self.session.now().at.date()
        self.gauges = sort_gauges(self.session.shop.people.gauges.values())
        self.table.display, self.none.display = bool(self.gauges), not self.gauges
        self.table.fill(
            [(one.serial, one.name, one.due.isoformat(), describe_gauge_state(one, today)) for one in self.gauges]
        )

    @property
    def chosen(self) -> Gauge | None:
        row = self.table.cursor_row
        return self.gauges[row] if 0 <= row < len(self.gauges) else None

    @on(TableView.RowSelected)
    def row_selected(self, event: TableView.RowSelected) -> None:
        event.stop()
        self.action_change()

    # --- keys --------------------------------------------------------------------------------------------------

    def action_papers(self) -> None:
        """Tags: that of the gauge under the cursor, and all."""
        from floor.papers.tags import list_gauge_labels

        shop, chosen = self.session.shop, self.chosen
        if chosen is not None:
            offer_tags(self, list_gauge_labels(shop.people.gauges.values(), shop.first_hash), chosen.serial)

    def action_add(self) -> None:
        def attempt(values: Values) -> Errors:
            self.session.shop.add_gauge(
                values["serial"], values["name"], values["due"], self.session.who, values["calibrated"]
            )
            return {}

        fields = [
            FieldSpec("serial", "Serial number", needed=True),
            FieldSpec("name", "Gauge", hint="e.g. depth micrometer", needed=True),
            FieldSpec("due", "Calibration due", hint=DATE, needed=True),
            FieldSpec("calibrated", "Calibrated on", hint=f"{DATE}; n: not known", needed=True),
        ]
        self.run_as_lead(
            "Adding a gauge", lambda: self.ask_form("Add a gauge", fields, attempt, lambda: self.say("Added"))
        )

    def action_change(self) -> None:
        """What to change of the gauge under the cursor."""
        gauge = self.chosen
        if gauge is None:
            return
        goes: dict[str, tuple[str, Callable[[], None]]] = {
            "due": ("new due date, calibrated or not (a lead)", self._change_due),
            "withdraw": ("withdraw: dropped, failed a check or suspect", self._withdraw),
            "back": ("bring back: found good (a lead)", self._bring_back),
        }
        choices = [Choice(key, said) for key, (said, _) in goes.items()]
        title = f"{gauge.serial} {gauge.name}"
        self.floor.push_screen(ChoiceDialog(title, choices), lambda key: goes[key][1]() if key is not None else None)

    def _change_due(self) -> None:
        gauge = self.chosen
        if gauge is None:
            return

        def attempt(values: Values) -> Errors:
            self.session.shop.change_gauge(
                gauge.serial, values["name"], values["due"], self.session.who, values["calibrated"]
            )
            return {}

        fields = [
            FieldSpec("due", "Calibration due", gauge.due.isoformat(), hint=DATE, needed=True),
            FieldSpec("calibrated", "Calibrated on", hint=f"{DATE}; n: it was not"),
            FieldSpec("name", "Gauge", gauge.name, needed=True),
        ]
        self.run_as_lead(
            "Changing a gauge",
            lambda: self.ask_form(f"Gauge {gauge.serial}", fields, attempt, lambda: self.say("Changed")),
        )

    def _withdraw(self) -> None:
        gauge = self.chosen
        if gauge is None:
            return
        if gauge.withdrawn:
            self._call_suspect(gauge)
            return

        ahead = Ahead(partial(self.session.shop.find_closed_uses, gauge.serial))  # seconds, while the reason is typed

        def attempt(values: Values) -> Errors:
            suspect = values["suspect"].strip().casefold()[:1]
            if suspect not in ("y", "n"):
                return {"suspect": "Enter y or n."}
            closed = ahead.take() if suspect == "y" else None
            self.session.shop.withdraw_gauge(gauge.serial, values["why"], suspect == "y", self.session.who, closed)
            return {}

        fields = [
            FieldSpec("why", "Reason", picks=WHY, needed=True),
            FieldSpec("suspect", "Earlier readings suspect? y/n", needed=True),
        ]
        title, used = f"Withdraw {gauge.serial} {gauge.name}", self._say_used(gauge)
        told = "Withdrawn: tag it and put it away"
        self.ask_form(title, fields, attempt, lambda: self._say_closed(gauge.serial, told), used, "why")

    def _call_suspect(self, gauge: Gauge) -> None:
        """The laboratory's word may come weeks after a gauge was withdrawn."""
        ahead = Ahead(partial(self.session.shop.find_closed_uses, gauge.serial))

        def attempt(values: Values) -> Errors:
            shop, who = self.session.shop, self.session.who
            shop.call_gauge_suspect(gauge.serial, values["why"], values["since"], who, ahead.take())
            return {}

        now = self.session.now().at
        good = get_local_day(gauge.checked, now).isoformat() if gauge.checked is not None else NO
        fields = [
            FieldSpec("why", "Reason", picks=WHY_SUSPECT, needed=True),
            FieldSpec("since", "Last good check", good, hint=f"{DATE}; n: not known", needed=True),
        ]
        title, state = f"Readings of {gauge.serial} suspect", describe_gauge_state(gauge, now.date())
        text = f"{capitalize_first(state)}.\n{self._say_used(gauge)}"
        told = "A lead decides on what it measured"
        self.ask_form(title, fields, attempt, lambda: self._say_closed(gauge.serial, told), text, "why")

    def _say_closed(self, serial: str, told: str) -> None:
        """Parts that left the shop are named at once, to be read in full."""
        self.say(told)
        closed = self.session.shop.people.gauges[serial].closed
        if closed:
            text = (
                f"Closed batches measured with {serial} since its last good check: {describe_closed_uses(closed)}. "
                "Tell a lead now: their parts may have to be recalled. It is also on the papers of each, and in "
                "floor gauges."
            )
            self.floor.push_screen(TextDialog("Parts that left the shop", text))

    def _say_used(self, gauge: Gauge) -> str:
        """How much depends on it, as far as is known without reading closed batches."""
        now, used = self.session.now().at, self.session.shop.count_gauge_checks(gauge)
        batches = f"{len(used)} open {'batch' if len(used) == 1 else 'batches'}"
        checks = format_count(sum(used.values()), "check")
        since = f" since {format_clock(gauge.checked, now)}" if gauge.checked is not None else ""
        said = f"{checks} in {batches} used it{since}. If suspect, a lead decides on them."
        return f"{said}\nClosed batches that used it are then looked up and named."

    def _bring_back(self) -> None:
        gauge = self.chosen
        if gauge is None:
            return

        def attempt(values: Values) -> Errors:
            self.session.shop.return_gauge(gauge.serial, values["due"], values["why"], self.session.who)
            return {}

        fields = [
            FieldSpec("why", "How checked", hint="the check that shows it is good", needed=True),
            FieldSpec("due", "Calibration due", gauge.due.isoformat(), hint=DATE, needed=True),
        ]
        self.run_as_lead(
            "Bringing a gauge back",
            lambda: self.ask_form(
                f"Bring back {gauge.serial}", fields, attempt, lambda: self.say("Back in use"), blamed="why"
            ),
        )
