"""Asking a lead about checks that a suspect gauge was used for."""

from __future__ import annotations

from floor.batch.describe import describe
from floor.batch.gates.suspect_gauges import SettleSuspectGauge, describe_suspect_gauge
from floor.screens.forms.fields import FieldSpec
from floor.screens.frame.screen import FloorScreen
from floor.text import join_sentences

MOST_SHOWN = 5
"""Checks named in the form; the history has them all."""


def decide_suspect_gauge(screen: FloorScreen, batch_id: str, report: int) -> None:
    """What was measured with it is shown; a lead holds or scraps what has to be, then says here what was done."""
    batch = screen.session.batch(batch_id)
    one = batch.suspect_gauges[report]
    checks = [describe(batch, batch.entries[seq - 1]) for seq in one.checks if seq not in batch.struck]
    over = len(checks) - MOST_SHOWN
    more = [f"and {over} more: History (j), / and the words {one.serial}"] if over > 0 else []
    text = "\n".join([join_sentences(describe_suspect_gauge(batch, one)), *checks[:MOST_SHOWN], *more])
    fields = [FieldSpec("why", "What was done", hint="measured again, held …", needed=True)]
    screen.ask_and_give(
        batch_id,
        "Decide (lead)",
        fields,
        lambda given: SettleSuspectGauge(report, given["why"]),
        lambda _: screen.say("Decided"),
        text,
    )
