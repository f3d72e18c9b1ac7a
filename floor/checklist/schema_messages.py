"""Checklist errors in words a machinist understands: where, what is wrong, what would be right."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from floor.checklist.check_gates import SAMPLE_FIELDS, SAMPLES
from floor.checklist.consumables import KINDS
from floor.checklist.field_types import NAME
from floor.checklist.findings import Finding, suggest_known_name
from floor.checklist.gates import GATE_KINDS
from floor.checklist.line_numbers import Path
from floor.checklist.schema import Node, find_node
from floor.checklist.units import NoMeasure, show_example

_NAMED_BY = {
    "operations": ("op", "op"),
    "stations": ("station", "id"),
    "carriers": ("carrier", "id"),
    "reworks": ("rework", "id"),
    "clocks": ("clock", "id"),
    "axes": ("axis", "name"),
    "reasons": ("reason", "code"),
    "steps": ("step", ""),
    "windows": ("window", ""),
    "consumables": ("consumable", "what"),
}


def place(path: Path, data: object) -> str:
    """A path in words: ``op 30, step 4 (probed), axis Z, low``. Steps are counted as the file lists them."""
    words: list[str] = []
    group = ""
    for part in path:
        data = data.get(part) if isinstance(data, dict) else _item(data, part)
        fields = data if isinstance(data, dict) else {}
        if isinstance(part, int):
            words[-1] = _named(group, part, fields)
        elif group == "cautions" and len(words) == 1:
            words[0] = f"caution {part}"
        else:
            words.append(part)
        group = part if isinstance(part, str) else group
    return ", ".join(words) or "the file"


def _item(data: object, part: str | int) -> object:
    return data[part] if isinstance(data, list) and isinstance(part, int) and part < len(data) else None


def _named(group: str, number: int, fields: Mapping[str, object]) -> str:
    if group == "tools":
        known = fields.get("number", fields.get("tool"))
        return f"tool {known}" if known is not None else f"tool entry {number + 1}"
    word, key = _NAMED_BY.get(group, (group, ""))
    if key and isinstance(fields.get(key), str | int) and fields[key] != "":
        return f"{word} {fields[key]}"
    kind = f" ({fields['gate']})" if group == "steps" and "gate" in fields else ""
    return f"{word} {number + 1}{kind}" if not key else f"{word} entry {number + 1}"


def tidy_path(loc: tuple[str | int, ...]) -> Path:
    """The path in the data for a pydantic location, which also names the kinds it tried."""
    path = list(loc)
    if len(path) > 4 and path[0] == "operations" and path[2] == "steps":
        del path[4]
    if len(path) > 2 and path[0] == "consumables":
        del path[2]
    path = [part for n, part in enumerate(path) if not (n and path[n - 1] == "sample" and part in SAMPLES)]
    while path and (path[-1] in ("[key]", "int") or str(path[-1]).startswith("literal[")):
        path.pop()
    return tuple(path)


_KINDS = {
    "string": 'text in quotes, like "this"',
    "integer": "a whole number without quotes, like 4",
    "number": "a number without quotes, like 0.98",
    "boolean": "true or false, without quotes",
    "array": "a list in square brackets, like [ … ]",
    "object": "a table with named fields, like { name = … }",
}


def describe_expected(node: Node, units: object = "inch") -> str:
    """What a schema allows, in words.

    Args:
        units: of the part.
    """
    if "enum" in node or "const" in node:
        choices = [_quoted(choice) for choice in node.get("enum", [node.get("const")])]
        return "write " + ("one of " if len(choices) > 1 else "") + ", ".join(choices)
    if node.get("examples"):
        return f'write it with its unit, like "{node["examples"][-1 if units == "metric" else 0]}"'
    if node.get("format") == "date":
        return "write a date without quotes, like 2026-03-16"
    return "write " + _KINDS.get(node.get("type", "object"), "a value")


def _quoted(value: object) -> str:
    return f'"{value}"' if isinstance(value, str) else str(value)


def explain(error: Mapping[str, Any], data: object) -> Finding:
    """One of pydantic's errors as a finding."""
    path = tidy_path(error["loc"])
    kind = str(error["type"])
    limits: dict[str, Any] = error.get("ctx", {})
    given = error.get("input")
    node, units = find_node(path, data), _find_units(data)
    expected = _describe_expected_at(path, node, units)
    field = str(path[-1]) if path else "the file"

    match kind:
        case "missing":
            return Finding(path, f"`{field}` is missing", f"add `{field}`: {expected.removeprefix('write ')}")
        case "unexpected_keyword_argument":
            known = find_node(path[:-1], data).get("properties", {})
            if path[-2:-1] == ("sample",):
                return _explain_sample(path, field)
            return Finding(path, "is not a field here", suggest_known_name(field, known))
        case "union_tag_invalid":
            return _unknown_kind(path, given)
        case "literal_error":
            return Finding(path, f"{_quoted(given)} is not known here", expected)
        case "value_error":
            return _explain_value(path, limits["error"], units)
        case "string_pattern_mismatch":
            return _explain_pattern(path, given, limits)
        case "string_too_long" | "too_long":
            most = limits["max_length"]
            what = "characters" if isinstance(given, str) else "entries"
            return Finding(path, f"{_size(given)} {what} are too many", f"use at most {most}")
        case "string_too_short" | "too_short":
            if not given:
                return Finding(path, f"`{field}` is empty", expected)
            return Finding(path, f"{_size(given)} characters are too few", f"use at least {limits['min_length']}")
        case "greater_than_equal" | "greater_than" | "less_than_equal" | "less_than":
            return _explain_range(path, given, limits)
        case _:
            return _explain_kind(path, given, node, expected)


