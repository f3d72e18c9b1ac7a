"""Imports between rooms point one way, and heavy libraries stay where they are needed."""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from functools import cache
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

import floor

ROOT = Path(floor.__file__).parent

ALL = {
    "app", "batch", "block_letters", "checklist", "database", "dataclass", "entry", "evidence", "figures", "ledger",
    "papers", "planning", "screens", "shop", "text", "text_charts", "wall",
}  # fmt: skip
MAY_IMPORT: dict[str, set[str]] = {
    "dataclass": set(),
    "block_letters": set(),
    "wall": set(),
    "text": {"dataclass", "wall"},
    "text_charts": {"figures", "text"},
    "entry": {"dataclass", "wall"},
    "figures": {"dataclass", "wall"},
    "evidence": {"dataclass", "figures", "text", "wall"},
    "checklist": {"dataclass", "evidence", "figures", "text", "wall"},
    "database": {"dataclass", "entry"},
    "batch": {"checklist", "database", "dataclass", "entry", "evidence", "figures", "text", "wall"},
    "ledger": {"dataclass", "entry", "wall"},
    "planning": {"batch", "checklist", "dataclass", "entry", "figures", "text", "wall"},
    "shop": {"batch", "checklist", "dataclass", "entry", "evidence", "figures", "ledger", "text", "wall"},
    "papers": {
        "batch",
        "block_letters",
        "checklist",
        "dataclass",
        "entry",
        "figures",
        "planning",
        "text",
        "text_charts",
        "wall",
    },
    "screens": ALL - {"app"},
    "app": ALL,
}
"""Room → the rooms it may import besides itself. The command line, which is not named here, may import all."""

ONLY_IN = {
    "textual": {"screens", "app"}, "rich": {"screens", "app"}, "tinydb": {"database", "batch"}, "pint": {"checklist"},
    "segno": {"papers"}, "tomlkit": {"checklist"},
}  # fmt: skip
"""Library → the rooms that may import it."""

TEST_TIME = {"PIL", "numpy", "zxingcpp", "scipy", "psychrolib", "ortools", "job_shop_lib", "hypothesis", "pytest"}
"""Libraries used by tests only."""


def imported(tree: ast.AST, module: str) -> Iterator[str]:
    """Dotted names a module imports, including inside functions and for the type checker only."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (name.name for name in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{module}: relative imports hide the arrow"
            whole = [f"{node.module}.{name.name}" for name in node.names]
            yield from (name if is_module(name) else node.module or "" for name in whole)


@cache
def is_module(name: str) -> bool:
    place = ROOT.parent.joinpath(*name.split("."))
    return place.with_suffix(".py").is_file() or (place / "__init__.py").is_file()


@cache
def arrows() -> list[tuple[str, str, str]]:
    """(file, room, imported name) of every import in the package; read by the first test that asks."""
    found = []
    for file in sorted(ROOT.rglob("*.py")):
        place = file.relative_to(ROOT)
        room = place.parts[0].removesuffix(".py")
        names = imported(ast.parse(file.read_text(encoding="utf-8")), str(place))
        found += [(str(place), room, name) for name in names]
    return found


def test_every_room_has_its_rule() -> None:
    rooms = {room for _, room, _ in arrows() if not room.startswith(("cli", "__"))}

    assert rooms <= set(MAY_IMPORT)
    assert {"batch", "checklist", "figures", "ledger", "screens", "shop"} <= rooms


def test_the_arrows_point_down() -> None:
    wrong = []
    for file, room, name in arrows():
        first, _, rest = name.partition(".")
        target = rest.split(".")[0]
        if first != "floor" or not target or room not in MAY_IMPORT or target == room:
            continue
        if target not in MAY_IMPORT[room]:
            wrong.append(f"{file} imports {name}")

    assert wrong == []


def test_no_modules_import_each_other_round_a_circle() -> None:
    """Not at load time, not when a function runs, not for the type checker."""
    graph: dict[str, set[str]] = {}
    for file, _, name in arrows():
        module = "floor." + file.removesuffix(".py").replace("/", ".").removesuffix(".__init__")
        if is_module(name) and name.startswith("floor."):
            graph.setdefault(module, set()).add(name)
    try:
        TopologicalSorter(graph).prepare()
    except CycleError as error:
        pytest.fail(" imports ".join(error.args[1][::-1]))


def face(package: str) -> set[str]:
    """The face of a room or folder: the names in its ``__all__``, modules and definitions."""
    text = ROOT.parent.joinpath(*package.split("."), "__init__.py").read_text(encoding="utf-8")
    for node in ast.parse(text).body:
        if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "__all__":
            return set(ast.literal_eval(node.value))
    return set()


def test_a_room_is_used_by_its_face() -> None:
    """Others import only a room's face, so its inside can change freely."""
    wrong = []
    for file, room, name in arrows():
        parts = name.split(".")
        if parts[0] != "floor" or len(parts) < 3 or parts[1] in (room, "app"):
            continue
        for depth in range(2, len(parts)):
            package = ".".join(parts[:depth])
            if ROOT.parent.joinpath(*parts[:depth]).is_dir() and parts[depth] not in face(package):
                wrong.append(f"{file} imports {name}, which {package} keeps to itself")

    assert wrong == []


