"""A planted gap survives, a planted guard is caught, and the tree under trial is untouched."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.mutate.__main__ import figures, text
from tests.mutate.covered import Covered, choose
from tests.mutate.covered import Test as Traced
from tests.mutate.mutants import mutants_of
from tests.mutate.tree import sources
from tests.mutate.trial import ARGUED, Tried, argued_in, draw, draw_rooms, order_tests, trial

MODULE = '''"""Planted."""

from functools import cache

LIMIT = 7


def guarded(n):
    if n > 3:
        return 1
    return 0


def gap(n):
    if n > 3:
        return 1
    return 0


def counts_down(n):
    while n > 0:
        n -= 1
    return n


def far(n):
    return n * 2


def under_the_limit(n):
    return n < LIMIT


@cache
def kept():
    return 3


def nobody(n):
    return n + 1


def same(n):
    return abs(n * 1)
'''
TESTS = """
import pytest
from floor.figures.planted import counts_down, gap, guarded, kept, same, under_the_limit

@pytest.mark.parametrize(("n", "found"), [(3, 0), (4, 1)])
def test_guarded(n, found):
    assert guarded(n) == found

def test_gap():
    assert gap(9) == 1 and gap(0) == 0

def test_counts_down():
    assert counts_down(5) == 0

def test_limit():
    assert under_the_limit(6) and not under_the_limit(7)

def test_asks_first():
    kept()

def test_asks_later():
    assert kept() == 3

def test_same():
    assert same(5) == 5
"""
ELSEWHERE = """
from floor.figures.planted import far

def test_far():
    assert far(3) == 6
