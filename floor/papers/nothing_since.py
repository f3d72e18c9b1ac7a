"""What stands in place of figures where nothing was entered since the time asked for."""

from __future__ import annotations

from datetime import datetime

from floor.batch.describe import describe
from floor.batch.state import Batch
from floor.wall import WHEN, format_local


def say_nothing_since(batch: Batch, since: datetime | None) -> str:
    """``Nothing since 2026-03-05 00:00: ...`` with the last entry; empty where something was entered then or later."""
    last = batch.entries[-1]
    if since is None or since <= last.time:
        return ""
    said = f"{describe(batch, last)} ({last.by} {format_local(last.time, WHEN)})"
    return f"Nothing since {format_local(since, WHEN)}: the last entry of {batch.id} is {said}. Ask for an earlier time"
