"""What a person who comes back to a run wants to know first."""

from __future__ import annotations

from datetime import timedelta

from floor.batch.describe import describe
from floor.batch.handover import blind
from floor.batch.said import sentences, span
from floor.batch.state import Batch, Run
from floor.batch.walk import walk
from floor.entry import Moment

AWAY = timedelta(minutes=15)
"""After a longer absence a run is taken up with a recap (shop decision)."""


def recap(batch: Batch, run: Run, now: Moment, by: str) -> str:
    """How long nobody was there, what came last, who worked meanwhile, what lapsed; empty after a short absence."""
    if run.touched is None or now.at - run.touched < AWAY or run.released:
        return ""
    mine = [entry for entry in batch.entries if entry.body.get("run") == run.number and entry.seq not in batch.struck]
    last = mine[-1].seq if mine else 0
    others = sorted({entry.by for entry in batch.entries if entry.seq > last} - {by})
    lapsed = [
        line.title
        for line in walk(batch, run, now, by).lines
        if line.kind == "gate" and not line.satisfied and line.verdict is not None and line.verdict.again
    ]
    parts = [f"Back after {span((now.at - run.touched).total_seconds())}"]
    if mine:
        paused = f", paused: {run.paused}" if run.paused else ""
        counts = mine[-1].kind == "counted" or mine[-1].body.get("gate") == "counted"
        hidden = counts and f"load {run.load}" in blind(batch)
        last_said = "counted" if hidden else describe(batch, mine[-1]).split(": ", 1)[-1]
        parts.append(f"Last: {last_said} ({mine[-1].by}){paused}")
    if others:
        parts.append(f"Meanwhile at work on this batch: {', '.join(others)}")
    if lapsed:
        parts.append(f"To be proved again: {', '.join(lapsed)}")
    return sentences(*parts)
