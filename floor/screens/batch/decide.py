"""What is open on a batch, each with who may decide it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial

from floor.batch.corrections.commands import ConfirmClock
from floor.batch.counting.blind_count import find_blind_subjects, hides_total
from floor.batch.counting.holds import list_pieces_in_rework, list_scrap_on_carriers
from floor.batch.counting.scrap import say_open_scrap
from floor.batch.counting.surplus import find_undecided_surplus, is_order_filled, list_pieces_out_of_work
from floor.batch.events import GaugeSuspected, Proved, WaiverClosed, iter_events
from floor.batch.gates.commands import CloseWaiver
from floor.batch.search.recent_words import list_recent_words
from floor.batch.state import Batch
from floor.batch.walk.clock_jumps import is_clock_change_untold, is_clock_in_doubt
from floor.batch.worklist.tasks import list_decisions_due
from floor.checklist.gates import GATE_KINDS, FirstPiece, Measured
from floor.screens.batch.scrap import ask_open_scrap
from floor.screens.forms.dialogs import Choice, ChoiceDialog
from floor.screens.forms.fields import FieldSpec
from floor.screens.frame.screen import FloorScreen
from floor.screens.shop.open_task import open_task
from floor.text import format_count

HELD, WAIVERS, SURPLUS, CLOCK, COUNT = "12345"
"""The digit of each decision that there is once; those about one entry have the digits after them."""
SCRAP = "9"
"""The digit of what anybody says at any time; no decision ever takes it."""


def choose_decision(screen: FloorScreen, batch_id: str, surplus: Callable[[], None]) -> None:
    """Open what is to be decided, or ask which of several; the held pieces and the rework where nothing is.

    Args:
        surplus: decides on what a filled order does not need.
    """
    batch = screen.session.batch(batch_id)
    goes: dict[str, Callable[[], None]] = {}
    choices: list[Choice] = []

    def offer(key: str, text: str, go: Callable[[], None], pick: str) -> None:
        if key not in goes:
            choices.append(Choice(key, text, pick))
        goes[key] = go

    for due in list_decisions_due(batch):
        text = due.what if due.needs_lead else f"{due.what} (anyone)"
        pick = COUNT if due.entry is None else _find_pick(batch, due.entry)
        offer(f"{due.go} {due.entry}", text, partial(open_task, screen, due, lambda *_: None), pick)
    if batch.held() or list_scrap_on_carriers(batch) or list_pieces_in_rework(batch):
        hidden = hides_total(batch, "hold", find_blind_subjects(batch))
        held = "held pieces" if hidden else format_count(len(batch.held()), "held piece")
        offer("held", f"{held} (a lead), and what is in rework", partial(_decide_held, screen, batch_id), HELD)
    if batch.list_open_waivers():
        offer("waivers", "waived gates: close one (a lead)", partial(close_waiver, screen, batch_id), WAIVERS)
    if _is_there_surplus(batch):
        offer("surplus", "filled order: the rest, spares, spares back", surplus, SURPLUS)
    if is_clock_change_untold(batch):
        text = "the shop's clock was changed: confirm it (a lead)"
        offer("clock", text, partial(confirm_clock, screen, batch_id), CLOCK)
    if scrap := say_open_scrap(batch, find_blind_subjects(batch)):
        offer("scrap", f"{scrap} (anyone)", partial(ask_open_scrap, screen, batch_id), SCRAP)
    if len(goes) < 2:
        next(iter(goes.values()), partial(_decide_held, screen, batch_id))()
        return
    screen.floor.push_screen(ChoiceDialog("Decide", choices), lambda key: goes[key]() if key is not None else None)


def _is_there_surplus(batch: Batch) -> bool:
    """Whether anything can be decided on what a filled order does not need."""
    return bool(find_undecided_surplus(batch) or list_pieces_out_of_work(batch) or is_order_filled(batch))


def _find_pick(batch: Batch, entry: int) -> str:
    """The digit of a decision about one entry: by its turn among all there ever were, so that it stays its own."""
    about = sorted({*batch.out, *batch.suspect_gauges, *batch.struck.values(), *_list_struck_questions(batch)})
    free = ChoiceDialog.KEYS[int(COUNT) :].replace(SCRAP, "")
    return free[about.index(entry) % len(free)]


def _list_struck_questions(batch: Batch) -> Iterator[int]:
    """Entries struck out that had asked for a decision of their own: readings out of limits, suspect gauges."""
    for entry, event in iter_events((batch.entries[seq - 1] for seq in batch.struck), Proved, GaugeSuspected):
        kind = GATE_KINDS[event.gate] if isinstance(event, Proved) and event.out else None
        if isinstance(event, GaugeSuspected) or (kind is not None and issubclass(kind, Measured | FirstPiece)):
            yield entry.seq


def _decide_held(screen: FloorScreen, batch_id: str) -> None:
    from floor.screens.batch.hold import HoldScreen

    screen.floor.go(HoldScreen(screen.session, batch_id))


def close_waiver(screen: FloorScreen, batch_id: str) -> None:
    """A lead says what became of it."""
    waivers = screen.session.batch(batch_id).list_open_waivers()

    def chosen(key: str | None) -> None:
        if key is not None:
            recent = list_recent_words(screen.session.shop.batches, WaiverClosed, lambda one: [one.reason])
            fields = [FieldSpec("why", "Resolution", picks=recent, needed=True)]
            screen.ask_and_give(batch_id, "Close waiver", fields, lambda given: CloseWaiver(int(key), given["why"]))

    order, keys = list(screen.session.batch(batch_id).waivers), ChoiceDialog.KEYS  # each keeps its digit here too
    choices = [
        Choice(str(w.seq), f"op {w.op} {w.title}: {w.reason} ({w.by})", keys[order.index(w.seq) % len(keys)])
        for w in waivers
    ]
    screen.floor.push_screen(ChoiceDialog("Waived gates", choices, "Choose one to close it."), chosen)


def confirm_clock(screen: FloorScreen, batch_id: str) -> None:
    """A lead has looked at the clock: the jump it made is no longer a doubt."""
    text = (
        "Clock change of unknown size. Timers take the clock as right throughout."
        if is_clock_in_doubt(screen.session.batch(batch_id), screen.session.now())
        else "The size of the change is known; timers leave it out. The notice goes away."
    )
    screen.ask_and_give(
        batch_id,
        "Confirm the clock",
        [FieldSpec("why", "How do you know", needed=True)],
        lambda given: ConfirmClock(given["why"]),
        lambda _: screen.say("Clock confirmed"),
        text,
    )
