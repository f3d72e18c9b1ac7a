"""What can be wrong with an entry in the chain."""

from __future__ import annotations

from typing import Literal

from floor.dataclass import dataclass

FaultKind = Literal["altered", "removed", "inserted", "reordered", "cut off", "unreadable"]


@dataclass(frozen=True, slots=True)
class ChainFault:
    """The first entry that differs from what was written."""

    kind: FaultKind
    seq: int
    """Number of that entry, or of the missing one if one was removed."""
    sentence: str
