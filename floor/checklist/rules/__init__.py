"""Rules for a checklist beyond its shape: small pure functions that return findings.

A finding about one field is placed at that field; one about several that disagree, at their table.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from floor.checklist.findings import Finding
from floor.checklist.model import Checklist
from floor.checklist.rules import (
    any_order,
    by_hand,
    clocks,
    complete,
    consumables,
    cutting,
    in_time,
    layout,
    limits,
    names,
    offsets,
    programs,
    reworking,
    safety,
    soaking,
    station_places,
    turning_over,
    warnings,
    workholding,
)

Rule = Callable[[Checklist], Iterator[Finding]]

REFERENCES: tuple[Rule, ...] = (
    *names.RULES,
    *offsets.RULES,
    *reworking.RULES,
    *station_places.RULES,
    *turning_over.RULES,
    *any_order.RULES,
    *by_hand.RULES,
    *clocks.RULES,
    *limits.RULES,
    *cutting.RULES,
    *programs.RULES,
    *soaking.RULES,
    *layout.RULES,
    *consumables.RULES,
    *workholding.RULES,
    *in_time.RULES,
    *safety.RULES,
)
"""Rules on what the file says; they apply whatever else is wrong in it."""

COMPLETE: tuple[Rule, ...] = (*complete.RULES, *turning_over.COMPLETE)
"""Rules on what the file leaves out; they run only if all of it could be read."""

ADVISED: tuple[Rule, ...] = (
    *warnings.RULES,
    *complete.ADVISED,
    *programs.ADVISED,
    *cutting.ADVISED,
    *clocks.ADVISED,
    *offsets.ADVISED,
    *turning_over.ADVISED,
    *reworking.ADVISED,
    *safety.ADVISED,
    *workholding.ADVISED,
    *by_hand.ADVISED,
)
"""Warnings, run like `COMPLETE`; the file can be used anyway."""

RELIED_ON: tuple[Rule, ...] = (
    names.check_duplicate_names,
    names.check_route_order,
    names.check_operation_references,
    names.check_caution_references,
    names.check_tool_station,
    names.check_reason_targets,
    names.check_rework_targets,
    clocks.check_clock_starts,
    clocks.check_cured_gates,
    clocks.check_cure_air,
    turning_over.check_stand_and_resume,
    *reworking.RELIED_ON,
    *soaking.RELIED_ON,
)
"""What the rules of a batch rely on, checked again for a frozen checklist from elsewhere."""
