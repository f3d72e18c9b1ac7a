"""The end of a program: where it leaves the tool, and what it leaves on for the next one."""

from __future__ import annotations

from floor.evidence.nc.modal_groups import format_code
from floor.evidence.nc.moves_in_work import check_retracted
from floor.evidence.nc.program_facts import Record
from floor.evidence.nc.state import State
from floor.evidence.nc.summary import Word

_TURNED_ON_BY = {"G69": "G68", "G50": "G51", "G15": "G16", "G50.1": "G51.1"}


def end_program(s: State, r: Record, name: str, line: int) -> None:
    """Record the end, a tool that is not clear of the work, and each mode that M30 does not cancel on every control."""
    r.end = Word(name, line)
    check_retracted(s, r, line, "low at end")
    if s.comp != 400:
        r.log.add("left on", line, format_code("G", s.comp), "G40")
    if s.cycle is not None:
        r.log.add("left on", line, format_code("G", s.cycle.code), "G80")
    for off in s.axes_changed:
        if off in _TURNED_ON_BY:
            r.log.add("left on", line, _TURNED_ON_BY[off], off)
    if any(s.shift):
        r.log.add("left on", line, "G52", "G52 X0 Y0 Z0")
