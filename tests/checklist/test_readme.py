"""What the README says of a checklist: its example is right, and no field that a newcomer needs is left out."""

from __future__ import annotations

import dataclasses
from collections import defaultdict
from pathlib import Path

from floor.checklist.control_settings import RAPID, TOOL_CHANGE
from floor.checklist.equipment import Tool
from floor.checklist.field_types import read_defaults
from floor.checklist.gates import GATE_KINDS
from floor.checklist.loading import read_checklist
from floor.checklist.operation import ProgramLimits
from floor.evidence.nc.dialect import list_choices
from floor.evidence.nc.tools_against_card import ROUNDED

README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")


def test_the_readmes_part_in_one_page_has_no_problem() -> None:
    example = next(block.partition("```")[0] for block in README.split("```toml\n")[1:] if "format = 1" in block)
    loaded = read_checklist(example, "x.toml")
    assert (loaded.problems, loaded.warnings) == ((), ())


def test_the_readme_names_every_field_of_a_tool_and_of_program_limits_and_every_gate() -> None:
    part = README.partition("## A new part")[2].partition("\n## ")[0]
    fields = {field.name for kind in (Tool, ProgramLimits) for field in dataclasses.fields(kind)}
    assert {name for name in fields if f"`{name}`" not in part and f"\n{name} = " not in part} == set()
    assert {name for name in GATE_KINDS if f"`{name}`" not in part} == set()


def test_the_readme_says_where_each_gate_stands() -> None:
    named = defaultdict(list)
    for name, kind in GATE_KINDS.items():
        named[read_defaults(kind)["at"]].append(f"`{name}`")
    del named["load"]
    said = " ".join(README.split())
    assert "Left out, `at` is `load`; but" in said
    assert [phase for phase, names in named.items() if f"`{phase}` for {' and '.join(names)}" not in said] == []


def test_the_readme_names_every_setting_of_a_control_and_the_tolerance() -> None:
    part = README.partition("### Tools and programs")[2].partition("\n## ")[0]
    settings = {name.replace("_", "-") for name in list_choices()} | {RAPID, TOOL_CHANGE}
    assert {name for name in settings if f"`{name}`" not in part} == set()
    assert f"{ROUNDED * 100:g} % off the card" in part