_SAMPLE = 'write a number of pieces, "all", "first and last", { every = 4 } or { aql = 1.0, level = "II" }'


def _describe_expected_at(path: Path, node: Node, units: object) -> str:
    return _SAMPLE if path[-1:] == ("sample",) else describe_expected(node, units)


def _find_units(data: object) -> object:
    """Of the part; None where the file does not say."""
    part = data.get("part") if isinstance(data, dict) else None
    return part.get("units") if isinstance(part, dict) else None


def _explain_value(path: Path, error: ValueError, units: object) -> Finding:
    if isinstance(error, NoMeasure):
        return Finding(path, error.wrong, error.right or show_example(error.dimension, units))
    wrong, _, right = str(error).partition("; ")
    return Finding(path, wrong, right)


def _explain_kind(path: Path, given: object, node: Node, expected: str) -> Finding:
    """A value of the wrong kind, such as a table of the file in single brackets where double ones make a list."""
    if len(path) == 1 and isinstance(given, dict) and node.get("type") == "array":
        return Finding(path, f"[{path[0]}] in single brackets is one table", f"write [[{path[0]}]] above each")
    if len(path) == 1 and isinstance(given, list) and node.get("type") == "object":
        return Finding(path, f"[[{path[0]}]] in double brackets is a list", f"write [{path[0]}], once")
    return Finding(path, f"{_short(given)} is the wrong kind of value", expected)


def _explain_sample(path: Path, field: str) -> Finding:
    if field in SAMPLE_FIELDS:
        return Finding(path, f"`{field}` beside a field of the other kind of sample", "leave one of the two out")
    return Finding(path, "is not a field here", suggest_known_name(field, SAMPLE_FIELDS))


def _explain_pattern(path: Path, given: object, limits: Mapping[str, Any]) -> Finding:
    if limits["pattern"] == NAME:
        right = "use letters, digits, spaces, dashes; do not start with a dash"
        return Finding(path, f"{given!r} cannot be a name", right)
    return Finding(path, "holds a control character or a hidden one", "write plain text on one line")


_RANGES = {"ge": "{:g} or more", "gt": "more than {:g}", "le": "{:g} or less", "lt": "less than {:g}"}
"""Pydantic's name of a limit → what to write."""


def _explain_range(path: Path, given: object, limits: Mapping[str, Any]) -> Finding:
    right = next(words.format(limits[name]) for name, words in _RANGES.items() if name in limits)
    return Finding(path, f"{given} is out of range", right)


def _unknown_kind(path: Path, given: object) -> Finding:
    """A table of an unknown kind, or without the field that gives its kind."""
    field, what, kinds = "gate", "a kind of gate", list(GATE_KINDS)
    if path[0] == "consumables":
        field, what, kinds = "by", "a way to measure it out", list(KINDS)
    kind = given.get(field) if isinstance(given, dict) else given
    if kind is None:
        return Finding(path, f"`{field}` is missing", f"add `{field}`: one of {', '.join(kinds)}")
    return Finding((*path, field), f"{_quoted(kind)} is not {what}", suggest_known_name(str(kind), kinds))


def _size(given: object) -> int:
    return len(given) if isinstance(given, str | list | tuple | dict) else 0


def _short(given: object) -> str:
    if isinstance(given, dict):
        return "a table"
    if isinstance(given, list):
        return "a list"
    if isinstance(given, bool):
        return str(given).lower()
    text = _quoted(given)
    return text if len(text) <= 40 else text[:37] + "…"
