"""What the walk says of work by hand ahead: that it may not be interrupted, what is done before it is confirmed."""

from __future__ import annotations

from floor.batch.walk.lines import Walk, describe_do_confirm
from floor.screens.frame.session import Session


def describe_work_ahead(session: Session, batch_id: str, walked: Walk) -> str:
    said = (describe_uninterrupted(session, batch_id, walked), describe_do_confirm(walked))
    return "\n".join(filter(None, said))


def describe_uninterrupted(session: Session, batch_id: str, walked: Walk) -> str:
    """How long it takes and by when it must be started; empty where there is no such work, or it is started."""
    if not walked.operation.in_one_go:
        return ""
    from floor.planning.unbroken_work import find_unbroken_work

    now = session.now().at
    settings = session.planner.hours(session.shop, now)
    if settings is None:
        return ""  # what is wrong with the shop's hours, the plan says
    found = find_unbroken_work(session.batch(batch_id), walked, settings.calendar, now)
    return found.said(now) if found is not None else ""
