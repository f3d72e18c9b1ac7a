"""What becomes of pieces that a filled order does not need: go on, kept as spares, stopped, or taken back into work."""

from __future__ import annotations

from floor.batch.command import Command, Refused
from floor.batch.counting.blind_count import find_blind_subjects
from floor.batch.counting.decide_surplus import BringBackSurplus, LetSurplusGoOn, TakeOutSurplus
from floor.batch.counting.surplus import (
    format_order_filled,
    is_order_filled,
    list_pieces_out_of_work,
    list_removable_pieces,
    list_unfinished_pieces,
)
from floor.batch.state import Batch
from floor.screens.forms.dialogs import Choice, ChoiceDialog, FormDialog
from floor.screens.forms.fields import Errors, FieldSpec, Values, describe_refusal, parse_number
from floor.screens.frame.screen import FloorScreen
from floor.text import format_count

PICKS = {
    "on": ("the customer takes them", "for stock"),
    "until": ("to free the carrier",),
    "spare": ("in case some come back", "for the next order"),
    "stopped": ("nobody wants more of them",),
    "back": ("more are wanted", "some of the good ones are not"),
}
"""Reasons offered before typing."""


def decide_surplus(
    screen: FloorScreen, batch_id: str, load: int | None = None, op: int | None = None, rework: str = ""
) -> None:
    """Ask what is done with all that the order does not need, or with a load or heap; then why.

    Args:
        load: the load that is meant, beside all.
        op: the operation that the meant heap waits for.
    """
    batch = screen.session.batch(batch_id)
    choices = _choices(batch, load, op, rework)
    if not choices:
        short = batch.order - batch.total("finished")
        screen.say(
            f"Nothing to decide: {format_count(short, 'piece')} short of the order"
            if short > 0
            else "Nothing to decide: no piece is in process and there are no spares"
        )
        return

    def chosen(key: str | None) -> None:
        if key is not None:
            _ask_why(screen, batch_id, key, load, op, rework)

    screen.ask(
        ChoiceDialog("The order is filled" if is_order_filled(batch) else "Spares", choices, _said(batch)), chosen
    )


def _said(batch: Batch) -> str:
    hidden = find_blind_subjects(batch)
    said = format_order_filled(batch, hidden)
    there = list_unfinished_pieces(batch)
    stuck = len(there) - len(list_removable_pieces(batch, there))
    if is_order_filled(batch) and stuck and not hidden:
        said += f"\n{stuck} of them in a cycle, decided on or counted: they stay until their load is released."
    return said + ("\nA load taken out of process frees its carrier." if there else "")


def _choices(batch: Batch, load: int | None, op: int | None, rework: str) -> list[Choice]:
    choices: list[Choice] = []
    hidden = find_blind_subjects(batch)
    free = len(list_removable_pieces(batch, list_unfinished_pieces(batch)))
    if is_order_filled(batch) and list_unfinished_pieces(batch):
        choices.append(Choice("on", "finish them all"))
        choices.append(Choice("until", "go on up to an operation, and stop there"))
        if free:
            pieces = "all that can leave" if hidden else format_count(free, "piece")
            choices.append(Choice("spare", f"keep {pieces} as spares"))
            choices.append(Choice("stopped", f"stop {pieces} for good (a lead)"))
        if load is not None or op is not None:
            where = batch.format_carrier(batch.loads[load]) if load is not None else f"those waiting for op {op}"
            choices.append(Choice("spare here", f"only {where}: keep as spares"))
            choices.append(Choice("stopped here", f"only {where}: stop for good (a lead)"))
    for where, at, route, count in list_pieces_out_of_work(batch):
        pieces = "pieces" if where in hidden else format_count(count, "spare" if where == "spare" else "stopped piece")
        on = f" ({route})" if route else ""
        lead = " (a lead)" if where == "stopped" else ""
        choices.append(Choice(f"back|{where}|{at}|{route}", f"take back {pieces} before op {at}{on}{lead}"))
    return choices


def _ask_why(screen: FloorScreen, batch_id: str, key: str, load: int | None, op: int | None, rework: str) -> None:
    what, _, rest = key.partition("|")
    what, here = (what.removesuffix(" here"), True) if what.endswith(" here") else (what, False)
    batch = screen.session.batch(batch_id)
    ops = ", ".join(map(str, batch.checklist.route))
    fields = [FieldSpec("until", "Up to op", hint=f"one of {ops}", needed=True, number=True)] if what == "until" else []
    if here or what == "back":
        fields.append(FieldSpec("count", "How many", hint="blank: all of them", number=True))
    fields.append(FieldSpec("why", "Reason", picks=PICKS[what], needed=True))

    def attempt(values: Values) -> Errors:
        screen.session.do(batch_id, _command(what, rest, values, load if here else None, op if here else None, rework))
        return {}

    def answered(taken: bool | None) -> None:
        screen.update_all()
        if taken:
            screen.say(DONE[what])

    lead = _lead_needed(screen, batch_id, what, rest)
    if lead:
        screen.say(lead, wrong=True)
        return
    screen.floor.push_screen(FormDialog(TITLES[what], fields, attempt, _said(batch), fields[0].name), answered)


TITLES = {
    "on": "Finish them all",
    "until": "Go on up to an operation",
    "spare": "Keep as spares",
    "stopped": "Stop for good",
    "back": "Take back into process",
}
DONE = {
    "on": "The pieces in process go on",
    "until": "The pieces in process go on up to that operation",
    "spare": "Kept as spares. On the batch, d takes them back",
    "stopped": "Stopped. On the batch, d takes them back (a lead)",
    "back": "Back in process",
}


def _lead_needed(screen: FloorScreen, batch_id: str, what: str, rest: str) -> str:
    """Why this person may not do it, before a reason is typed for nothing."""
    if what != "stopped" and not rest.startswith("stopped"):
        return ""
    try:
        screen.session.context(batch_id).need_lead("stopped pieces")
    except Refused as refused:
        return describe_refusal(refused)
    return ""


def _command(what: str, rest: str, values: Values, load: int | None, op: int | None, rework: str) -> Command:
    count = parse_number(values["count"]) if values.get("count", "").strip() else None
    if what == "back":
        where, at, route = rest.split("|")
        return BringBackSurplus(int(at), values["why"], where, route, count)  # type: ignore[arg-type]
    if what in ("on", "until"):
        until = parse_number(values["until"]) if what == "until" else None
        return LetSurplusGoOn(values["why"], until)
    return TakeOutSurplus(what, values["why"], load, op, rework, count)  # type: ignore[arg-type]
