"""Closing a batch: what stands in the way, which key settles it; asked about, with a reason where it is short."""

from __future__ import annotations

from collections.abc import Callable

from floor.batch.counting.scrap import say_open_scrap
from floor.batch.counting.surplus import format_surplus
from floor.batch.lifecycle.commands import CloseBatch, PointKind, open_points, say_points
from floor.screens.forms.dialogs import ConfirmDialog
from floor.screens.forms.fields import FieldSpec
from floor.screens.frame.screen import FloorScreen

SETTLES: dict[PointKind, str] = {
    "loads": "Enter: the load under the cursor",
    "waiver": "d: waivers",
    "difference": "o: handover",
    "question": "o: handover",
    "put off": "o: handover",
    "handover": "o: handover",
    "unproved": "d: decide on it",
    "out": "d: decide on it",
    "gauge": "d: decide on it",
    "hold": "d: held pieces",
}
"""Which key settles what keeps the batch from being closed; pieces that wait have none of their own."""


def close_batch(screen: FloorScreen, id: str, say: Callable[[str], None]) -> None:
    """Close a batch that is through, once that is really meant: nothing more can be entered in it then.

    Args:
        say: says that it is closed, where that is still seen.
    """
    batch = screen.session.batch(id)
    points = open_points(batch)
    if points:
        kinds = {point.kind for point in points}
        keys = [key for kind, key in SETTLES.items() if kind in kinds]
        screen.say(f"Cannot close: {say_points(points)}    {'   '.join(dict.fromkeys(keys))}", wrong=True)
        return
    finished = batch.total("finished")
    surplus = format_surplus(batch)
    counts = f"{finished} of {batch.order} finished, {batch.total('scrap')} scrap" + (f", {surplus}" if surplus else "")
    scrap = say_open_scrap(batch)
    scrap = f" Still open: {scrap} (d)." if scrap else ""
    question = f"Close batch {id}: {counts}?{scrap} Nothing can be entered in it after that."

    closed = f"Batch {id} is closed. c: closed batches, v there: lessons for its checklist"
    if finished >= batch.order:
        really = ConfirmDialog(question)
        screen.ask(really, lambda yes: screen.give(id, CloseBatch(""), lambda _: say(closed)) if yes else None)
        return
    fields = [FieldSpec("why", "Reason for closing short", needed=True)]
    screen.ask_and_give(
        id, f"Close batch {id}", fields, lambda given: CloseBatch(given["why"]), lambda _: say(closed), question
    )
