"""What checklists/README.md tells: its example is right, no field of a newcomer is left out, none is told twice."""

from __future__ import annotations

import dataclasses
import re
from collections import Counter, defaultdict
from pathlib import Path

from floor.checklist.control_settings import RAPID, TOOL_CHANGE
from floor.checklist.equipment import Tool
from floor.checklist.field_types import read_defaults
from floor.checklist.gates import GATE_KINDS
from floor.checklist.loading import read_checklist
from floor.checklist.operation import ProgramLimits
from floor.evidence.nc.dialect import list_choices
from floor.evidence.nc.tools_against_card import ROUNDED

MOST_WORDS = 45
"""In a cell of a table; a longer text is read below it (shop decision)."""
README = (Path(__file__).parents[2] / "checklists" / "README.md").read_text(encoding="utf-8")


def test_the_readmes_part_in_one_page_has_no_problem() -> None:
    example = next(block.partition("```")[0] for block in README.split("```toml\n")[1:] if "format = 1" in block)
    loaded = read_checklist(example, "x.toml")
    assert (loaded.problems, loaded.warnings) == ((), ())


def test_the_readme_names_every_field_of_a_tool_and_of_program_limits_and_every_gate() -> None:
    fields = {field.name for kind in (Tool, ProgramLimits) for field in dataclasses.fields(kind)}
    assert {name for name in fields if f"`{name}`" not in README and f"\n{name} = " not in README} == set()
    assert {name for name in GATE_KINDS if f"`{name}`" not in README} == set()


def test_the_readme_says_where_each_gate_stands() -> None:
    named = defaultdict(list)
    for name, kind in GATE_KINDS.items():
        named[read_defaults(kind)["at"]].append(f"`{name}`")
    del named["load"]
    said = " ".join(README.split())
    assert "Left out, `at` is `load`; but" in said
    assert [phase for phase, names in named.items() if f"`{phase}` for {' and '.join(names)}" not in said] == []


def test_the_readme_names_every_setting_of_a_control_and_the_tolerance() -> None:
    part = README.partition("\n## Programs\n")[2]
    settings = {name.replace("_", "-") for name in list_choices()} | {RAPID, TOOL_CHANGE}
    assert {name for name in settings if f"`{name}`" not in part} == set()
    assert f"{ROUNDED * 100:g} % off the card" in part


def list_cells(text: str) -> list[list[str]]:
    """Rows of all tables."""
    rows = [line.strip("|").split(" | ") for line in text.splitlines() if line.startswith("|")]
    return [[cell.strip() for cell in row] for row in rows if not row[0].startswith(" ---")]


def test_no_field_is_told_twice() -> None:
    """`low` at an air check and at a soak are two fields; so are `per` at a gate and at a clock."""
    told = [(field, where) for names, where, *_ in list_cells(README) for field in re.findall(r"`(\w+)", names)]
    assert len(told) > 60
    assert [one for one, count in Counter(told).items() if count > 1] == []


def test_no_cell_is_longer_than_one_reads_at_a_glance() -> None:
    cells = [cell for row in list_cells(README) for cell in row]
    assert len(cells) > 150
    assert [cell for cell in cells if len(cell.split()) > MOST_WORDS] == []
