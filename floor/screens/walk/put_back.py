"""Putting back a run that was only started."""

from __future__ import annotations

from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.walk.put_back import PutBack, count_lines_to_redo, refuse_put_back
from floor.entry import Moment
from floor.screens.forms.dialogs import ConfirmDialog
from floor.screens.frame.screen import FloorScreen
from floor.screens.frame.take_back import list_last_act, take_back
from floor.text import format_count


def is_only_begun(batch: Batch, run: Run, now: Moment) -> bool:
    """Whether it goes back without anything to be done again."""
    return not count_lines_to_redo(run) and refuse_put_back(batch, run, now) is None


def take_back_or_put_back(screen: FloorScreen, batch_id: str, run: Run) -> None:
    """The last act of a minute ago; else the run, where nothing of it has started yet."""
    batch, now = screen.session.batch(batch_id), screen.session.now()
    if not is_only_begun(batch, run, now) and list_last_act(batch, screen.session.who, now):
        take_back(screen, batch_id)
    else:
        ask_put_back(screen, batch_id, run)


def ask_put_back(screen: FloorScreen, batch_id: str, run: Run) -> None:
    """One key; where lines of the walk fall with it, that is asked first.

    What has started is refused with what to do.
    """
    batch = screen.session.batch(batch_id)
    name, station = batch.format_load(run.load), batch.checklist.station(run.station).name
    done = f"{name} is put back: {station} is free, the load is where it was"

    def give() -> None:
        screen.give(batch_id, PutBack(run.number), lambda _: screen.floor.take_away(screen, done, wrong=False))

    lost = count_lines_to_redo(run)
    if not lost or refuse_put_back(batch, run, screen.session.now()) is not None:
        give()
        return
    question = f"Put {name} back from op {run.op}? {format_count(lost, 'line')} of its walk will have to be done again."
    screen.ask(ConfirmDialog(question), lambda yes: give() if yes else None)
