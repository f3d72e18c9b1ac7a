"""What a checklist must keep to beyond its shape: small pure functions, each with its findings.

A finding about one field stands at that field; one about several that disagree stands at the table they are in.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from floor.checklist.findings import Finding
from floor.checklist.model import Checklist
from floor.checklist.rules import (
    advised,
    clocks,
    complete,
    consumables,
    cutting,
    layout,
    limits,
    names,
    offsets,
    reworking,
    room,
    safety,
    turning,
    workholding,
)

Rule = Callable[[Checklist], Iterator[Finding]]

REFERENCES: tuple[Rule, ...] = (
    *names.RULES,
    *offsets.RULES,
    *reworking.RULES,
    *room.RULES,
    *turning.RULES,
    *clocks.RULES,
    *limits.RULES,
    *cutting.RULES,
    *layout.RULES,
    *consumables.RULES,
    *workholding.RULES,
)
"""Rules on what the file says: they hold whatever else is wrong in it."""

COMPLETE: tuple[Rule, ...] = (*complete.RULES, *turning.COMPLETE)
"""Rules on what the file does not say: they are asked only when all of it could be read."""

ADVISED: tuple[Rule, ...] = (
    *advised.RULES,
    *clocks.ADVISED,
    *offsets.ADVISED,
    *turning.ADVISED,
    *reworking.ADVISED,
    *safety.ADVISED,
)
"""Warnings, asked for as `COMPLETE` is: they do not keep the file from being used."""

RELIED_ON: tuple[Rule, ...] = (
    names.duplicate_names,
    names.route_order,
    names.operation_references,
    names.caution_references,
    names.tool_at_its_station,
    names.reasons_lead_somewhere,
    names.reworks_lead_somewhere,
    clocks.clock_starts,
    clocks.gates_wait_for_clocks,
    turning.what_stands_goes_on,
    *reworking.RELIED_ON,
)
"""What the rules of a batch take for granted, asked again of a frozen checklist that comes from elsewhere."""
