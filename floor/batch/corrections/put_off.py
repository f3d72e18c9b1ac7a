"""Work that was put off in a note: kept on the handover page, with owner and time, until it is marked done (CBP-45)."""

from __future__ import annotations

from datetime import datetime

from floor.batch.events import Noted, NoteDone, iter_events
from floor.batch.state import Batch
from floor.dataclass import dataclass
from floor.entry import parse_wall
from floor.text import format_clock


@dataclass(frozen=True, slots=True)
class PutOff:
    seq: int
    """The note."""
    text: str
    by: str
    owner: str = ""
    """Who is to do it; empty for whoever is there."""
    due: datetime | None = None

    def is_overdue(self, now: datetime) -> bool:
        return self.due is not None and self.due <= now

    def describe(self, now: datetime) -> str:
        """``OVERDUE since 14:00: order lacquer; BB (noted by AA)``."""
        parts = [self.text, self.owner]
        if self.due is not None and not self.is_overdue(now):
            parts.append(f"by {format_clock(self.due, now)}")
        late = f"OVERDUE since {format_clock(self.due, now)}: " if self.due and self.is_overdue(now) else ""
        return f"{late}{'; '.join(filter(None, parts))} (noted by {self.by})"


def list_put_off(batch: Batch) -> list[PutOff]:
    """What is still to be done, by its time, that without one last."""
    found: dict[int, PutOff] = {}
    for entry, event in iter_events(batch.entries, Noted, NoteDone):
        if entry.seq in batch.struck:
            continue
        match event:
            case NoteDone():
                found.pop(event.of, None)
            case Noted() if event.puts_off:
                due = parse_wall(event.due, entry.time) if event.due else None
                found[entry.seq] = PutOff(entry.seq, event.text, entry.by, event.owner, due)
    return sorted(found.values(), key=lambda one: (one.due is None, one.due.timestamp() if one.due else 0, one.seq))
