"""Modal groups of G- and M-codes: a block may have only one word of each (NIST IR 6556, as quoted).

Codes are integers, ten times as written: G54.1 is 541, as 54.1 has no exact binary value.
"""

from __future__ import annotations

from collections.abc import Iterable

G_GROUPS: dict[str, tuple[int, ...]] = {
    "one-shot": (40, 100, 280, 300, 520, 530, 920, 921, 922, 923),
    "motion": (
        0, 10, 20, 30, 330, 331, 382, 383, 384, 385, 730, 740, 760, 810, 820, 830, 840, 850, 860, 870, 880, 890,
    ),
    "plane": (170, 180, 190),
    "distance": (900, 910),
    "arc distance": (901, 911),
    "feed mode": (930, 940, 950),
    "units": (200, 210),
    "cutter radius": (400, 410, 411, 420, 421),
    "tool length": (430, 431, 440, 490),
    "retract": (980, 990),
    "work offset": (540, 541, 550, 560, 570, 580, 590, 591, 592, 593),
    "path": (610, 611, 640),
    "spindle mode": (960, 970),
}  # fmt: skip
"""Name of a group → its codes. Canned cycles are with the moves; some controls give them their own group, so G80 may
be beside a move."""

M_GROUPS: dict[str, tuple[int, ...]] = {
    "stop": (0, 10, 20, 300, 600),
    "tool change": (60,),
    "spindle": (30, 40, 50, 190),
    "overrides": (480, 490),
}
"""The same for M-codes; M7 and M8 may be together, but not with M9."""

_G_GROUP = {code: name for name, codes in G_GROUPS.items() for code in codes}
_M_GROUP = {code: name for name, codes in M_GROUPS.items() for code in codes}


def find_clashes(letter: str, codes: Iterable[int]) -> list[tuple[int, int]]:
    """Pairs of codes of one group in a block, each with the one before it; also a code given twice."""
    group_of = _G_GROUP if letter == "G" else _M_GROUP
    seen: dict[str, int] = {}
    found = []
    for code in codes:
        group = group_of.get(code, "")
        if group in seen:
            found.append((seen[group], code))
        if group:
            seen[group] = code
    given = set(codes)
    if letter == "M" and 90 in given and given & {70, 80}:
        found.append((min(given & {70, 80}), 90))
    return found


def format_code(letter: str, code: int) -> str:
    """``G54.1`` of 541, ``M8`` of 80."""
    return f"{letter}{code // 10}" + (f".{code % 10}" if code % 10 else "")
