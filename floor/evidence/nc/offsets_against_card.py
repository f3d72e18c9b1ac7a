"""Compare the work offsets that a program moves in with those of the carriers that it is to work on."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from floor.evidence.nc.finding_kinds import Finding
from floor.evidence.nc.summary import Word


def find_offset_faults(used: Sequence[Word], carriers: Mapping[str, str], *, each: bool) -> Iterator[Finding]:
    """Where it would cut without a carrier there, or pass one by.

    Args:
        used: offsets with their first lines; "unknown" for one that depends on a switch.
        carriers: offset → the carrier that is there; empty is not checked.
        each: whether the program is to work on all of them.
    """
    if not carriers or not used:
        return
    for word in used:
        if word.text == "unknown":
            yield Finding("offset not known", word.line)
        elif word.text not in carriers:
            yield Finding("wrong offset", word.line, word.text, (", ".join(carriers),))
    called = {word.text for word in used}
    for offset, carrier in carriers.items() if each else ():
        if offset not in called:
            yield Finding("offset not called", 0, offset, (carrier,))
