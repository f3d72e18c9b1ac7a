"""No function is too complex to read at once, and linter and formatter are silent."""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from radon.complexity import cc_visit

import floor

PACKAGE = Path(floor.__file__).parent

MOST = 15
"""Linearly independent paths through a function (McCabe 1976).

McCabe proposed 10; NIST Special Publication 500-235 (Watson and McCabe 1996, 2.5) says that limits as high as 15 have
been used successfully as well. From memory.
"""


def measure_functions(source: str, module: str) -> Iterator[tuple[str, int]]:
    """(module and name, paths) of each function and method; those defined inside count with the one around them."""
    for block in cc_visit(source):
        if block.letter in "FM":
            yield f"{module}:{block.fullname}", block.complexity


@pytest.fixture(scope="module")
def measured() -> dict[str, int]:
    """Function → its paths; of two with one name in a module, such as a property and its setter, the greater number."""
    found: dict[str, int] = {}
    for path in sorted(PACKAGE.rglob("*.py")):
        module = path.relative_to(PACKAGE).as_posix()
        for name, paths in measure_functions(path.read_text(encoding="utf-8"), module):
            found[name] = max(paths, found.get(name, 0))
    return found


def test_no_function_has_more_paths_than_can_be_read_at_once(measured: dict[str, int]) -> None:
    too_many = {name: paths for name, paths in measured.items() if paths > MOST}

    assert too_many == {}


def test_paths_are_counted_as_defined() -> None:
    # One more than the decisions, each part of a condition by itself: McCabe 1976, IV and V.
    source = "def f(a, b):\n    for x in a:\n        if x and b:\n            return x\n    return None\n"

    assert dict(measure_functions(source, "m")) == {"m:f": 4}


@pytest.mark.parametrize("command", [("check",), ("format", "--check")], ids=["check", "format"])
def test_ruff_finds_nothing(command: tuple[str, ...]) -> None:
    ruff = subprocess.run(
        [sys.executable, "-m", "ruff", *command, "--no-cache", "--quiet", "."],
        cwd=PACKAGE.parent,
        capture_output=True,
        text=True,
        check=False,
    )

    assert (ruff.returncode, ruff.stdout + ruff.stderr) == (0, "")


LONGEST = {"shop/shop.py:Shop": 250, "screens/walk/screen.py:WalkScreen": 250}
"""Lines that a class may take (decision of this project): all that is done goes through these two, and they grow."""


@pytest.mark.parametrize("name", LONGEST)
def test_the_two_classes_that_all_goes_through_stay_short(name: str) -> None:
    module, _, wanted = name.partition(":")
    tree = ast.parse((PACKAGE / module).read_text(encoding="utf-8"))
    found = next(node for node in tree.body if isinstance(node, ast.ClassDef) and node.name == wanted)

    assert (found.end_lineno or 0) - found.lineno + 1 < LONGEST[name]
