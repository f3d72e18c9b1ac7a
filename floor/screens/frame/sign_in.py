"""Signing in: who is at this terminal."""

from __future__ import annotations

from typing import ClassVar

from textual import getters, on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Input, OptionList, Static
from textual.widgets.option_list import Option

from floor.batch.command import Refused
from floor.batch.tag import is_tag
from floor.ledger import LedgerError
from floor.screens.forms.dialogs import find_text_width, rewrite_options
from floor.screens.forms.fields import Errors, FieldSpec, Values, collect_errors
from floor.screens.forms.form import Form
from floor.screens.frame.session import Session
from floor.screens.widgets.ordered_input import OrderedInput
from floor.shop.find_tagged import name_tagged
from floor.shop.shop_record import (
    ShopPerson,
    compute_lockout,
    is_pin,
    require_free_initials,
    require_own_first_pin,
)
from floor.text import format_span, set_out

WHO = "Sign in: who is at this terminal?"
FIRST = "No people yet. The first person is a lead and adds the rest."

LONGEST_NAME, REST = 36, 32
"""Columns of a name in the list, and of what else a line of it needs, with the edges of the dialog."""
LONGEST_SCAN = 60
"""Characters of the field for initials: a badge may be scanned there."""
MISMATCH = "The two PINs do not match. Enter both again."
NO_PIN = "A PIN has 4 to 32 characters. Choose another."


def format_role(person: ShopPerson) -> str:
    return "lead" if person.lead else "operator"


def validate_name(name: str) -> Errors:
    return {} if name.strip() else {"name": "The name is missing. Enter it."}


