"""Each operator changes the program in one place, and only where a test could notice."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

from tests.mutate.mutants import Mutant, mutants_of

ROOT = Path(__file__).parents[2]


def changes(source: str) -> set[str]:
    return {one.change for one in mutants_of(source, "a.py")}


@pytest.mark.parametrize(("line", "operator", "change"), [
    ("return a < b", "comparison", "a < b -> a <= b"),
    ("return a < b", "comparison", "a < b -> a > b"),
    ("return a == b", "comparison", "a == b -> a != b"),
    ("return a is None", "comparison", "a is None -> a is not None"),
    ("return a in b", "comparison", "a in b -> a not in b"),
    ("return a and b", "and, or", "a and b -> a or b"),
    ("return a or b or c", "operand left out", "a or b or c -> a or c"),
    ("return not a", "not", "not a -> a"),
    ("if a: pass", "not", "a -> not (a)"),
    ("if a: pass", "condition forced", "a -> True"),
    ("while a: pass", "condition forced", "a -> False"),
    ("return b if a else c", "condition forced", "a -> False"),
    ("return [x for x in b if x]", "condition forced", "x -> True"),
    ("return a + b", "arithmetic", "a + b -> a - b"),
    ("return -a", "arithmetic", "-a -> a"),
    ("return a // b", "arithmetic", "a // b -> a * b"),
    ("a += b", "arithmetic", "a += b -> a -= b"),
    ("a += b", "statement deleted", "a += b -> pass"),
    ("b.append(a)", "statement deleted", "b.append(a) -> pass"),
    ("b[a] = c", "statement deleted", "b[a] = c -> pass"),
    ("raise a", "statement deleted", "raise a -> pass"),
    ("return f(3)", "constant", "3 -> 4"),
    ("return f(3)", "constant", "3 -> 2"),
    ("return f(0.5)", "constant", "0.5 -> 1.5"),
    ("return f(True)", "constant", "True -> False"),
    ("return max(a)", "min, max, any, all", "max(a) -> min(a)"),
    ("return f(a)", "return value", "f(a) -> None"),
    ("for a in b: break", "jump", "break -> continue"),
])  # fmt: skip
def test_each_operator_makes_its_change(line: str, operator: str, change: str) -> None:
    found = [one for one in mutants_of(f"def g(a, b, c):\n    {line}\n", "a.py") if one.change == change]
    assert [one.operator for one in found] == [operator]


@pytest.mark.parametrize(("returns", "now"), [
    ("bool", "not (f())"), ("int", "f() + 1"), ("str", '""'), ("list[int]", "[]"), ("tuple[int, ...]", "()"),
    ("Batch | None", "None"),
])  # fmt: skip
def test_another_value_of_the_same_kind_is_returned(returns: str, now: str) -> None:
    [one] = [
        one for one in mutants_of(f"def g() -> {returns}:\n    return f()\n", "a.py") if one.operator == "return value"
    ]
    assert ast.dump(ast.parse(one.now)) == ast.dump(ast.parse(now))


def test_defaults_are_changed() -> None:
    source = 'class A:\n    a: int = 1\n    b: str = ""\ndef g(a=True, *, b="x"): pass\n'
    assert changes(source) == {"1 -> 2", "1 -> 0", "'' -> '?'", "True -> False", "'x' -> ''"}


@pytest.mark.parametrize("source", [
    '"""Three is 3."""\n',
    "def g() -> list[int]:\n    return []\n",
    "def g() -> tuple[int, ...]:\n    return ()\n",
    'def g(a: Literal[3]) -> Annotated[int, 4]:\n    """Not 5."""\n',
    "x: Annotated[int, Limits(ge=1)]\n",
    "from a import b\n",
    '__all__ = ["a", "b"][1:]\n',
    "if TYPE_CHECKING:\n    x = 3\n",
    "@cache(3)\ndef g(): ...\n",
    "def g(a):\n    assert a > 3\n",
    "def g(a):\n    for x in zip(a, a, strict=True): pass\n",
    "def g(a):\n    x = f'{a + 1}'\n",
    "def g(a):\n    x = a + 'x'\n",
    "Either = int | str\n",
    "def g(a):\n    x = [y for y in a if isinstance(y, int | str)][:]\n",
    "@overload\ndef g(a: int = 3) -> int: ...\n",
])  # fmt: skip
def test_left_alone(source: str) -> None:
    found = [one for one in mutants_of(source, "a.py") if one.operator not in ("condition forced", "not")]
    assert not found


def real_mutants() -> list[tuple[str, Mutant]]:
    """Of three modules of the program: loops, a fold and a table."""
    modules = ("figures/binomial_thinning.py", "batch/counting/fold.py", "checklist/units.py")
    paths = [ROOT / "floor" / one for one in modules]
    return [(path.read_text(), one) for path in paths for one in mutants_of(path.read_text(), path.name)]


def test_each_changes_the_program_and_only_in_its_place() -> None:
    found = real_mutants()
    assert len(found) > 300
    for source, mutant in found[::13]:
        changed = mutant.apply(source)
        assert ast.dump(ast.parse(changed)) != ast.dump(ast.parse(source)), mutant
        raw = source.encode()
        assert changed.encode().startswith(raw[: mutant.start])
        assert changed.encode().endswith(raw[mutant.end :])
        first, last = mutant.lines
        assert mutant.around[0] <= first <= last or mutant.around[0] == 0


def test_a_change_knows_where_it_is() -> None:
    source = "LIMIT = 3\nclass A:\n    def g(self, a=1):\n        if a > 2:\n            return (\n  4\n )\n"
    found = {one.was: one for one in mutants_of(source, "a.py") if one.operator == "constant"}
    assert (found["3"].function, found["3"].body, found["3"].names) == ("", None, ("LIMIT",))
    assert (found["1"].function, found["1"].body, found["1"].around) == ("A.g", (4, 7), (3, 3))
    assert (found["2"].line, found["2"].around) == (4, (4, 4))
    assert (found["4"].line, found["4"].lines, found["4"].around) == (6, (6, 6), (5, 7))
