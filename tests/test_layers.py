"""The arrows between the rooms, as DEVELOPERS.md draws them, and what the core may not load."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

FLOOR = Path(__file__).parents[1] / "floor"
MAY: dict[str, set[str]] = {
    "figures": set(),
    "checklist": {"figures"},
    "batch": {"checklist", "figures", "entry"},
    "planning": {"batch", "checklist", "figures", "entry"},
    "ledger": {"entry"},
    "shop": {"batch", "checklist", "figures", "ledger", "planning", "entry"},
    "papers": {"batch", "planning", "checklist", "figures", "entry"},
    "screens": {"batch", "planning", "checklist", "figures", "ledger", "shop", "papers", "entry"},
}


def _imports(file: Path) -> set[str]:
    """Rooms that a module imports, but for type checking only."""
    found = set()
    tree = ast.parse(file.read_text(encoding="utf-8"))
    typing_only = {
        id(inner)
        for node in ast.walk(tree)
        if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING"
        for inner in ast.walk(node)
    }
    for node in ast.walk(tree):
        if id(node) in typing_only:
            continue
        names = []
        if isinstance(node, ast.ImportFrom) and node.module:
            names = [node.module]
        elif isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        found |= {name.split(".")[1] for name in names if name.startswith("floor.")}
    return found


@pytest.mark.parametrize("room", sorted(MAY))
def test_a_room_imports_only_what_stands_below_it(room: str) -> None:
    files = list((FLOOR / room).rglob("*.py"))
    assert files, f"the room {room} is empty"

    wrong = {
        f"{file.relative_to(FLOOR)} imports floor.{other}"
        for file in files
        for other in _imports(file)
        if other != room and other not in MAY[room]
    }

    assert not wrong


def test_the_core_loads_neither_the_screen_nor_what_only_files_need() -> None:
    """In a process of its own, so that nothing else has loaded them before."""
    code = (
        "import sys, floor.shop, floor.batch.nextup; "
        "print([name for name in ('textual', 'pint', 'pydantic', 'tinydb', 'scipy', 'numpy') if name in sys.modules])"
    )

    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=FLOOR.parent)

    assert told.stdout.strip() == "[]"
