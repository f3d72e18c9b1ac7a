"""Who works in this shop."""

from __future__ import annotations

from collections.abc import Callable
from typing import ClassVar

from textual import getters, on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.screen import ModalScreen
from textual.widgets import Static

from floor.batch.command import Refused
from floor.batch.qualification import SOON, list_states
from floor.screens.forms.dialogs import Choice, ChoiceDialog, ConfirmDialog, FormDialog
from floor.screens.forms.fields import Errors, FieldSpec, Values, collect_errors
from floor.screens.frame.paper_choice import PAPERS, offer_tags
from floor.screens.frame.screen import FloorScreen
from floor.screens.frame.session import Session
from floor.screens.frame.sign_in import FIRST, MISMATCH, format_role, validate_name
from floor.screens.widgets.rows import TableView
from floor.shop.shop_record import ShopPerson, require_free_initials
from floor.text import format_count


class PeopleScreen(FloorScreen):
    """Who works here, and who may decide. Leads enter and change people; everybody sets their own pin."""

    GUIDE = (
        "Who works here. `a` adds a person; `Enter` changes one, or a PIN.",
        "A lead waives gates, decides on held pieces and needs a PIN.",
        "Qualifications with their dates: `Enter`; a booth may ask for them.",
    )
    BINDINGS: ClassVar = [
        Binding("a", "add", "Add", id="person_add", tooltip="add a person"),
        Binding("enter", "change", "Change", id="person_change", priority=True, tooltip="PIN, name, role, left"),
        PAPERS,
    ]

    table = getters.query_one("#people", TableView)
    nobody = getters.query_one("#nobody", Static)
    DEFAULT_CSS = "PeopleScreen #nobody { padding: 2 4; height: 1fr; }"

    def __init__(self, session: Session) -> None:
        super().__init__(session)
        self.people: list[ShopPerson] = []

    def body(self) -> ComposeResult:
        columns = [("Initials", 8), ("Name", 35), ("Role", 9), ("PIN", 7), ("", 0)]
        yield TableView(columns, id="people", gives_way={"Name": 12})
        yield Static(f"{FIRST}\n\n  a   enter the first person", id="nobody", markup=False)

    def on_mount(self) -> None:
        self.table.focus()

    def place(self) -> str:
        active = len(self.session.shop.people.active)
        return f"Floor  People  {format_count(active, 'person').replace('persons', 'people')}"

    def update_body(self) -> None:
        self.people = sorted(self.session.shop.people.known.values(), key=lambda person: (person.left, person.initials))
        self.table.display, self.nobody.display = bool(self.people), not self.people
        self.table.fill(
            [
                (
                    person.initials,
                    person.name,
                    format_role(person),
                    "set" if person.has_pin else "not set",
                    "inactive" if person.left else self.say_due(person),
                )
                for person in self.people
            ]
        )

    def say_due(self, person: ShopPerson) -> str:
        """Whether a qualification has lapsed, or will soon; empty while none needs anybody."""
        today = self.session.now().at.date()
        left = [
            one.until - today
            for one, _ in list_states(self.session.shop.people.qualified.get(person.initials, {}), today)
            if not one.withdrawn and one.until is not None
        ]
        return "lapsed" if left and min(left).days < 0 else "due soon" if left and min(left) <= SOON else ""

    @property
    def chosen(self) -> ShopPerson | None:
        row = self.table.cursor_row
        return self.people[row] if 0 <= row < len(self.people) else None

    @on(TableView.RowSelected)
    def row_selected(self, event: TableView.RowSelected) -> None:
        event.stop()
        self.action_change()

    # --- keys --------------------------------------------------------------------------------------------------

    def action_papers(self) -> None:
        """Badges: that of the person under the cursor, and all."""
        from floor.papers.tags import list_person_labels

        shop, chosen = self.session.shop, self.chosen
        if chosen is not None:
            active = {person.initials: person.name for person in shop.people.active}
            offer_tags(self, list_person_labels(active, shop.first_hash), chosen.initials)

    def _put(self, dialog: ModalScreen[bool], done: str) -> None:
        def answered(taken: bool | None) -> None:
            self.say(done if taken else "")
            self.update_all()

        self.floor.push_screen(dialog, answered)

    def action_add(self) -> None:
        shop = self.session.shop
        if not shop.people.known:
            self.floor.ask_who(self.update_all)
            return

        def attempt(values: Values) -> Errors:
            try:
                initials = require_free_initials(shop.people, values["initials"])
            except Refused as refused:
                return {"initials": str(refused)}
            errors = dict(validate_name(values["name"]))
            lead = values["lead"].strip().casefold()
            if lead[:1] not in ("y", "n"):
                errors["lead"] = "Enter y or n."
            if values["pin"] != values["again"]:
                errors["pin"] = MISMATCH
            if not errors:
                shop.add_person(initials, values["name"], lead.startswith("y"), self.session.who, values["pin"])
            return errors

        fields = [
            FieldSpec("initials", "Initials", hint="2 to 4"),
            FieldSpec("name", "Name"),
            FieldSpec("lead", "Lead? y/n", "n", hint="a lead decides"),
            FieldSpec("pin", "First PIN", secret=True, hint="a lead needs one; 4 to 32"),
            FieldSpec("again", "Repeat PIN", secret=True),
        ]
        self.run_as_lead("Adding a person", lambda: self._put(FormDialog("Add a person", fields, attempt), "Entered"))

    def action_change(self) -> None:
        """What to change of the person under the cursor."""
        person = self.chosen
        if person is None:
            return
        goes: dict[str, tuple[str, Callable[[ShopPerson], None]]] = {
            "pin": ("set a PIN", self._change_pin),
            "name": ("change the name", self._change_name),
            "role": ("make an operator" if person.lead else "make a lead", self._change_role),
            "left": ("works here again" if person.left else "no longer works here", self._change_left),
            "qualified": ("qualifications: training, health surveillance", self._show_qualifications),
        }
        choices = [Choice(key, said) for key, (said, _) in goes.items()]
        title = f"{person.initials} {person.name}"
        self.floor.push_screen(
            ChoiceDialog(title, choices), lambda key: goes[key][1](person) if key is not None else None
        )

    def _change_name(self, person: ShopPerson) -> None:

        def attempt(values: Values) -> Errors:
            errors = validate_name(values["name"])
            if not errors:
                self._change(person, name=values["name"])
            return errors

        form = FormDialog(f"Name of {person.initials}", [FieldSpec("name", "Name", person.name)], attempt)
        self.run_as_lead("Changing a name", lambda: self._put(form, "Changed"))

    def _change_role(self, person: ShopPerson) -> None:
        other = "an operator" if person.lead else "a lead, who waives gates and decides on held pieces"
        self._sure(f"Make {person.initials} {person.name} {other}?", person, lead=not person.lead)

    def _change_left(self, person: ShopPerson) -> None:
        question = (
            f"Reactivate {person.initials} {person.name}?"
            if person.left
            else f"Deactivate {person.initials} {person.name}? They can no longer sign in; their entries stay."
        )
        self._sure(question, person, left=not person.left)

    def _sure(self, question: str, person: ShopPerson, *, lead: bool | None = None, left: bool | None = None) -> None:
        def answered(yes: bool | None) -> None:
            if yes:
                errors = collect_errors(lambda _: self._change(person, lead=lead, left=left), {})
                self.say(errors.get("", "Changed"), wrong=bool(errors))
                if person.left and person.initials == self.session.who:
                    self.session.sign_out()
            self.update_all()

        self.run_as_lead("Changing people", lambda: self._ask_sure(question, answered))

    def _ask_sure(self, question: str, answered: Callable[[bool | None], None]) -> None:
        self.floor.push_screen(ConfirmDialog(question), answered)

    def _change(
        self, person: ShopPerson, *, name: str | None = None, lead: bool | None = None, left: bool | None = None
    ) -> Errors:
        self.session.shop.change_person(
            person.initials,
            self.session.who,
            name=person.name if name is None else name,
            lead=person.lead if lead is None else lead,
            left=person.left if left is None else left,
        )
        return {}

    def _show_qualifications(self, person: ShopPerson) -> None:
        """Each with the day until which it holds, to renew or withdraw; and a new one."""
        known = self.session.shop.people.qualified.get(person.initials, {})
        states = list(list_states(known, self.session.now().at.date()))
        choices = [Choice(str(n), f"{one.what}: {said}") for n, (one, said) in enumerate(states)]
        choices.append(Choice("new", "a new one (a lead)"))

        def picked(key: str | None) -> None:
            if key == "new":
                self._enter_qualification(person, "")
            elif key is not None:
                self._change_qualification(person, states[int(key)][0].what)

        title = f"Qualifications of {person.initials} {person.name}"
        text = "A station whose checklist asks for one takes nobody without it."
        self.floor.push_screen(ChoiceDialog(title, choices, text), picked)

    def _change_qualification(self, person: ShopPerson, what: str) -> None:
        choices = [Choice("renew", "renew (a lead)"), Choice("withdraw", "withdraw (a lead)")]

        def picked(key: str | None) -> None:
            if key == "renew":
                self._enter_qualification(person, what)
            elif key == "withdraw":
                self._withdraw_qualification(person, what)

        self.floor.push_screen(ChoiceDialog(f"{person.initials}: {what}", choices), picked)

    def _enter_qualification(self, person: ShopPerson, what: str) -> None:
        def attempt(values: Values) -> Errors:
            self.session.shop.enter_qualification(
                person.initials, values["what"], values["since"], values["until"], self.session.who
            )
            return {}

        asked = dict.fromkeys(
            one for batch in self.session.shop.batches for place in batch.checklist.stations for one in place.qualified
        )
        fields = [
            FieldSpec("what", "Qualification", what, picks=() if what else tuple(asked), needed=True),
            FieldSpec("since", "Valid from", hint="YYYY-MM-DD", needed=True),
            FieldSpec("until", "Valid until", hint="YYYY-MM-DD (optional)"),
        ]
        title = f"Qualification of {person.initials}"
        self.run_as_lead(
            "Entering a qualification", lambda: self.ask_form(title, fields, attempt, lambda: self._said("Entered"))
        )

    def _withdraw_qualification(self, person: ShopPerson, what: str) -> None:
        def attempt(values: Values) -> Errors:
            self.session.shop.withdraw_qualification(person.initials, what, values["why"], self.session.who)
            return {}

        fields = [FieldSpec("why", "Reason", needed=True)]
        title = f"Withdraw {what} of {person.initials}"
        self.run_as_lead(
            "Withdrawing a qualification",
            lambda: self.ask_form(title, fields, attempt, lambda: self._said("Withdrawn"), blamed="why"),
        )

    def _said(self, done: str) -> None:
        self.say(done)
        self.update_all()

    def _change_pin(self, person: ShopPerson) -> None:
        self.run_signed_in(lambda: self._ask_pin(person))

    def _ask_pin(self, person: ShopPerson) -> None:
        mine = person.initials == self.session.who
        if not mine and not self.session.is_lead:
            self.say("Not your PIN: only its owner or a lead sets it", wrong=True)
            return
        fields = [
            FieldSpec("pin", "New PIN", secret=True, hint="4 to 32"),
            FieldSpec("again", "Repeat PIN", secret=True),
        ]
        first = not person.has_pin
        if mine and not first:
            fields.insert(0, FieldSpec("present", "Current PIN", secret=True))

        def attempt(values: Values) -> Errors:
            if "present" in values:
                try:
                    self.session.shop.sign_in(person.initials, values["present"])
                except Refused as refused:
                    return {"present": str(refused)}
            if values["pin"] != values["again"]:
                return {"pin": MISMATCH}
            try:
                self.session.shop.set_pin(person.initials, values["pin"], self.session.who, first=first)
            except Refused as refused:
                return {"pin": str(refused)}
            return {}

        self._put(
            FormDialog(f"PIN of {person.initials} {person.name}", fields, attempt), f"PIN of {person.initials} is set"
        )
