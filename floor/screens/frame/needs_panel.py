"""Below a list, where there is room: what whoever goes to the load under the cursor has to bring, and beware of."""

from __future__ import annotations

from collections.abc import Iterator

from textual.content import Content

from floor.batch.gates.gauges import list_gauges_asked
from floor.batch.state import Batch
from floor.batch.walk.lines import Line, Walk
from floor.checklist.gates import Gate, LotRecorded, Measured, Probed
from floor.checklist.model import Caution
from floor.screens.frame.theme import SIGNAL_PANELS, draw_signal_panel
from floor.text import format_count, wrap_text

NAMES = 13
"""Columns of what a row is about."""


def draw_needs(batch: Batch, walked: Walk, unfit: str, width: int, height: int) -> Content | None:
    """Who, with what, and which hazards, of the lines that are still ahead; None where nothing is to be said.

    Args:
        unfit: what the person signed in lacks for the station.
        height: rows in all; where it is too low, hazards are named without what to do about them, the gravest first.
    """
    ahead = [line for line in walked.lines if not line.is_satisfied]
    facts = [*_list_people(batch, walked, ahead), *_list_things(batch, walked, ahead)]
    rows = [Content.assemble((row, "bold $error")) for row in wrap_text(unfit, "! ", width=width)] if unfit else []
    for name, said in facts:
        rows += [Content(row) for row in wrap_text(said, f"{name:<{NAMES}}", " " * NAMES, width=width)]
    rows += _draw_cautions(ahead, width, height - len(rows) - 1)
    if not rows:
        return None
    title = f"Have ready for {batch.format_carrier(batch.loads[walked.run.load])}, op {walked.operation.op}"
    return Content("\n").join([Content.assemble((title, "bold")), *rows][:height])


def _draw_cautions(ahead: list[Line], width: int, height: int) -> list[Content]:
    found: dict[Caution, None] = {caution: None for line in ahead for _, caution in line.cautions}
    panels = [list(draw_signal_panel(caution, width).split("\n")) for caution in sorted(found, key=_rank)]
    if sum(map(len, panels)) <= height:
        return [row for panel in panels for row in panel]
    named = [panel[0] for panel in panels]
    if len(named) <= height:
        return named
    shown = max(height - 1, 0)
    return [*named[:shown], Content(f"and {format_count(len(named) - shown, 'more caution')}: each stands at its step")]


def _rank(caution: Caution) -> int:
    return list(SIGNAL_PANELS).index(caution.word)


def _list_people(batch: Batch, walked: Walk, ahead: list[Line]) -> Iterator[tuple[str, str]]:
    """What whoever works there must be qualified for, and what a second person signs."""
    asked = batch.checklist.station(walked.run.station).qualified
    if asked:
        yield "qualified", ", ".join(asked)
    signed = [line.title for line in ahead if line.gate and any(ask.kind == "person" for ask in line.gate.asks())]
    if signed:
        yield "to be signed", "; ".join(signed)


def _list_things(batch: Batch, walked: Walk, ahead: list[Line]) -> Iterator[tuple[str, str]]:
    """Program, offset and tools of a cycle that is still to start; gauges and lots still asked for."""
    gates = [line.gate for line in ahead if line.gate is not None]
    starts = any(line.kind == "start" for line in ahead)
    named = [*(_list_set_up(batch, walked, gates) if starts else ()), *_list_asked(gates)]
    yield from ((name, said) for name, said in named if said)


def _list_set_up(batch: Batch, walked: Walk, gates: list[Gate]) -> Iterator[tuple[str, str]]:
    operation = walked.operation
    offsets = dict.fromkeys(gate.offset for gate in gates if isinstance(gate, Probed))
    tools = filter(None, map(batch.checklist.tool, operation.tool_numbers))
    yield "program", operation.program
    yield "work offset", ", ".join(offsets)
    yield "tools", "; ".join(f"T{tool.number} {tool.name}" for tool in tools)


def _list_asked(gates: list[Gate]) -> Iterator[tuple[str, str]]:
    gauges = [name for gate in gates if not isinstance(gate, LotRecorded) for _, name in list_gauges_asked(gate)]
    gauges += [gate.gauge for gate in gates if isinstance(gate, Measured)]
    yield "gauges", ", ".join(dict.fromkeys(filter(None, gauges)))
    yield "lot numbers", ", ".join(dict.fromkeys(gate.what for gate in gates if isinstance(gate, LotRecorded)))