"""


@pytest.fixture(scope="module")
def planted(tmp_path_factory: pytest.TempPathFactory) -> Path:
    root = tmp_path_factory.mktemp("planted")
    for path, content in {
        "floor/__init__.py": "",
        "floor/figures/__init__.py": "",
        "floor/figures/planted.py": MODULE,
        "tests/figures/test_planted.py": TESTS,
        "tests/batch/test_elsewhere.py": ELSEWHERE,
        "pyproject.toml": '[tool.pytest.ini_options]\naddopts = "--import-mode=importlib"\npythonpath = ["."]\n',
        "argued.toml": '[[equivalent]]\nfile = "floor/figures/planted.py"\nfunction = "same"\n'
        'change = "n * 1 -> n / 1"\nwhy = "One divides as it multiplies."\n',
    }.items():
        (root / path).parent.mkdir(parents=True, exist_ok=True)
        (root / path).write_text(content)
    return root


@pytest.fixture(scope="module")
def tried(planted: Path) -> dict[str, list[Tried]]:
    """By function."""
    chosen = ("LIMIT", "guarded", "gap", "far", "kept", "nobody")
    drawn = [
        ("figures", one)
        for one in mutants_of(MODULE, "floor/figures/planted.py")
        if (one.function or "LIMIT") in chosen or one.change in ("n -= 1 -> pass", "n * 1 -> n / 1")
    ]
    found: dict[str, list[Tried]] = {}
    for one in trial(planted, drawn, slack=0.5, argued=planted / "argued.toml"):
        found.setdefault(one.mutant.function or "LIMIT", []).append(one)
    return found


def test_a_planted_guard_is_caught_whatever_is_done_to_it(tried: dict[str, list[Tried]]) -> None:
    assert len(tried["guarded"]) >= 8
    assert {one.outcome for one in tried["guarded"]} == {"caught"}


def test_a_planted_gap_survives(tried: dict[str, list[Tried]]) -> None:
    survived = {one.mutant.change for one in tried["gap"] if not one.caught}
    assert survived == {"n > 3 -> n >= 3", "3 -> 4", "3 -> 2"}
    assert {one.outcome for one in tried["gap"]} == {"caught", "survived"}


def test_what_never_ends_is_caught(tried: dict[str, list[Tried]]) -> None:
    assert [one.outcome for one in tried["counts_down"]] == ["hung"]


def test_the_tests_of_other_rooms_are_asked_too(tried: dict[str, list[Tried]]) -> None:
    assert all(one.by == "tests/batch/test_elsewhere.py::test_far" for one in tried["far"])


def test_what_no_test_runs_is_not_caught(tried: dict[str, list[Tried]]) -> None:
    assert {one.outcome for one in tried["nobody"]} == {"not run"}


def test_a_value_given_at_import_is_tried_by_who_uses_it(tried: dict[str, list[Tried]]) -> None:
    assert [(one.outcome, one.by) for one in tried["LIMIT"]] == [
        ("caught", "tests/figures/test_planted.py::test_limit")
    ] * 2


def test_what_an_earlier_test_would_leave_in_a_cache_is_looked_at_by_each(tried: dict[str, list[Tried]]) -> None:
    assert {one.by for one in tried["kept"]} == {"tests/figures/test_planted.py::test_asks_later"}


def test_what_is_argued_to_change_nothing_is_counted_apart(tried: dict[str, list[Tried]]) -> None:
    all_of_them = [one for of in tried.values() for one in of]
    found = figures(all_of_them)
    assert set(found) == {"made", "caught", "rooms", "survivors"}
    assert found["made"] == len(all_of_them) - 1
    assert found["rooms"] == {"figures": {"made": found["made"], "caught": found["caught"]}}
    assert found["made"] - found["caught"] == len(found["survivors"])
    assert {"file", "line", "change"} <= set(found["survivors"][0])
    assert "n * 1" not in json.dumps(found)
    assert "1 more survived and are argued" in text(all_of_them, 60.0)
    assert "survived: floor/figures/planted.py:15 gap: comparison: n > 3 -> n >= 3" in text(all_of_them, 60.0)


def test_the_tree_is_not_touched(planted: Path, tried: dict[str, list[Tried]]) -> None:
    assert tried
    assert (planted / "floor/figures/planted.py").read_text() == MODULE
    assert not list(planted.rglob("__pycache__"))


def test_a_test_that_fails_anyway_stops_the_trial(tmp_path: Path) -> None:
    (tmp_path / "floor/figures").mkdir(parents=True)
    (tmp_path / "floor/figures/a.py").write_text("def g(a):\n    return a + 1\n")
    (tmp_path / "tests").mkdir()
    (tmp_path / "tests/test_a.py").write_text("def test_fails():\n    assert False\n")
    drawn = draw_rooms(tmp_path, ["figures"], 1, 1)
    with pytest.raises(RuntimeError, match="fail on the program unchanged: tests/test_a.py::test_fails"):
        trial(tmp_path, drawn, at_once=1)


def test_drawing_is_by_the_seed_and_one_a_line() -> None:
    texts = {"floor/figures/planted.py": MODULE}
    assert draw(texts, 9, 1) == draw(texts, 9, 1) != draw(texts, 9, 2)
    lines = [one.line for one in draw(texts, 99, 1)]
    assert len(lines) == len(set(lines)) > 9


def test_every_room_gets_its_share() -> None:
    drawn = draw_rooms(Path(__file__).parents[2], ["shop", "ledger"], 7, 1)
    assert [room for room, _ in drawn] == ["shop"] * 4 + ["ledger"] * 3
    assert all(one.file.startswith(f"floor/{room}/") for room, one in drawn)


def test_rooms_are_read_whole() -> None:
    assert "floor/batch/counting/fold.py" in sources(Path(__file__).parents[2], ["batch"])


def test_each_argued_mutant_says_what_it_is_and_why() -> None:
    for one in argued_in(ARGUED):
        assert set(one) == {"file", "function", "change", "why"}
        assert " -> " in one["change"]
        assert len(one["why"]) > 30


def test_each_argued_mutant_is_still_one_of_the_program() -> None:
    """What the program no longer holds is argued for nothing."""
    root = Path(__file__).parents[2]
    argued = {(one["file"], one["function"], one["change"]) for one in argued_in(ARGUED)}
    files = {file for file, _, _ in argued if (root / file).is_file()}
    made = {one.key for file in files for one in mutants_of((root / file).read_text(), file)}
    assert argued - made == set()


def test_half_of_the_time_is_for_the_quickest_tests_and_half_for_the_broadest() -> None:
    def traced(id: str, seconds: float, lines: int) -> Traced:
        return Traced(id, seconds, {"floor/a.py": frozenset(range(lines))})

    quick = [traced(f"quick {n}", 1.0, 5) for n in range(8)]
    slow = [traced("slow", 3.0, 50), traced("slower", 4.0, 500), traced("slowest", 9.0, 900)]
    tests = [*quick, *slow]

    assert [test.id for test in order_tests(tests, 10.0)] == [
        *(f"quick {n}" for n in range(5)),
        "slower",
        "quick 5",
        "quick 6",
        "quick 7",
        "slow",
        "slowest",
    ]
    assert sorted(test.id for test in order_tests(tests, 100.0)) == sorted(test.id for test in tests)
    assert [test.id for test in order_tests([slow[2]], 1.0)] == ["slowest"], "one in any case"
    assert order_tests([], 1.0) == []


def test_a_table_is_tried_by_tests_that_read_it_and_run_none_of_its_lines() -> None:
    [mutant, *_] = mutants_of("LIMIT = 7\n", "floor/a/b.py")
    texts = {"tests/a/test_a.py": "from floor.a.b import LIMIT", "tests/x/test_x.py": ""}
    covered = Covered([Traced(f"{file}::test_it", 1.0, {}) for file in texts])

    assert [test.id for test in choose(mutant, covered, {}, texts)] == ["tests/a/test_a.py::test_it"]


def test_what_is_named_for_the_function_comes_first_then_what_imports_its_module_or_has_its_name() -> None:
    def traced(id: str) -> Traced:
        return Traced(id, 1.0, {"floor/a/b.py": frozenset([1, 2])})

    passing, about, namesake, named = (
        "tests/x/test_x.py::test_it",
        "tests/a/test_a.py::test_it",
        "tests/z/test_b.py::test_it",
        "tests/y/test_y.py::test[lay_out]",
    )
    [mutant, *_] = mutants_of("def _lay_out():\n    return 1\n", "floor/a/b.py")
    texts = dict.fromkeys(["tests/x/test_x.py", "tests/y/test_y.py", "tests/z/test_b.py"], "")
    texts["tests/a/test_a.py"] = "from floor.a.b import c"
    covered = Covered([traced(passing), traced(about), traced(namesake), traced(named)])

    assert [test.id for test in choose(mutant, covered, {}, texts)] == [named, about, namesake, passing]
