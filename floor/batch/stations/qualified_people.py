"""Who may work at a station that asks for training or a medical examination, as a spray booth may.

HSE, COSHH essentials MR2 (from memory): sprayers are trained and under health surveillance, and others are kept out.
"""

from __future__ import annotations

from floor.batch.command import Context, Refused
from floor.batch.qualification import describe_lack, is_qualified, list_qualified
from floor.batch.state import Batch


def refuse_unqualified(batch: Batch, station: str, context: Context) -> None:
    """Refuse who lacks what the station asks for. A lead decides by entering it into the register, on record."""
    wrong = describe_unqualified(batch, station, context)
    if wrong:
        asked = batch.checklist.station(station).qualified
        others = ", ".join(list_qualified(context.elsewhere.qualified, asked, context.now.at))
        remedy = f"{others} may do it" if others else "nobody in the register may do it"
        raise Refused("authority", wrong, f"{remedy}; or a lead enters the renewal (c on What next, people)")


def describe_unqualified(batch: Batch, station: str, context: Context) -> str:
    """What the person lacks who is signed in; empty where nothing is."""
    there = batch.checklist.station(station)
    known, who, now = context.elsewhere.qualified, context.by.initials, context.now.at
    lacks = [
        describe_lack(known, who, what, now) for what in there.qualified if not is_qualified(known, who, what, now)
    ]
    return f"{there.name}: {'; '.join(lacks)}" if lacks else ""
