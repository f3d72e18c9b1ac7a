"""Taking the last act back: one key, for a minute, on the record."""

from __future__ import annotations

from datetime import timedelta

from floor.batch.command import Refused
from floor.batch.corrections.commands import StrikeOut
from floor.batch.describe import describe
from floor.batch.events import StruckOut
from floor.batch.state import Batch
from floor.entry import Entry, Moment
from floor.ledger import LedgerError
from floor.screens.frame.screen import FloorScreen
from floor.text import cut

RECENT = timedelta(minutes=1)
"""For so long one key takes back what one just entered (shop decision)."""
WHY = "taken back at once"
NOTHING = "Nothing of yours from the last minute. Older: j on the batch, select it, Del"
LINES = 2
"""That the answer takes: enough to tell which entry it was."""


def list_last_act(batch: Batch, who: str, now: Moment) -> list[Entry]:
    """The entries of the last act on a batch, the latest first, if this person made it within a minute.

    What they took back since does not count: the key pressed again takes back the act before.
    """
    act: list[Entry] = []
    for entry in reversed(batch.entries):
        if entry.seq in batch.struck or _takes_back(entry, who):
            continue
        if entry.by != who or not timedelta() <= now.at - entry.time <= RECENT or (act and entry.at != act[0].at):
            break
        act.append(entry)
    return [] if any(entry.kind == StruckOut.KIND for entry in act) else act


def _takes_back(entry: Entry, who: str) -> bool:
    """Whether an entry is this person's taking back of an earlier act."""
    return entry.kind == StruckOut.KIND and entry.by == who and entry.body["reason"] == WHY


def take_back(screen: FloorScreen, batch_id: str) -> None:
    """Strike out what was entered last; what cannot be is refused with what to do."""
    batch = screen.session.batch(batch_id)
    acts = list_last_act(batch, screen.session.who, screen.session.now())
    if not acts:
        screen.say(NOTHING, wrong=True)
        return
    said = describe(batch, acts[-1])
    try:
        for entry in acts:
            screen.session.do(batch_id, StrikeOut(entry.seq, WHY))
    except Refused as refused:
        screen.say_refused(refused)
    except LedgerError as error:
        screen.floor.trouble(str(error))
    else:
        screen.say(cut(f"Taken back: {said}", LINES * (screen.size.width - 4)))
    screen.update_all()
