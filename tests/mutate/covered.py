"""Which tests run which lines, recorded once and kept in pytest's cache until the program changes."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.mutate.mutants import Mutant
from tests.mutate.tree import OWN, Answer, Job, Workers, test_files

CACHE = Path(".pytest_cache", "mutate")


@dataclass(frozen=True, slots=True)
class Test:
    """One test on the unchanged program."""

    id: str
    seconds: float
    lines: Mapping[str, frozenset[int]]
    """By program file: the lines it runs."""


class Covered:
    """The tests of a tree with the lines they run."""

    def __init__(self, tests: Iterable[Test]) -> None:
        self.tests = sorted(tests, key=lambda test: (test.seconds, test.id))
        self._of: dict[str, dict[int, list[Test]]] = {}
        for test in self.tests:
            for file, lines in test.lines.items():
                of = self._of.setdefault(file, {})
                for line in lines:
                    of.setdefault(line, []).append(test)

    def running(self, file: str, first: int, last: int) -> list[Test]:
        """The tests that run one of these lines, quickest first."""
        of = self._of.get(file, {})
        found = {test.id: test for line in range(first, last + 1) for test in of.get(line, ())}
        return sorted(found.values(), key=lambda test: (test.seconds, test.id))

    def of_file(self, file: str) -> list[Test]:
        return [test for test in self.tests if file in test.lines]


def choose(
    mutant: Mutant,
    covered: Covered,
    users: Mapping[str, Iterable[tuple[str, int, int]]],
    texts: Mapping[str, str],
) -> list[Test]:
    """The tests a change can turn red, likeliest and quickest first.

    A test named for the function is the likeliest, then those of files that import its module or are named for it:
    what only passes by, as all do that read a checklist, seldom looks at the result.

    Args:
        users: by name, the functions that read it (file, first and last line). Code that runs at import belongs to no
            single test: tests of functions that use its name come first, then those of its file.
        texts: the text of each test file.
    """
    module = mutant.file.removesuffix(".py").removesuffix("/__init__").replace("/", ".")
    package, _, called = module.rpartition(".")
    name = mutant.function.rpartition(".")[2].lstrip("_")
    about = {
        file: module in text or f"from {package} import" in text or file.endswith(f"/test_{called}.py")
        for file, text in texts.items()
    }

    def unlikely(test: Test) -> tuple[bool, bool]:
        return not (name and name in test.id), not about.get(test.id.partition("::")[0], False)

    found = _reaching(mutant, covered, users)
    if mutant.body is None:  # a test that reads a table as it stands runs no line of it
        found += [test for test in covered.tests if module in texts.get(test.id.partition("::")[0], "")]
    return sorted({test.id: test for test in found}.values(), key=unlikely)


def _reaching(mutant: Mutant, covered: Covered, users: Mapping[str, Iterable[tuple[str, int, int]]]) -> list[Test]:
    if mutant.body is not None:
        for first, last in (mutant.lines, mutant.around):
            found = covered.running(mutant.file, first, last)
            if found:
                return found
        in_signature = mutant.around[1] < mutant.body[0]
        return covered.running(mutant.file, *mutant.body) if in_signature else []
    found = covered.running(mutant.file, *mutant.lines)
    for name in reversed(mutant.names):  # a field before its class, which many more know
        running = {test.id: test for place in users.get(name, ()) for test in covered.running(*place)}
        found += sorted(running.values(), key=lambda test: (test.seconds, test.id))
    return list({test.id: test for test in (*found, *covered.of_file(mutant.file))}.values())


class Looker:
    """Finds which lines the tests of a tree run, file by file on demand, and keeps the result.

    A test file is run again if it, shared test code, or the program changed.
    """

    def __init__(self, root: Path, workers: Workers, rooms: Sequence[str], tell: Callable[[str], None]) -> None:
        self.cache = root / CACHE
        self.workers = workers
        self.rooms = [f"floor/{room}" for room in rooms]
        self.tell = tell
        self.digests = _digests(root)
        self.known: dict[str, dict[str, Any]] = {}

    @property
    def files(self) -> list[str]:
        return list(self.digests)

    def look(self, files: Sequence[str]) -> Covered:
        """The tests of these files.

        Raises:
            RuntimeError: a test fails on the unchanged program, so it would catch everything.
        """
        missing = [file for file in files if file not in self.known and not self._kept(file)]
        if missing:
            self.tell(f"looking which lines the tests of {len(missing)} files run")
        self.workers.each(map(self._job, missing))
        tests = [(id, one) for file in files for id, one in self.known[file].items()]
        failing = [id for id, one in tests if one["outcome"] == "failed"]
        if failing:
            raise RuntimeError("these tests fail on the program unchanged: " + ", ".join(failing))
        return Covered(
            Test(id, one["seconds"], {file: frozenset(lines) for file, lines in one["lines"].items()})
            for id, one in tests
            if one["outcome"] == "passed"
        )

    def _path(self, file: str) -> Path:
        return self.cache / f"{file.replace('/', '.')}.json"

    def _kept(self, file: str) -> bool:
        path = self._path(file)
        kept = json.loads(path.read_text()) if path.exists() else {}
        if kept.get("digest") != self.digests[file]:
            return False
        self.known[file] = kept["tests"]
        return True

    def _job(self, file: str) -> Callable[[Callable[[Job], Answer]], None]:
        def act(ask: Callable[[Job], Answer]) -> None:
            answer = ask({"trace": file, "rooms": self.rooms})
            tests = answer["tests"]
            if not tests:
                raise RuntimeError(f"no tests were run of {file} (status {answer['status']})")
            self.known[file] = tests
            self.cache.mkdir(parents=True, exist_ok=True)
            self._path(file).write_text(json.dumps({"digest": self.digests[file], "tests": tests}))
            self.tell(f"  {file}: {len(tests)} tests, {sum(one['seconds'] for one in tests.values()):.0f} s")

        return act


def _digests(root: Path) -> dict[str, str]:
    """By test file: digest of it and of everything it can depend on."""
    files = test_files(root)
    shared = [
        path
        for folder in ("floor", "checklists", "tests")
        for path in sorted((root / folder).rglob("*"))
        if path.suffix in (".py", ".toml", ".json")
        and path.relative_to(root).as_posix() not in files
        and path.parent.name != OWN
    ]
    base = hashlib.sha256()
    for path in shared:
        base.update(f"{path.relative_to(root)}\0".encode() + path.read_bytes())
    return {file: hashlib.sha256(base.digest() + (root / file).read_bytes()).hexdigest() for file in files}
