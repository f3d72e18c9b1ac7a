"""Opening a task of What next: the walk, the carrier to load, the decision to take. It records nothing by itself."""

from __future__ import annotations

from collections.abc import Callable

from floor.batch.lifecycle.commands import FormLoad
from floor.batch.worklist.due_task import Destination, DueTask
from floor.entry import Entry
from floor.screens.frame.screen import FloorScreen


def open_task(screen: FloorScreen, due: DueTask, loaded: Callable[[str, list[Entry]], None]) -> None:
    """Open a task from a screen.

    Args:
        loaded: called with the batch and the entries once a carrier was loaded.
    """
    if due.entry is not None:
        _decide(screen, due.batch, due.go, due.entry)
    elif due.go == "run" and due.run is not None:
        screen.floor.go_walk(due.batch, due.run)
    elif due.go == "begin" and due.load is not None:
        _begin(screen, due.batch, due.load)
    elif due.go == "form" and due.op is not None:
        from floor.screens.batch.load_pieces import ask_load

        command = FormLoad(due.op, due.rework, count=due.loading.pieces if due.loading else None)
        ask_load(screen, due.batch, command, lambda entries: loaded(due.batch, entries))
    elif due.go == "close":
        _close(screen, due.batch)
    else:
        _open(screen, due.batch, due.go)


def _decide(screen: FloorScreen, batch: str, what: Destination, entry: int) -> None:
    """What somebody decides about an entry."""
    if what == "unproved":
        from floor.screens.batch.unproved import decide_unproved

        decide_unproved(screen, batch, entry)
    elif what == "out":
        from floor.screens.walk.out_of_limits import decide_out_of_limits

        decide_out_of_limits(screen, batch, entry)
    elif what == "gauge":
        from floor.screens.batch.suspect_gauge import decide_suspect_gauge

        decide_suspect_gauge(screen, batch, entry)


def _open(screen: FloorScreen, batch: str, what: Destination) -> None:
    """What somebody looks into or decides about a batch."""
    if what == "hold":
        from floor.screens.batch.hold import HoldScreen

        screen.floor.go(HoldScreen(screen.session, batch))
    elif what in ("handover", "difference"):
        from floor.screens.handover.screen import HandoverScreen

        screen.floor.go(HandoverScreen(screen.session, batch))
    elif what == "surplus":
        from floor.screens.batch.surplus import decide_surplus

        decide_surplus(screen, batch)
    elif what == "settle":
        screen.floor.go_batch(batch)


def _close(screen: FloorScreen, id: str) -> None:
    from floor.screens.batch.closing import close_batch

    close_batch(screen, id, screen.say)


def _begin(screen: FloorScreen, batch: str, load: int) -> None:
    """Look at the load's next run, and begin it there."""
    from floor.screens.walk.begin_run import BeginScreen

    if screen.session.batch(batch).handover is not None:  # only by a stated exception
        screen.floor.go_batch(batch)
    else:
        screen.floor.go(BeginScreen(screen.session, batch, load))
