"""When the shop works, with how many operators and which keys: ``shop.toml`` in the shop's folder.

Without the file: one operator, Monday to Friday 07:00 to 15:30, break 11:30 to 12:00, in the machine's time zone.
Every field is optional too::

    hands = 2                       # operators on each shift that does not say its own number
    zone = "Europe/Vienna"          # IANA name of the time zone
    days_off = [2026-12-25]         # no shift starts on these days
    fill_level = 0.9                # Floor speaks when P(order filled) falls below this
    sign_out_minutes = 30           # minutes without a key until sign-out; 0: never
    long_shift_hours = 10           # after so many at work a handover is written in full; 0: never
    handover_questions = ["Chip bin?"]  # answered before each offer, on the page; they add to what Floor asks
    pin_for_everyone = false        # true: nobody signs in without a PIN; who has none chooses it then
    half_life_days = 365            # an earlier batch counts half for the next plan after so many days
    registered_gauges_only = false  # true, or unreadable: no check takes a gauge not in the register
    approved_checklists_only = false  # true: nobody opens a batch from one that no lead approved
    scrap_place = "red bin"         # where marked scrap lies; left out, no place is recorded
    print = "lp -d office"          # command that prints a paper from its standard input
    print_tags = "lp -d label"      # likewise a tag, as a PNG picture; left out, as `print`

    [[shifts]]                      # as many as there are; without any, the shift above
    days = ["Mon", "Tue", "Wed", "Thu", "Fri"]
    start = "06:00"
    end = "14:00"                   # at or before the start: on the next day
    breaks = [["09:00", "09:15"], ["12:00", "12:30"]]
    people = 1                      # instead of hands

    [[shifts]]                      # a shift on single days, be they off or not; the weekly ones stay
    dates = [2026-12-05]
    start = "07:00"
    end = "12:00"

    [costs]                         # for the cost of a batch, all in one currency
    currency = "EUR"
    labor_hour = 38.0
    stations = { mill = 45.0 }      # id of a station: price of an hour
    tools = { "mill 1" = 32.0 }     # station and tool number: price of the tool
    materials = { "Acetone" = 9.5 } # what a consumable is called: price of one of its unit

    [keys]                          # other keys than the usual ones, by their names
    letters = "alt"                 # no key is a single letter: Alt goes with each
    skip = "f9"
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import field
from datetime import tzinfo
from pathlib import Path
from typing import TYPE_CHECKING

from floor.dataclass import dataclass

if TYPE_CHECKING:  # at start the program needs only the keys, and most shops have none
    from floor.batch.quality.costs import CostRates
    from floor.figures.calendar import Calendar

FILE = "shop.toml"
FILL_LEVEL = 0.9
"""Default P(order filled) below which Floor warns (shop decision)."""

SIGN_OUT_MINUTES = 30
"""Minutes without a key after which a terminal no longer works in the name of who left it (shop decision)."""

MOST_QUESTIONS = 5
"""A shop's own questions at each handover: more would be answered without a thought (shop decision)."""
LONGEST_QUESTION = 48
"""Characters: it stands in one line beside its answer (shop decision)."""

MOST_BYTES = 100_000
"""No settings come near this size; a larger file is something else."""
MEND = "Fix it or move it away."


class SettingsError(ValueError):
    """The shop's settings cannot be read: which file, where, what is wrong and what is right."""

    def __init__(self, file: Path, faults: Sequence[str], mend: str = MEND) -> None:
        """Say it.

        Args:
            faults: each with its place, as far as that is known.
            mend: what to do about all of them.
        """
        super().__init__(f"{file}: {'; '.join(faults)}. {mend}")
        self.file, self.faults, self.mend = file, tuple(faults), mend


def _find_usual_half_life() -> float:
    from floor.figures.earlier_yields import HALF_LIFE_DAYS  # opening the shop plans nothing

    return HALF_LIFE_DAYS


@dataclass(frozen=True, slots=True)
class Settings:
    """The shop's settings for planning, printing and keys."""

    calendar: Calendar
    hands: int = 1
    fill_level: float = FILL_LEVEL
    sign_out_minutes: int = SIGN_OUT_MINUTES
    pin_for_everyone: bool = False
    registered_gauges_only: bool = False
    long_shift_hours: float = 0.0
    handover_questions: tuple[str, ...] = ()
    half_life_days: float = field(default_factory=_find_usual_half_life)
    approved_checklists_only: bool = False
    scrap_place: str = ""
    print: tuple[str, ...] = ()
    """Program and arguments that print a paper; empty if the shop names none."""
    print_tags: tuple[str, ...] = ()
    """The same for a tag: `print` if the shop names no other."""
    keys: Mapping[str, str] = field(default_factory=dict)
    """Name of a key in the program → key to use."""
    costs: CostRates | None = None
    """What the shop pays, for the cost of a batch."""


def find_zone(name: str) -> tzinfo:
    """The rules of a zone by its IANA name. Raises `ValueError` if there is none of that name."""
    from zoneinfo import ZoneInfo

    try:
        return ZoneInfo(name)
    except (LookupError, ValueError, OSError):
        raise ValueError(f'"{name[:40]}" is not a time zone; write its IANA name, like "Europe/Vienna"') from None
