"""The JSON Schema of a checklist, for editors and for error messages.

Only `make_validator` imports pydantic: a program that reads no checklist file never pays for it.
"""

from __future__ import annotations

import ast
import inspect
from collections.abc import Iterator, Mapping
from functools import cache
from itertools import zip_longest
from typing import TYPE_CHECKING, Any

from floor.checklist import (
    check_gates,
    consumables,
    equipment,
    field_types,
    gate_base,
    model,
    operation,
    process_gates,
    setup_gates,
)
from floor.checklist.line_numbers import Path

if TYPE_CHECKING:
    from pydantic import TypeAdapter

Node = dict[str, Any]

PARTS = (gate_base, setup_gates, process_gates, check_gates, consumables, equipment, operation, model)
"""The modules that define the parts of a checklist."""

TAGS = ("gate", "by")
"""Fields that give the kind of a table."""

STAND_IN = "stand-in for wrong text"
"""A name no file uses, so the errors it causes can be told from those in the file."""


@cache
def make_validator() -> TypeAdapter[model.Checklist]:
    """The validator that makes a checklist from a file's data, or reports every error."""
    from pydantic import TypeAdapter

    return TypeAdapter(model.Checklist)


@cache
def build_schema() -> Node:
    """JSON Schema, draft 2020-12, of a checklist file (values with units are text)."""
    made = make_validator().json_schema()
    for name, node in made["$defs"].items():
        described = _field_docs(next(getattr(module, name) for module in PARTS if hasattr(module, name)))
        for field, says in described.items():
            if field in node["properties"]:
                node["properties"][field].setdefault("description", says)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **made,
        "title": "Checklist",
        "description": "The route of one part at one revision",
    }


def _field_docs(part: type) -> dict[str, str]:
    """The docstring of each field of a model and its bases."""
    found: dict[str, str] = {}
    for owner in part.__mro__:
        if owner.__module__ not in [module.__name__ for module in (field_types, *PARTS)]:
            continue
        body = ast.parse(inspect.getsource(owner)).body[0]
        assert isinstance(body, ast.ClassDef)
        for field, below in zip(body.body, body.body[1:], strict=False):
            if isinstance(field, ast.AnnAssign) and isinstance(field.target, ast.Name) and isinstance(below, ast.Expr):
                found.setdefault(field.target.id, str(ast.literal_eval(below.value)))
    return found


def _choices(node: Node) -> list[Node]:
    """The schemas a value may match here, references resolved, null left out."""
    if "$ref" in node:
        return _choices(build_schema()["$defs"][node["$ref"].rpartition("/")[2]])
    alternatives = node.get("oneOf") or node.get("anyOf")
    if alternatives:
        return [choice for alternative in alternatives for choice in _choices(alternative)]
    return [] if node.get("type") == "null" else [node]


def _chosen(node: Node, value: object, field: str | int | None = None) -> Node:
    """The schema that a value is meant to match: by its kind, its fields or its word, else the first.

    Args:
        field: that it has at any rate, if known.
    """
    choices = _choices(node)
    if isinstance(value, dict):
        having = [choice for choice in choices if field in choice.get("properties", {})]
        return next(_match_table(having or choices, value), choices[0])
    words = [choice for choice in choices if isinstance(value, str) and "enum" in choice]
    return next((choice for choice in choices if _allows_word(choice, value)), (words or choices)[0])


def _match_table(choices: list[Node], table: Mapping[str, object]) -> Iterator[Node]:
    """The choices that may be meant by a table, the likeliest first."""
    kinds = {tag: table[tag] for tag in TAGS if tag in table}
    tables = [choice for choice in choices if "properties" in choice]
    if kinds:
        yield from (choice for choice in tables if _is_of_kind(choice, kinds))
        return
    yield from (choice for choice in tables if choice["properties"].keys() & table.keys())
    yield from tables


def _is_of_kind(choice: Node, kinds: Mapping[str, object]) -> bool:
    return any(choice.get("properties", {}).get(tag, {}).get("const") == kind for tag, kind in kinds.items())


def _allows_word(choice: Node, value: object) -> bool:
    return value in choice.get("enum", [choice["const"]] if "const" in choice else [])


def find_node(path: Path, data: object) -> Node:
    """The schema for the value at a path of the data; empty if nothing is allowed there."""
    node = _chosen(build_schema(), data)
    for part, following in zip_longest(path, path[1:]):
        if isinstance(part, int):
            node = node.get("items", {})
        else:
            open_keys: Node = next(iter(node.get("patternProperties", {}).values()), {})
            node = node.get("properties", {}).get(part, open_keys)
        if not node:
            return {}
        data = _inside(data, part)
        node = _chosen(node, data, following)
    return node


def is_list(name: str) -> bool:
    """Whether the file has several tables of this name."""
    return bool(build_schema()["properties"].get(name, {}).get("type") == "array")


def _inside(data: object, part: str | int) -> object:
    if isinstance(data, dict):
        return data.get(part)
    if isinstance(data, list) and isinstance(part, int) and part < len(data):
        return data[part]
    return None


def make_stand_in(node: Node) -> Any:
    """The smallest value the schema accepts, put in for a wrong one so the rest can be read."""
    node, *_ = _choices(node)
    if "const" in node or "enum" in node:
        return node.get("const") or node["enum"][0]
    kind = node["type"]
    if kind == "object":
        return {name: make_stand_in(node["properties"][name]) for name in node.get("required", ())}
    if kind == "array":
        return [make_stand_in(node["items"])] * node.get("minItems", 0)
    if kind == "boolean":
        return False
    if kind in ("integer", "number"):
        return max(node.get("minimum", 0), 1)
    if node.get("format") == "date":
        return "2000-01-01"
    return node.get("examples", [STAND_IN])[0].ljust(node.get("minLength", 0), ".")
