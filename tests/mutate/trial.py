"""The trial: random mutants, each run against the tests that reach what it changes."""

from __future__ import annotations

import ast
import random
import tomllib
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

from tests.mutate.covered import Covered, Looker, Test, choose
from tests.mutate.mutants import Mutant, mutants_of
from tests.mutate.tree import Answer, Job, sources, test_files, workers

ROOMS = ("figures", "checklist", "batch", "planning", "ledger", "shop")
ARGUED = Path(__file__).with_name("equivalents.toml")
BUDGET = 60.0
"""Seconds of tests per mutant, in its room and again beyond it; see `order_tests`."""
FIRST = 30
"""Tests run at once: the first catch most mutants."""
SLACK, TIMES = 10.0, 10.0
"""A test hangs if it takes this many seconds more than this many times its usual time."""

Outcome = Literal["caught", "hung", "survived", "not run"]


@dataclass(frozen=True, slots=True)
class Tried:
    """The outcome of one mutant."""

    mutant: Mutant
    room: str
    outcome: Outcome
    """Hung: a test took many times its usual time, which is red too. Not run: no test runs the changed code."""
    by: str = ""
    """The test that turned red."""
    ran: int = 0
    seconds: float = 0.0
    argued: str = ""
    """Why nobody could notice the change, if argued."""

    @property
    def caught(self) -> bool:
        return self.outcome in ("caught", "hung")


def draw(sources: Mapping[str, str], count: int, seed: int) -> list[Mutant]:
    """Random changes of these modules, each on a different line, that compile."""
    found = [one for file, source in sources.items() for one in mutants_of(source, file)]
    random.Random(seed).shuffle(found)
    drawn: dict[tuple[str, int], Mutant] = {}
    for one in found:
        if len(drawn) == count:
            break
        if (one.file, one.line) not in drawn and compiles(one, sources[one.file]):
            drawn[one.file, one.line] = one
    return list(drawn.values())


def compiles(mutant: Mutant, source: str) -> bool:
    try:
        compile(mutant.apply(source), mutant.file, "exec", dont_inherit=True)
    except (SyntaxError, ValueError):
        return False
    return True


def draw_rooms(root: Path, rooms: Sequence[str], count: int, seed: int) -> list[tuple[str, Mutant]]:
    """So many changes in total, the same number per room."""
    share, more = divmod(count, len(rooms))
    return [
        (room, one) for n, room in enumerate(rooms) for one in draw(sources(root, [room]), share + (n < more), seed)
    ]


def trial(
    root: Path,
    drawn: Sequence[tuple[str, Mutant]],
    *,
    at_once: int = 2,
    budget: float = BUDGET,
    slack: float = SLACK,
    own_only: bool = False,
    argued: Path = ARGUED,
    tell: Callable[[str], None] = lambda _: None,
) -> list[Tried]:
    """Try these mutants, each against the tests of its room and then against all others.

    Args:
        own_only: against the tests of its room only.

    Raises:
        RuntimeError: a test fails on the program unchanged, so that it would catch everything.
    """
    texts = sources(root, [""])
    users = _users(texts)
    tests_said = {file: (root / file).read_text() for file in test_files(root)}
    reasons = {(one["file"], one["function"], one["change"]): one["why"] for one in argued_in(argued)}
    found: dict[int, Tried] = {}

    def job(place: int, covered: Covered) -> Callable[[Callable[[Job], Answer]], None]:
        def act(ask: Callable[[Job], Answer]) -> None:
            room, mutant = drawn[place]
            tests = order_tests(choose(mutant, covered, users, tests_said), budget)
            now = found.get(place, Tried(mutant, room, "not run", argued=reasons.get(mutant.key, "")))
            before = now.seconds
            for start in range(0, len(tests), FIRST):
                if not now.caught and now.seconds - before < budget:
                    now = _attempt(ask, now, mutant.apply(texts[mutant.file]), tests[start : start + FIRST], slack)
            found[place] = now
            tell(f"{place + 1} of {len(drawn)}: {said(found[place])}")

        return act

    with workers(root, at_once) as at_work:
        looker = Looker(root, at_work, ROOMS, tell)
        for room in dict.fromkeys(room for room, _ in drawn):
            files = [file for file in looker.files if file.startswith(f"tests/{room}/")]
            own = looker.look(files)
            at_work.each(job(place, own) for place, (of, _) in enumerate(drawn) if of == room)
        left = [place for place, one in sorted(found.items()) if not one.caught]
        for room in () if own_only else dict.fromkeys(drawn[place][0] for place in left):
            rest = looker.look([file for file in looker.files if not file.startswith(f"tests/{room}/")])
            at_work.each(job(place, rest) for place in left if drawn[place][0] == room)
    return [found[place] for place in sorted(found)]


