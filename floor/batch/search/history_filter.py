"""The history for people: which entries are shown, and what each is about."""

from __future__ import annotations

from datetime import datetime
from typing import get_args

from floor.batch.events import KINDS, Group, read_run_numbers
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.dataclass import dataclass
from floor.entry import Entry
from floor.wall import WHEN, format_local

GROUPS: dict[Group, tuple[str, ...]] = {
    group: tuple(kind for kind, event in KINDS.items() if group == event.GROUP)
    for group in get_args(Group)
    if group != "shop"
}
"""The kinds of entries of a batch, as a person looks for them."""


@dataclass(frozen=True, slots=True)
class Filter:
    """Search criteria; an empty field matches everything."""

    load: int | None = None
    op: int | None = None
    by: str = ""
    group: Group | None = None
    says: str = ""
    """Text found in the entry, ignoring case."""
    kinds: tuple[str, ...] = ()
    station: str = ""
    """Its id or its name."""
    since: datetime | None = None
    """Entered then or later."""
    until: datetime | None = None
    """Entered before this."""
    words: str = ""
    """Text found in what a person typed or chose."""
    struck: bool | None = None
    carrier: str = ""
    """The carrier of its load, as shown: ``Pallet 1``."""

    def said(self) -> str:
        """The filter in words; empty if it matches everything."""
        parts = [f"load {self.load}"] if self.load is not None else []
        parts += [f"on {self.carrier}"] if self.carrier else []
        parts += [f"op {self.op}"] if self.op is not None else []
        parts += [f"at {self.station}"] if self.station else []
        parts += [f"by {self.by}"] if self.by else []
        parts += [self.group] if self.group else []
        parts += [_kinds_said(self.kinds)] if self.kinds else []
        parts += [f"since {format_local(self.since, WHEN)}"] if self.since is not None else []
        parts += [f"before {format_local(self.until, WHEN)}"] if self.until is not None else []
        parts += [f'"{text}"' for text in (self.says, self.words) if text]
        parts += ["struck out" if self.struck else "not struck out"] if self.struck is not None else []
        return ", ".join(parts)


def _kinds_said(kinds: tuple[str, ...]) -> str:
    """``counted or set aside``, ``gates``; of many only the first ones."""
    groups = [group for group, those in GROUPS.items() if set(those) <= set(kinds)]
    whole = {kind for group in groups for kind in GROUPS[group]}
    names = [*groups, *(kind.replace("_", " ") for kind in kinds if kind not in whole)]
    if len(names) > 4:
        names = [*names[:3], f"{len(names) - 3} other kinds"]
    return " or ".join(names)


def find_run_of_entry(batch: Batch, entry: Entry) -> Run | None:
    """The run that an entry is about; None if none."""
    return batch.runs.get(next(iter(read_run_numbers(entry.body)), 0))


def find_load_and_op(batch: Batch, entry: Entry) -> tuple[int | None, int | None]:
    """The load and operation that an entry is about; None for either if it has none."""
    run = find_run_of_entry(batch, entry)
    load = run.load if run else entry.body.get("load")
    op = run.op if run else entry.body.get("op")
    return load or None, op or None


def list_entry_pieces(batch: Batch, entry: Entry) -> tuple[int, ...]:
    """The pieces that an entry names; empty if it names none."""
    body = entry.body
    if "slots" in body:
        return tuple(piece for piece in body["slots"] if piece is not None)
    if "pieces" in body:
        return tuple(body["pieces"])
    run = find_run_of_entry(batch, entry)
    return run.pieces if run else ()
