"""Asking a lead about checks that a suspect gauge was used for."""

from __future__ import annotations

from floor.batch.command import format_pieces
from floor.batch.describe import describe
from floor.batch.gates.suspect_gauges import SettleSuspectGauge, describe_suspect_gauge, find_measured_with
from floor.batch.load import Load
from floor.batch.state import Batch
from floor.screens.batch.lying import lay_out_load, list_drawn
from floor.screens.forms.dialogs import Drawing
from floor.screens.forms.fields import FieldSpec, Values
from floor.screens.frame.screen import FloorScreen
from floor.screens.widgets.place_map import Places
from floor.text import join_sentences

MOST_SHOWN = 5
"""Checks named in the form; the history has them all."""


def decide_suspect_gauge(screen: FloorScreen, batch_id: str, report: int) -> None:
    """What was measured with it is shown; a lead holds or scraps what has to be, then says here what was done."""
    batch = screen.session.batch(batch_id)
    one = batch.suspect_gauges[report]
    checks = [describe(batch, batch.entries[seq - 1]) for seq in one.checks if seq not in batch.struck]
    now_on = find_measured_with(batch, one)
    over = len(checks) - MOST_SHOWN
    more = [f"and {over} more: History (j), / and the words {one.serial}"] if over > 0 else []
    lies = [f"Measured with it, now on {_say_places(batch, now_on)}"] if now_on else []
    text = "\n".join([join_sentences(describe_suspect_gauge(batch, one)), *checks[:MOST_SHOWN], *more, *lies])
    fields = [FieldSpec("why", "What was done", hint="measured again, held …", needed=True)]

    def draw(given: Values) -> list[Places]:
        now = screen.session.batch(batch_id)
        loads = find_measured_with(now, one)
        return list_drawn(*(_lay_out(now, now.loads[number], pieces) for number, pieces in loads.items()))

    screen.ask_and_give(
        batch_id,
        "Decide (lead)",
        fields,
        lambda given: SettleSuspectGauge(report, given["why"]),
        lambda _: screen.say("Decided"),
        text,
        drawing=Drawing(draw),
    )


def _lay_out(batch: Batch, load: Load, measured: list[int]) -> Places | None:
    return lay_out_load(batch, load, measured, title=batch.format_carrier(load), marks="measured with it")


def _say_places(batch: Batch, now_on: dict[int, list[int]]) -> str:
    """``Pallet 1 (A1 B2), Pallet 2 (A1)``."""
    loads = [(batch.loads[number], pieces) for number, pieces in now_on.items()]
    return ", ".join(f"{batch.format_carrier(load)} ({format_pieces(batch, load, pieces)})" for load, pieces in loads)