def _attempt(ask: Callable[[Job], Answer], before: Tried, text: str, tests: Sequence[Test], slack: float) -> Tried:
    """What is known about a mutant after these tests."""
    if not tests:
        return before
    limits = {test.id: slack + TIMES * test.seconds for test in tests}
    answer = ask({"file": before.mutant.file, "text": text, "tests": [test.id for test in tests], "limits": limits})
    passed = answer["outcome"] == "passed"
    return replace(
        before,
        outcome="survived" if passed else answer["outcome"],
        by="" if passed else answer["by"],
        ran=before.ran + answer["ran"],
        seconds=before.seconds + answer["seconds"],
    )


def order_tests(tests: Sequence[Test], budget: float) -> list[Test]:
    """As many as may fit into the time, and at least one.

    Half of the time is for the first, which are the likeliest; then come those that run the most lines, which see what
    many quick ones miss; then the others, as a test takes less than its time when its lines were recorded.
    """
    found = _up_to(tests, budget / 2) or list(tests[:1])
    known = {test.id for test in found}
    broad = sorted(
        (test for test in tests if test.id not in known), key=lambda test: -sum(map(len, test.lines.values()))
    )
    found += _up_to(broad, budget - sum(test.seconds for test in found))
    known = {test.id for test in found}
    return [*found, *(test for test in tests if test.id not in known)]


def _up_to(tests: Sequence[Test], seconds: float) -> list[Test]:
    """Those that fit into the time, the first first."""
    found: list[Test] = []
    for test in tests:
        if test.seconds <= seconds:
            found.append(test)
            seconds -= test.seconds
    return found


def _users(texts: Mapping[str, str]) -> dict[str, list[tuple[str, int, int]]]:
    """By name, the functions that read it: file, first and last line of their bodies."""
    found: dict[str, list[tuple[str, int, int]]] = defaultdict(list)
    for file, text in texts.items():
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                place = (file, node.body[0].lineno, node.end_lineno or node.lineno)
                names = {
                    one.id if isinstance(one, ast.Name) else one.attr
                    for one in ast.walk(node)
                    if isinstance(one, ast.Name | ast.Attribute)
                }
                for name in names:
                    found[name].append(place)
    return found


def argued_in(path: Path) -> list[dict[str, str]]:
    return list(tomllib.loads(path.read_text()).get("equivalent", ())) if path.exists() else []


def said(one: Tried) -> str:
    mutant = one.mutant
    where = f"{mutant.file}:{mutant.line}" + (f" {mutant.function}" if mutant.function else "")
    by = f" by {one.by}" if one.by else ""
    what = "survived, argued to change nothing" if one.outcome == "survived" and one.argued else one.outcome
    return f"{what}{by}: {where}: {mutant.operator}: {mutant.change} ({one.ran} tests, {one.seconds:.1f} s)"


def counted(tried: Iterable[Tried]) -> list[Tried]:
    """Counts without survivors argued to change nothing."""
    return [one for one in tried if one.caught or not one.argued]
