"""Asking a lead about checks that a suspect gauge was used for."""

from __future__ import annotations

from floor.batch.describe import describe
from floor.batch.gates.suspect_gauges import SettleSuspectGauge, describe_suspect_gauge
from floor.batch.open_items import SuspectGauge
from floor.batch.state import Batch
from floor.screens.forms.fields import FieldSpec
from floor.screens.frame.screen import FloorScreen
from floor.text import join_sentences

MOST_SHOWN = 6
"""Checks named in the form; history has them all (y, then the serial number as text)."""


def decide_suspect_gauge(screen: FloorScreen, batch_id: str, report: int) -> None:
    """What was measured with it is shown; a lead holds or scraps what has to be, then says here what was done."""
    batch = screen.session.batch(batch_id)
    one = batch.suspect_gauges[report]
    checks = _list_checks(batch, one)
    more = [f"and {len(checks) - MOST_SHOWN} more: y, then t {one.serial}"] if len(checks) > MOST_SHOWN else []
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


def _list_checks(batch: Batch, one: SuspectGauge) -> list[str]:
    """``op 10, load 3: Measure groove depth: 3 mm …``: each check that was not struck out."""
    found = []
    for entry in (batch.entries[seq - 1] for seq in one.checks if seq not in batch.struck):
        run = batch.runs.get(entry.body.get("run", 0))
        where = f"op {run.op}, load {run.load}: " if run is not None else ""
        found.append(f"{where}{describe(batch, entry)}")
    return found
