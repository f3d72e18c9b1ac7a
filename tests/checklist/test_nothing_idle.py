"""Every field of a checklist is read by something: shown, used or refused, never just accepted."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import fields
from functools import cache
from pathlib import Path

import pytest

from floor.checklist import consumables, equipment, gate_base, gates, model, operation
from floor.checklist.field_types import Strict

FLOOR = Path(model.__file__).parents[1]
STATED = (
    "checklist/model.py",
    "checklist/equipment.py",
    "checklist/operation.py",
    "checklist/gates.py",
    "checklist/gate_base.py",
    "checklist/gate_forms.py",
    "checklist/setup_gates.py",
    "checklist/process_gates.py",
    "checklist/check_gates.py",
    "checklist/consumables.py",
    "checklist/schema.py",
)
"""Where the fields stand: what reads them only there does nothing with them."""

CALLED: dict[type[Strict], set[str]] = {
    model.PartInfo: {"part"},
    model.Caution: {"caution"},
    equipment.Station: {"station"},
    equipment.Blank: {"blank", "bed"},
    equipment.Carrier: {"carrier"},
    equipment.Tool: {"tool"},
    equipment.ToolUse: {"use"},
    operation.Window: {"window"},
    operation.Clock: {"clock"},
    operation.Times: {"time"},
    operation.Reason: {"reason"},
    operation.Rework: {"rework", "route"},
    operation.ProgramLimits: {"limits"},
    operation.Operation: {"operation"},
    model.Leg: {"leg"},
    model.Checklist: {"checklist"},
    gates.Axis: {"axis"},
    gates.Characteristic: {"characteristic", "step"},
    gates.EveryNth: {"sample"},
    gates.ByPlan: {"sample"},
    operation.Do: {"step"},
    operation.Repeat: {"repeat"},
}
"""What a variable that holds one of a kind is called in the code: `part.number` is no `carrier.number`. Gates are
`gate` or `step`, consumables `consumable`, or `one` in the modules that deal with nothing else. A name that nothing
else in Floor has, as `regroup`, is known by itself."""

ARGUED = {
    (model.Checklist, "format"): "one value only is accepted; any other is refused as the file is read",
    **{(kind, "gate"): "says of which class the step is; any other is refused" for kind in gates.GATE_KINDS.values()},
    (gates.CarrierProbed, "gate"): "as of any probing",
    **{(kind, "by"): "says of which class the consumable is" for kind in consumables.KINDS.values()},
}


def parts(kind: type[Strict] = Strict) -> Iterator[type[Strict]]:
    """Every class of a checklist's parts."""
    for one in kind.__subclasses__():
        if one.__module__.startswith("floor.checklist.") and not one.__name__.startswith("_"):
            yield one
        yield from parts(one)


FIELDS = sorted(
    {(kind, field.name) for kind in parts() for field in fields(kind)} - ARGUED.keys(),
    key=lambda one: (one[0].__name__, one[1]),
)


def called(kind: type[Strict]) -> set[str]:
    if issubclass(kind, gate_base.GateBase):
        return {"gate", "step", "probe"}
    if issubclass(kind, consumables.Consumable):
        return {"consumable"}
    return CALLED[kind]


def last_name(node: ast.expr) -> str:
    """The word before the dot: `tool` of `use.tool.number`, `station` of `checklist.station(id).name`."""
    if isinstance(node, ast.Call):
        node = node.func
    if isinstance(node, ast.Subscript):
        return last_name(node.value)
    return node.attr if isinstance(node, ast.Attribute) else node.id if isinstance(node, ast.Name) else ""


@cache
def reads() -> frozenset[tuple[str, str]]:
    """Every `word.field` that is read in Floor outside of where the fields stand."""
    found = set()
    for file in FLOOR.rglob("*.py"):
        if file.relative_to(FLOOR).as_posix() in STATED:
            continue
        one = "consumable" if file.name in ("material_required.py", "consumables.py") else "one"
        for node in ast.walk(ast.parse(file.read_text())):
            if isinstance(node, ast.Attribute) and isinstance(node.ctx, ast.Load):
                word = last_name(node.value)
                found.add((one if word == "one" else word, node.attr))
    return frozenset(found)


@cache
def of_the_whole() -> frozenset[tuple[str, str]]:
    """Every `word.field` read by a method of the whole checklist that something outside calls, maybe by way of others.

    Routes, legs and which pieces ride together follow from several parts, so the checklist works them out.
    """
    tree = ast.parse(Path(model.__file__).read_text())
    [whole] = [one for one in ast.walk(tree) if isinstance(one, ast.ClassDef) and one.name == "Checklist"]
    read = {
        method.name: {
            (last_name(node.value), node.attr)
            for node in ast.walk(method)
            if isinstance(node, ast.Attribute) and isinstance(node.ctx, ast.Load)
        }
        for method in whole.body
        if isinstance(method, ast.FunctionDef)
    }
    reached = {name for word, name in reads() if word == "checklist"} & read.keys()
    while more := {name for method in reached for word, name in read[method] if word == "self"} & read.keys() - reached:
        reached |= more
    return frozenset(pair for method in reached for pair in read[method])


@cache
def owners() -> dict[str, set[str]]:
    """Every name of a field, an attribute or a method in Floor → the classes that have it."""
    found: dict[str, set[str]] = {}
    for file in FLOOR.rglob("*.py"):
        for one in ast.walk(ast.parse(file.read_text())):
            for node in ast.walk(one) if isinstance(one, ast.ClassDef) else ():
                if isinstance(node, ast.FunctionDef):
                    found.setdefault(node.name, set()).add(one.name)
                elif isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name):
                    found.setdefault(node.target.id, set()).add(one.name)
                elif isinstance(node, ast.Attribute) and isinstance(node.ctx, ast.Store):
                    found.setdefault(node.attr, set()).add(one.name)
    return found


@cache
def through(kind: type[Strict]) -> dict[str, set[str]]:
    """Methods of a kind → the fields of it that they read."""
    found: dict[str, set[str]] = {}
    for one in kind.__mro__:
        if not one.__module__.startswith("floor.checklist."):
            continue
        file = FLOOR.parent / (one.__module__.replace(".", "/") + ".py")
        body = next(
            node for node in ast.walk(ast.parse(file.read_text()))
            if isinstance(node, ast.ClassDef) and node.name == one.__name__
        )  # fmt: skip
        for method in body.body:
            if isinstance(method, ast.FunctionDef):
                read = {node.attr for node in ast.walk(method)
                        if isinstance(node, ast.Attribute) and last_name(node.value) == "self"}  # fmt: skip
                found.setdefault(method.name, read)
    return found


def is_read(kind: type[Strict], field: str) -> bool:
    """By its own name, or through a method of its kind that something calls."""
    words = called(kind)
    own = through(kind)
    names, reached = {field}, set[str]()
    while names - reached:
        reached |= names
        names = {name for name, read in own.items() if read & reached}
    family = {one.__name__ for one in (*kind.__mro__, *kind.__subclasses__())}
    alone = {name for name in reached if owners().get(name, set()) <= family}
    return any(name in reached and (word in words or name in alone) for word, name in reads() | of_the_whole())


@pytest.mark.parametrize(("kind", "field"), FIELDS, ids=lambda one: getattr(one, "__name__", one))
def test_every_field_is_read_outside_of_where_it_stands(kind: type[Strict], field: str) -> None:
    assert is_read(kind, field), f"{kind.__name__}.{field} is accepted from a checklist and read nowhere"