class SignInDialog(ModalScreen[str | None]):
    """Answers with the initials of a person who is who they say, empty for nobody, who signs the present one out; in a
    shop without people it enters the first one.
    """

    BINDINGS: ClassVar = [
        Binding("escape", "cancel", "Cancel"),
        Binding("up", "move(-1)", show=False),
        Binding("down", "move(1)", show=False),
    ]
    AUTO_FOCUS = "Input"
    DEFAULT_CSS = "SignInDialog #wrong { color: $error; text-style: bold; margin-top: 1; }"

    people = getters.query_one("#people", OptionList)
    wrong = getters.query_one("#wrong", Static)

    def __init__(self, session: Session, initials: str = "") -> None:
        """Ask who it is; of whom a badge named, only the PIN, if there is one.

        Args:
            initials: of an active person.
        """
        super().__init__()
        self.session = session
        self.named = initials
        self.leaving = "" if initials else session.who
        """Who is signed in, and signs out or makes room for the next."""
        self.choice = sorted(session.shop.people.active, key=lambda person: person.initials)
        self.chosen: ShopPerson | None = None
        """Whose pin is asked for."""
        self.new_pin: str | None = None
        """What was typed first, where a PIN is chosen: it is typed twice."""

    def compose(self) -> ComposeResult:
        with Vertical(classes="dialog"):
            yield Static(
                self._title() if self.choice else "Enter the first person", classes="dialog-title", markup=False
            )
            if not self.choice:
                yield Static(FIRST, markup=False)
                yield Form(
                    [
                        FieldSpec("initials", "Initials", hint="2 to 4"),
                        FieldSpec("name", "Name"),
                        FieldSpec("pin", "PIN", secret=True, hint="4 to 32"),
                        FieldSpec("again", "Repeat PIN", secret=True),
                    ]
                )
                yield Static("Enter: next, then done    Esc: cancel", classes="dialog-hint")
                return
            with Vertical(id="who-of", classes="field"):
                yield OrderedInput(id="who", placeholder="initials", compact=True, max_length=LONGEST_SCAN)
            yield OptionList(
                *(Option(self._line(person), id=person.initials) for person in self.choice),
                id="people",
                markup=False,
                compact=True,
            )
            with Vertical(id="pin-of", classes="field"):
                yield OrderedInput(id="pin", placeholder="PIN", compact=True, max_length=32, password=True)
            yield Static(id="wrong", markup=False)
            yield Static(id="hint", classes="dialog-hint")

    def _title(self) -> str:
        if self.chosen is not None:
            return f"{self.chosen.initials} {self.chosen.name}"
        return f"{self.leaving} is signed in. Who is next?" if self.leaving else WHO

    def _line(self, person: ShopPerson) -> str:
        pin = "PIN" if person.has_pin else "no PIN"
        room = max(min(self.app.size.width - REST, LONGEST_NAME), 1)
        return f"{person.initials:<5}{person.name[:room]:<{room}} {format_role(person):<10}{pin}"

    def on_resize(self) -> None:
        """Names and keys have more or less room than before."""
        if self.choice:
            rewrite_options(self.people, [self._line(person) for person in self.choice])
            self.query_one("#hint", Static).update(self._hint())

    def on_mount(self) -> None:
        if self.choice:
            self.people.can_focus = False  # the keys stay with the field; the list follows what is typed
            self.people.highlighted = None  # nobody signs in as the first of the list by a press too many
            self._say("")
            self._show_stage()
        named = next((person for person in self.choice if person.initials == self.named), None)
        if named is not None:
            self.call_later(self._choose, named)

    # --- the first person of a shop ----------------------------------------------------------------------------

    @on(Form.Entered)
    def first_entered(self, event: Form.Entered) -> None:
        event.stop()
        errors = collect_errors(self._enter_first, event.values)
        if errors:
            self.query_one(Form).show_errors(errors)

    def _enter_first(self, values: Values) -> Errors:
        shop = self.session.shop
        try:
            initials = require_free_initials(shop.people, values["initials"])
        except Refused as refused:
            return {"initials": str(refused)}
        errors = dict(validate_name(values["name"]))
        if values["pin"] != values["again"]:
            errors["pin"] = MISMATCH
        elif not is_pin(values["pin"]):
            errors["pin"] = NO_PIN
        if not errors and self.is_active:
            shop.add_person(initials, values["name"], True, initials, values["pin"])
            self.dismiss(initials)
        return errors

    # --- who, then the pin -------------------------------------------------------------------------------------

    @on(Input.Changed, "#who")
    def typed(self, event: Input.Changed) -> None:
        """The list follows what is typed: initials first, else the start of a name."""
        event.stop()
        self._say("")
        event.input.password = False
        self.people.highlighted = self._meant(event.value)

    def _meant(self, text: str) -> int | None:
        wanted = text.strip().casefold()
        if not wanted:
            return None
        names = [(person.initials.casefold(), person.name.casefold()) for person in self.choice]
        fits = (
            [n for n, (initials, _) in enumerate(names) if initials == wanted]
            + [n for n, (initials, _) in enumerate(names) if initials.startswith(wanted)]
            + [n for n, (_, name) in enumerate(names) if name.startswith(wanted)]
        )
        return fits[0] if fits else None

    def action_move(self, by: int) -> None:
        if self.choice and self.chosen is None:
            at = self.people.highlighted
            start = -1 if at is None and by > 0 else at or 0
            self.people.highlighted = (start + by) % len(self.choice)

    @on(Input.Submitted, "#who")
    def who_entered(self, event: Input.Submitted) -> None:
        event.stop()
        if is_tag(event.value):
            self._take_badge(event.input, event.value)
            return
        at = self.people.highlighted
        if at is None and not event.value.strip() and self.leaving:
            self.dismiss("")
        elif at is None and not event.value.strip():
            self._say("Type your initials, or choose with ↑ ↓")
        elif at is None:
            said = "Nobody here has these initials; the PIN comes after them."
            self._say(f"{said} A lead adds new people: Esc, then c on What next")
            event.input.password = True  # it may be a PIN, typed a field too early
            event.input.select_all()
        else:
            self._choose(self.choice[at])

    def _take_badge(self, field: Input, text: str) -> None:
        """A badge was scanned where initials are asked for."""
        initials = name_tagged(self.session.shop, text)
        person = next((person for person in self.choice if person.initials == initials), None)
        if person is None:
            self._say("This tag is nobody's badge here. Scan again, or type your initials")
            field.select_all()
        else:
            self._choose(person)

    @on(OptionList.OptionSelected)
    def clicked(self, event: OptionList.OptionSelected) -> None:
        event.stop()
        self._choose(self.choice[event.option_index])

    def _choose(self, person: ShopPerson) -> None:
        try:
            require_own_first_pin(self.session.shop.people, person)
        except Refused as refused:
            self._say(str(refused))
            return
        self.chosen = person
        if self.session.shop.asks_pin(person):
            self._show_stage()
        else:
            self._sign_in("")

    def _show_stage(self) -> None:
        """Ask for the pin of the one chosen, or for somebody."""
        asking = self.chosen is not None
        self.query_one("#pin-of").display = asking
        for before in ("#who-of", "#people"):
            self.query_one(before).display = not asking
        self.query_one(".dialog-title", Static).update(self._title())
        self.query_one("#hint", Static).update(self._hint())
        self.query_one("#pin" if asking else "#who", Input).focus()

    def _hint(self) -> str:
        if self.chosen is None:
            out = [f"Enter alone: sign out {self.leaving}"] if self.leaving else []
            keys = ["Initials or ↑ ↓, then Enter", *out, "Esc: cancel"]
            return "\n".join(set_out(keys, find_text_width(self.app.size.width), gap="    "))
        if self.chosen.has_pin:
            return "Enter: sign in    Esc: someone else"
        if self.new_pin is None:
            # A lead gets a first PIN from another lead; only where no lead has one is it chosen here.
            why = "No lead has a PIN yet" if self.chosen.lead else "Everybody here needs a PIN"
            me = self.chosen.initials
            return f"{why}. {me}, choose yours: 4 to 32 characters.\nEnter: next    Esc: I am not {me}"
        return "Enter the same PIN again"

    @on(Input.Submitted, "#pin")
    def pin_entered(self, event: Input.Submitted) -> None:
        event.stop()
        typed, event.input.value = event.value, ""
        if self.chosen is None or self.chosen.has_pin:
            self._sign_in(typed)
        else:
            self._choose_pin(self.chosen, typed)

    def _choose_pin(self, person: ShopPerson, typed: str) -> None:
        """Who needs a PIN and has none chooses one before anything is entered in their name (CBP-37, REC-33)."""
        first, self.new_pin = self.new_pin, None
        if first is None and not is_pin(typed):
            self._say(NO_PIN)
        elif first is None:
            self.new_pin = typed
            self._say("")
        elif first != typed:
            self._say(MISMATCH)
        else:
            try:
                self.session.shop.set_pin(person.initials, typed, person.initials, first=True)
            except (Refused, LedgerError) as wrong:
                self._say(str(wrong))
            else:
                self._sign_in(typed)
                return
        self._show_stage()

    def _sign_in(self, pin: str) -> None:
        person = self.chosen
        if person is None or not self.is_active:
            return
        waiting = compute_lockout(person, self.session.now())
        try:
            self.session.shop.sign_in(person.initials, pin)
        except Refused as refused:
            wait = 0.0 if waiting else compute_lockout(person, self.session.now())
            self._say(f"{refused} Wait {format_span(wait)} before the next try." if wait else str(refused))
        except LedgerError as error:
            self._say(str(error))
        else:
            self.dismiss(person.initials)

    def _say(self, text: str) -> None:
        self.wrong.update(f"✕ {text}" if text else "")
        self.wrong.display = bool(text)

    def action_cancel(self) -> None:
        if self.chosen is not None:
            self.chosen = self.new_pin = None
            self._say("")
            self._show_stage()
        elif self.is_active:
            self.dismiss(None)
