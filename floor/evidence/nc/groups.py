"""Modal groups of G- and M-codes: of one group only one word may stand in a block (NIST IR 6556, as quoted).

Codes are whole numbers, ten times what is written: G54.1 is 541, as 54.1 is no exact binary number.
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
"""Name of a group → its codes. Canned cycles stand with the moves; some controls have a group of their own for them, so
that G80 may stand beside a move."""

M_GROUPS: dict[str, tuple[int, ...]] = {
    "stop": (0, 10, 20, 300, 600),
    "tool change": (60,),
    "spindle": (30, 40, 50),
    "overrides": (480, 490),
}
"""The same of M-codes; M7, M8 and M9 may stand together but for M9 beside one of the others."""

_G_GROUP = {code: name for name, codes in G_GROUPS.items() for code in codes}
_M_GROUP = {code: name for name, codes in M_GROUPS.items() for code in codes}


def find_clashes(letter: str, codes: Iterable[int]) -> list[tuple[int, int]]:
    """Pairs of codes of one group in a block, each second one with the one before it; a code given twice too."""
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
