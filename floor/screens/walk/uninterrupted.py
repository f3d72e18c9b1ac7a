"""What the walk says of work by hand that may not be interrupted, before it is begun."""

from __future__ import annotations

from floor.batch.walk.lines import Walk
from floor.screens.frame.session import Desk


def one_go_said(desk: Desk, batch_id: str, walked: Walk) -> str:
    """How long it takes and by when it must be begun; empty where there is no such work, or it is begun."""
    if not walked.operation.in_one_go:
        return ""
    from floor.planning.uninterrupted import one_go

    now = desk.now().at
    settings = desk.planner.hours(desk.shop, now)
    if settings is None:
        return ""  # what is wrong with the shop's hours, the plan says
    found = one_go(desk.batch(batch_id), walked, settings.calendar, now)
    return found.said(now) if found is not None else ""
