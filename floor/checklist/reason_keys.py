"""The key of each reason: one for the whole batch, so that a hand need not learn it again at every operation."""

from __future__ import annotations

import string

from floor.checklist.model import Checklist

KEYS = "12345678" + string.ascii_lowercase
"""Digits first: the numeric keypad marks a whole load. 0 takes a mark away."""
OTHER = "9"
"""Wherever a reason has to be put in words."""


def assign_reason_keys(checklist: Checklist) -> dict[str, str]:
    """Reason code → its key: the first that no reason has which stands beside it at some operation.

    One that finds them all used up has none and is marked by its place.
    """
    beside: dict[str, set[str]] = {}
    worded: set[str] = set()
    for operation in checklist.operations:
        codes = [reason.code for reason in operation.reasons]
        worded |= {reason.code for reason in operation.reasons if reason.needs_note}
        for code in codes:
            beside.setdefault(code, set()).update(codes)
    keys: dict[str, str] = {}
    for code, others in beside.items():
        taken = {keys[other] for other in others if other in keys}
        possible = [OTHER, *KEYS] if code in worded else KEYS
        free = next((key for key in possible if key not in taken), None)
        if free is not None:
            keys[code] = free
    return keys
