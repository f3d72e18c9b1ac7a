"""The JSON Schema agrees with what the models accept, and tells an editor what each field is for."""

import json
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from floor.checklist.gates import GATE_KINDS
from floor.checklist.loading import list_shipped_checklists
from floor.checklist.operation import Times
from floor.checklist.schema import build_schema, find_node, make_stand_in, make_validator

FILES = [*list_shipped_checklists(), Path(__file__).parent / "right.toml"]


def values(value: Any, path: tuple[str | int, ...] = ()) -> Iterator[tuple[tuple[str | int, ...], Any]]:
    yield path, value
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, one in inner:
        yield from values(one, (*path, key))


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_every_value_of_a_right_file_is_what_the_schema_says(file: Path) -> None:
    kinds = {"object": dict, "array": list, "string": str, "integer": int, "number": (int, float), "boolean": bool}
    data = json.loads(json.dumps(tomllib.loads(file.read_text()), default=str))

    for path, value in values(data):
        node = find_node(path, data)
        assert node, path
        if "enum" in node or "const" in node:
            assert value in node.get("enum", [node.get("const")]), path
            continue
        assert isinstance(value, kinds[node["type"]]), path
        if isinstance(value, str):
            assert len(value) <= node.get("maxLength", len(value)), path
            assert re.search(node.get("pattern", ""), value), path
        if isinstance(value, dict):
            assert set(node.get("required", ())) <= set(value), path


def test_all_tables_are_closed() -> None:
    """An editor underlines an unknown field."""
    for name, node in build_schema()["$defs"].items():
        assert node["additionalProperties"] is False, name


def test_it_is_draft_2020_12_and_plain_json() -> None:
    assert build_schema()["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert json.loads(json.dumps(build_schema())) == build_schema()


def test_tables_and_gates_are_described() -> None:
    tables = build_schema()["$defs"]

    assert [name for name, node in tables.items() if not node.get("description")] == []
    assert {node["properties"]["gate"]["const"] for node in tables.values() if "gate" in node["properties"]} == set(
        GATE_KINDS
    )
    assert tables["Clock"]["properties"]["per"]["description"].startswith("``batch``: one clock for the whole batch")
    assert tables["Probed"]["properties"]["waive"]["description"] == "Who may waive it."


@pytest.mark.parametrize(
    ("table", "fields"),
    [
        ("Times", list(Times.__dataclass_fields__)),
        ("Operation", ["cycle", "expected_yield"]),
        ("Reason", ["to", "needs_note"]),
        ("Do", ["at", "skip"]),
        ("FirstPiece", ["at", "waive", "independent", "self_after"]),
        ("Measured", ["per"]),
        ("Signed", ["per"]),
        ("LotRecorded", ["per"]),
        ("Confirmed", ["per"]),
    ],
)
def test_what_shipped_checklists_use_is_told_by_the_schema_and_by_readme(table: str, fields: list[str]) -> None:
    readme = (Path(__file__).parents[2] / "checklists" / "README.md").read_text(encoding="utf-8")
    for field in fields:
        assert build_schema()["$defs"][table]["properties"][field].get("description"), field
        assert re.search(rf"`{field}( = [a-z]+)?`", readme), field


@pytest.mark.parametrize("kind", [*GATE_KINDS, None])
def test_a_stand_in_is_accepted_wherever_one_is_put(kind: str | None) -> None:
    text = (Path(__file__).parent / "right.toml").read_text()
    data = json.loads(json.dumps(tomllib.loads(text), default=str))
    step = {"gate": kind} if kind else {}
    data["operations"][0]["steps"] = [step]
    data["operations"][0]["steps"] = [make_stand_in(find_node(("operations", 0, "steps", 0), data))]
    for table in ("part", "blank", "stations", "carriers"):
        data[table] = make_stand_in(find_node((table,), data))

    assert make_validator().validate_json(json.dumps(data)).operations[0].steps
