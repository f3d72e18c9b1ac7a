"""What a form asks for: each field by a description, what was typed there, and what is wrong with it, in words."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from floor.batch.command import Refused
from floor.dataclass import dataclass
from floor.ledger import LedgerError
from floor.text import LONGEST_TEXT, format_count, join_sentences

Values = Mapping[str, str]
"""What was typed, by the names of the fields."""
Errors = Mapping[str, str]
"""What is wrong, by the names of the fields; under the empty name what concerns no single one."""


@dataclass(frozen=True, slots=True)
class FieldSpec:
    """One field of a form."""

    name: str
    """Unique in a dialog; several fields of a panel may ask for the same value of several pieces."""
    label: str
    value: str = ""
    hint: str = ""
    secret: bool = False
    picks: tuple[str, ...] = ()
    """Phrases offered before typing: F2, F3 … put one in."""
    needed: bool = False
    """Whether Enter goes no further while it is empty."""
    number: bool = False
    """Whether it takes a number and no letters but those of its unit: a scanned lot would pass as a reading."""
    unit: str = ""
    """The unit of the number, which may be typed behind it."""
    kept: bool = False
    """Whether what stands in it is right already: the cursor does not begin there."""
    known: bool = False
    """Whether it can be nothing else: Enter passes it by, unless something else was typed or is wrong."""
    identity: bool = False
    """Whether it says what the other values are of: where it is wrong, they are gone over too."""
    tool_at: str = ""
    """The station whose tool's number it asks for: the tool's tag may be scanned, and no other one's."""
    beside: Callable[[str], str] | None = None
    """What stands beside it of what is typed in it; without, its hint."""
    check: Callable[[str], str] | None = None
    """What is wrong with a text, empty where nothing is; asked before anything is carried out."""
    longest: int = LONGEST_TEXT
    """Characters that are kept."""

    def find_fault(self, typed: str) -> str:
        """What is wrong with a text that no rule has to be asked about; empty where nothing is."""
        over = len(typed) - self.longest
        if self.needed and not typed.strip():
            return f"{self.label}: may not stay empty"
        if over > 0:
            too_many = format_count(over, "character")
            return f"{self.label}: {too_many} more than the {self.longest} that are kept. Shorten it."
        return self.check(typed) if self.check is not None else ""

    def say_beside(self, typed: str) -> str:
        """What stands beside it while that is typed."""
        return self.hint if self.beside is None else self.beside(typed)


def describe_refusal(refused: Refused, in_dialog: bool = False) -> str:
    """What is refused, and where another person may do it the key by which they come: only a signature has a field."""
    key = f"Ctrl+L: {refused.signs} signs in" if refused.signs and not refused.field else ""
    return join_sentences(str(refused), f"Esc, then {key}" if key and in_dialog else key) if key else str(refused)


def collect_errors(attempt: Callable[[Values], Errors], values: Values, blamed: str = "") -> Errors:
    """The errors of an attempt, and its refusal at the field that it names.

    Args:
        blamed: the field that a refusal is about which names none of them; a form of one field needs none.
    """
    try:
        return attempt(values)
    except Refused as refused:
        only = next(iter(values)) if len(values) == 1 else blamed
        return {refused.field if refused.field in values else only: describe_refusal(refused, in_dialog=True)}
    except LedgerError as error:
        return {"": str(error)}


def parse_number(text: str) -> int | str:
    """The number that was typed, or what was typed instead."""
    text = text.strip()
    return int(text) if text.isdecimal() else text or "empty"
