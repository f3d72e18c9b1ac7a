"""The letter of each reason: one for the whole batch, so that a hand need not learn it again at every operation."""

from __future__ import annotations

import string

from floor.checklist.model import Checklist


def assign_reason_letters(checklist: Checklist) -> dict[str, str]:
    """Reason code → its letter: the first that no reason has which stands beside it at some operation.

    One that finds the alphabet used up has none and is marked by its place.
    """
    beside: dict[str, set[str]] = {}
    for operation in checklist.operations:
        codes = [reason.code for reason in operation.reasons]
        for code in codes:
            beside.setdefault(code, set()).update(codes)
    letters: dict[str, str] = {}
    for code, others in beside.items():
        taken = {letters[other] for other in others if other in letters}
        free = next((letter for letter in string.ascii_lowercase if letter not in taken), None)
        if free is not None:
            letters[code] = free
    return letters
