"""Our decorator against Python's own: everything below must hold for both."""

from __future__ import annotations

import ast
import copy
import dataclasses
import pickle
import subprocess
import sys
from dataclasses import FrozenInstanceError, field, replace
from pathlib import Path
from typing import Any

import pytest

import floor.dataclass

BOTH = pytest.mark.parametrize("decorate", [dataclasses.dataclass, floor.dataclass.dataclass], ids=["standard", "ours"])


def make_frozen(decorate: Any) -> Any:
    @decorate(frozen=True, slots=True)
    class Frozen:
        first: int
        second: str = "two"
        many: dict[str, int] = field(default_factory=dict, repr=False)
        aside: int = field(default=0, compare=False)

        def doubled(self) -> int:
            return 2 * self.first

    return Frozen


def make_changing(decorate: Any) -> Any:
    @decorate(slots=True)
    class Changing:
        first: int
        worked_out: int = field(init=False)

        def __post_init__(self) -> None:
            self.worked_out = self.first + 1

    return Changing


@floor.dataclass.dataclass(frozen=True, slots=True)
class Kept:
    number: int
    text: str = ""


@BOTH
def test_fields_are_given_by_place_or_by_name_or_by_default(decorate: Any) -> None:
    frozen = make_frozen(decorate)
    one, other = frozen(1), frozen(second="zwei", first=2, many={"a": 1})

    assert (one.first, one.second, one.many, one.aside) == (1, "two", {}, 0)
    assert (other.first, other.second, other.many, other.doubled()) == (2, "zwei", {"a": 1}, 4)
    assert frozen(1).many is not one.many
    assert [each.name for each in dataclasses.fields(frozen)] == ["first", "second", "many", "aside"]
    assert frozen.__match_args__ == ("first", "second", "many", "aside")


@BOTH
def test_a_field_too_few_or_too_many_is_refused(decorate: Any) -> None:
    frozen = make_frozen(decorate)

    for given, named in (((), {}), ((1,), {"third": 3}), ((1, "two", {}, 0, 5), {}), ((1,), {"first": 1})):
        with pytest.raises(TypeError):
            frozen(*given, **named)


@BOTH
def test_equal_where_the_compared_fields_and_the_class_are(decorate: Any) -> None:
    frozen, alike = make_frozen(decorate), make_frozen(decorate)

    assert frozen(1) == frozen(1, aside=9)
    assert frozen(1) != frozen(2)
    assert frozen(1) != alike(1)
    assert frozen(1).__eq__(1) is NotImplemented


@BOTH
def test_what_is_frozen_is_hashed_by_the_compared_fields_and_never_changes(decorate: Any) -> None:
    frozen = make_frozen(decorate)
    one = frozen(1, many=())

    assert hash(one) == hash(frozen(1, many=(), aside=9))
    assert len({one, frozen(1, many=(), aside=9), frozen(2, many=())}) == 2
    with pytest.raises(FrozenInstanceError):
        one.first = 2
    with pytest.raises(FrozenInstanceError):
        del one.first
    assert one.first == 1


@BOTH
def test_what_is_not_frozen_changes_and_has_no_hash(decorate: Any) -> None:
    one = make_changing(decorate)(1)
    one.first = 5

    assert (one.first, one.worked_out) == (5, 2)
    with pytest.raises(TypeError):
        hash(one)
    with pytest.raises(AttributeError):
        one.third = 3
    with pytest.raises(TypeError):
        make_changing(decorate)(1, 2)


@BOTH
def test_fields_only_by_name(decorate: Any) -> None:
    @decorate(frozen=True, slots=True, kw_only=True)
    class Base:
        first: int = 1

    @decorate(frozen=True, slots=True, kw_only=True)
    class Named(Base):
        second: int

    assert (Named(second=2).first, Named(second=2, first=3).first) == (1, 3)
    assert Named(second=2) != Base()
    with pytest.raises(TypeError):
        Named(2)


@BOTH
def test_what_the_class_itself_defines_stays(decorate: Any) -> None:
    @decorate(frozen=True, slots=True)
    class Own:
        first: int

        def __repr__(self) -> str:
            return "own"

        def __eq__(self, other: object) -> bool:
            return True

        def __hash__(self) -> int:
            return 7

    assert (repr(Own(1)), Own(1) == 5, hash(Own(1))) == ("own", True, 7)


@BOTH
def test_without_comparison_each_is_itself(decorate: Any) -> None:
    @decorate(frozen=True, slots=True, eq=False)
    class Token:
        first: int

    one = Token(1)

    assert one != Token(1)
    assert len({one, one, Token(1)}) == 2


@BOTH
def test_shown_with_its_fields(decorate: Any) -> None:
    assert repr(make_frozen(decorate)(1)).endswith("Frozen(first=1, second='two', aside=0)")


@BOTH
def test_replaced_and_copied(decorate: Any) -> None:
    one = make_frozen(decorate)(1, many={"a": 1})

    assert replace(one, first=2).first == 2
    assert replace(one, first=2).many == {"a": 1}
    assert copy.copy(one) == copy.deepcopy(one) == one


def test_pickled_and_read_back() -> None:
    assert pickle.loads(pickle.dumps(Kept(1, "one"))) == Kept(1, "one")


def test_no_room_uses_the_standard_one() -> None:
    """Besides ours: the checklist's base class makes none of its methods, and a calendar keeps what it worked out."""
    root = Path(floor.__file__).parent
    users = {
        str(file.relative_to(root))
        for file in root.rglob("*.py")
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8")))
        if isinstance(node, ast.ImportFrom) and node.module == "dataclasses"
        if any(name.name == "dataclass" for name in node.names)
    }

    assert users == {"dataclass.py", "checklist/field_types.py", "figures/calendar.py"}


def test_importing_writes_no_methods() -> None:
    """What it is for: a class that nobody uses costs no compiling."""
    code = """
import builtins, floor.dataclass
compiled = []
def spy(*args, real=builtins.compile, **named):
    compiled.append(args[1])
    return real(*args, **named)
builtins.compile = spy
@floor.dataclass.dataclass(frozen=True, slots=True)
class Idle:
    first: int
assert not compiled, compiled
Idle(1)
assert compiled == ["<__init__ of Idle>"], compiled
"""
    subprocess.run([sys.executable, "-c", code], check=True)
