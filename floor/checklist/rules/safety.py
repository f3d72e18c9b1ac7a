"""Warnings if a checklist allows bypassing a safety check."""

from __future__ import annotations

from collections.abc import Iterator

from floor.checklist.findings import Finding
from floor.checklist.model import Checklist
from floor.checklist.operation import Do
from floor.checklist.rules.names import iterate_steps

GRAVE = ("DANGER", "WARNING")
"""Signal words for hazards that can kill or seriously injure (ANSI Z535.4)."""


def check_safety_steps(checklist: Checklist) -> Iterator[Finding]:
    for path, _, step in iterate_steps(checklist):
        if not isinstance(step, Do) or not step.skip:
            continue
        words = {checklist.cautions[name].word for name in step.cautions if name in checklist.cautions}
        for word in [word for word in GRAVE if word in words][:1]:
            right = "write `skip = false`, or move the caution to the step that it is about"
            yield Finding(path, f"a step under a {word} may be skipped with a reason", right)


ADVISED = (check_safety_steps,)