def test_a_face_shows_nothing_that_is_not_used() -> None:
    used = {name for _, room, name in arrows() if name.split(".")[1:2] != [room]}
    idle = []
    for init in sorted(ROOT.rglob("__init__.py")):
        package = ".".join(init.parent.relative_to(ROOT.parent).parts)
        for name in sorted(face(package)):
            whole = f"{package}.{name}"
            if is_module(whole) and not any(one == whole or one.startswith(f"{whole}.") for one in used):
                idle.append(whole)

    assert idle == []


def test_libraries_stay_in_the_rooms_that_need_them() -> None:
    wrong = []
    for file, room, name in arrows():
        library = name.split(".")[0]
        if library in TEST_TIME or room not in ONLY_IN.get(library, {room}):
            wrong.append(f"{file} imports {name}")

    assert wrong == []


def test_only_the_shop_and_the_doors_ask_the_machine_for_the_time() -> None:
    """Rules and figures take the time as an argument; otherwise nobody could test a cure."""
    asks = []
    for room in ("batch", "checklist", "evidence", "figures", "papers", "planning"):
        for file in sorted((ROOT / room).rglob("*.py")):
            for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
                call = ast.unparse(node.func) if isinstance(node, ast.Call) else ""
                if call in ("datetime.now", "datetime.utcnow", "date.today", "time.time", "time.monotonic"):
                    asks.append(f"{file.relative_to(ROOT)}: {call}")

    assert asks == []


@pytest.mark.parametrize("module", [
    "floor.batch.fold", "floor.batch.worklist.tasks", "floor.shop", "floor.figures.start_at_known_yields",
    "floor.papers.catalog", "floor.cli.main",
])  # fmt: skip
def test_the_core_starts_without_what_it_does_not_need(module: str) -> None:
    """One library may load another, so this asks Python itself, in its own process."""
    heavy = sorted({"textual", "rich", "pint", "tomlkit", "pydantic", "segno", "tinydb", *TEST_TIME})
    code = f"import sys, {module}; print([name for name in {heavy} if name in sys.modules])"

    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT.parent)

    assert done.stdout.strip() == "[]"


def test_opening_loads_no_plan_forecast_or_paper() -> None:
    """Their thirty modules come with the first question; once an entry's class asked for one, all opened with it. So do
    the words for entries."""
    opened = "floor.app, floor.shop, floor.screens.shop.what_next"
    code = f"import sys, {opened}; print([name for name in sys.modules if name.startswith('floor.')])"

    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT.parent)

    loaded = ast.literal_eval(done.stdout)
    rooms = (
        "floor.planning",
        "floor.papers",
        "floor.figures.forecast",
        "floor.figures.schedule",
        "floor.batch.describe",
    )
    assert [name for name in loaded if name.startswith(rooms)] == []


def test_an_event_is_folded_in_the_subject_that_declares_it() -> None:
    """Who looks for what an event changes opens the folder that it is of."""
    from floor.batch.fold import HANDLERS

    elsewhere = {
        event.__name__: handler.__module__
        for event, handler in HANDLERS.items()
        if event.__module__.rpartition(".")[0] != handler.__module__.rpartition(".")[0]
    }
    assert elsewhere == {}
    assert len(HANDLERS) > 40
