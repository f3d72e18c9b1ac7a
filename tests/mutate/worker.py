"""Runs tests in forks of one process that has imported pytest and everything else the tests import, except the
    program.

Reads jobs from standard input and answers on standard output, one line of JSON each. It starts as a script inside a
copy of the tree and imports nothing from it: each fork imports the copy as it is then.

A job to trace: {"trace": file of tests}. The answer: {"tests": {id: {"seconds", "outcome", "lines": {file: [...]}}}}.
A job to try: {"file", "text", "tests": [ids in their order], "limits": {id: seconds}, "rest"}. The answer: {"outcome":
"caught" | "hung" | "passed", "by": id of the last test, "ran": how many, "seconds"}.
"""

from __future__ import annotations

import contextlib
import gc
import importlib
import importlib.metadata
import json
import os
import resource
import select
import signal
import sys
import time
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from threading import Timer
from typing import Any

import pytest

sys.path.insert(0, os.path.dirname(__file__))
from marks import Marks  # noqa: E402  started as a script, so that nothing of the tree is imported here

del sys.path[0]

STARTING = 60.0
"""Most seconds for importing and collecting."""
TRACING = 3600.0
"""Most seconds for one file's tests when traced."""
ENDED = "ended "
MEMORY = 8 << 30
"""Bytes a mutant may use before it fails."""


def quick_hypothesis() -> None:
    """The same examples in every run, none kept, and no shrinking of the first failure."""
    with contextlib.suppress(ImportError):
        from hypothesis import Phase, settings

        phases = (Phase.explicit, Phase.generate)
        usual = settings.get_profile(settings.get_current_profile_name())
        settings.register_profile("trial", usual, derandomize=True, database=None, phases=phases, print_blob=False)
        settings.load_profile("trial")


class Chosen:
    """Runs the tests with these ids, in order, and reports each one it starts."""

    def __init__(self, ids: list[str], say: Callable[[str], None]) -> None:
        self.place = {id: n for n, id in enumerate(ids)}
        self.say = say

    def pytest_collection(self) -> None:
        quick_hypothesis()

    @pytest.hookimpl(trylast=True)
    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        items[:] = sorted((one for one in items if one.nodeid in self.place), key=lambda one: self.place[one.nodeid])

    def pytest_runtest_logstart(self, nodeid: str) -> None:
        self.say(nodeid)

    def pytest_sessionfinish(self, exitstatus: int) -> None:
        self.say(f"{ENDED}{int(exitstatus)}")


class Traced:
    """Records which program lines each test runs, how long it takes, and whether it passes.

    Caches are cleared before each test: else only the first caller would run their lines.
    """

    def __init__(self, marks: Marks) -> None:
        self.marks = marks
        self.found: dict[str, dict[str, Any]] = {}
        self.kept: list[Any] = []

    def pytest_collection(self) -> None:
        quick_hypothesis()

    def pytest_collection_finish(self) -> None:
        ours = [module for name, module in sys.modules.items() if name.startswith(("floor.", "tests."))]
        self.kept = [one for module in ours for one in vars(module).values() if hasattr(one, "cache_clear")]

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        for one in self.kept:
            one.cache_clear()
        self.marks.lines()
        self.found[item.nodeid] = {"outcome": "passed"}
        began = time.perf_counter()
        try:
            return (yield)
        finally:
            seconds = round(time.perf_counter() - began, 3)
            self.found[item.nodeid] |= {"seconds": seconds, "lines": self.marks.lines()}

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if not report.passed and self.found[report.nodeid]["outcome"] != "failed":
            self.found[report.nodeid]["outcome"] = report.outcome


def run_pytest(files: list[str], plugin: object, *more: str) -> int:
    arguments = [
        "-q",
        "-n0",
        "--tb=no",
        "--no-header",
        "-pno:cacheprovider",
        "-Wignore::pytest.PytestAssertRewriteWarning",
    ]
    return int(pytest.main([*arguments, *more, *files], plugins=[plugin]))


class Forks:
    """One fork for each job, given up after a time."""

    def __init__(self, root: Path) -> None:
        self.root = root

    def fork(
        self, act: Callable[[Callable[[str], None]], int], limit: Callable[[str], float], starting: float = STARTING
    ) -> tuple[int, list[str]]:
        """Its exit status, -1 if given up, and its output; each line of output extends its limit."""
        into, out = os.pipe()
        child = os.fork()
        if child == 0:
            os.close(into)
            self._act(act, out)
        os.close(out)
        said: list[str] = []
        rest, until = b"", time.monotonic() + starting
        while True:
            ready, _, _ = select.select([into], [], [], max(until - time.monotonic(), 0))
            if not ready:
                status = -1
                break
            read = os.read(into, 1 << 16)
            if not read:
                status = self._wait(child)
                break
            *lines, rest = (rest + read).split(b"\n")
            for line in lines:
                said.append(line.decode())
                until = time.monotonic() + limit(said[-1])
        with contextlib.suppress(ProcessLookupError, PermissionError):
            os.killpg(child, signal.SIGKILL)
        if status == -1:
            self._wait(child)
        os.close(into)
        return status, said

    def _act(self, act: Callable[[Callable[[str], None]], int], out: int) -> None:
        """In the fork: never returns."""
        status = 1
        try:
            os.setsid()
            nothing = os.open(os.devnull, os.O_RDWR)
            for stream in (0, 1, 2):
                os.dup2(nothing, stream)
            resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
            os.chdir(self.root)
            status = act(lambda line: void(os.write(out, line.encode() + b"\n")))
        finally:
            os._exit(status)

    def _wait(self, child: int) -> int:
        """Its status; a fork that does not end after its last test is ended."""
        late = Timer(STARTING, os.kill, (child, signal.SIGKILL))
        late.start()
        _, status = os.waitpid(child, 0)
        late.cancel()
        late.join()
        return os.WEXITSTATUS(status) if os.WIFEXITED(status) else -1


def void(_: object) -> None:
    return None


def trace(forks: Forks, job: dict[str, Any]) -> dict[str, Any]:
    answer = forks.root / f".traced-{os.getpid()}.json"
    marks = marks_of(forks.root, tuple(job["rooms"]))

    def act(say: Callable[[str], None]) -> int:
        marks.install()
        traced = Traced(marks)
        status = run_pytest([job["trace"]], traced)
        answer.write_text(json.dumps(traced.found))
        return status

    status, _ = forks.fork(act, lambda _: 0.0, starting=TRACING)
    found = json.loads(answer.read_text()) if answer.exists() else {}
    answer.unlink(missing_ok=True)
    return {"tests": found, "status": status}


@cache
def marks_of(root: Path, rooms: tuple[str, ...]) -> Marks:
    return Marks(root, rooms)


def attempt(forks: Forks, job: dict[str, Any]) -> dict[str, Any]:
    path = forks.root / job["file"]
    was = path.read_text()
    ids, limits = job["tests"], job["limits"]
    files = list(dict.fromkeys(id.split("::")[0] for id in ids))
    began = time.monotonic()

    def act(say: Callable[[str], None]) -> int:
        resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
        return run_pytest(files, Chosen(ids, say), "-x")

    path.write_text(job["text"])
    try:
        status, said = forks.fork(act, lambda said: float(limits.get(said, STARTING)))
    finally:
        path.write_text(was)
    ended = said.pop() if said and said[-1].startswith(ENDED) else ""
    # The interpreter's output at exit does not count, as after any part of the tests.
    outcome = "passed" if ended == f"{ENDED}0" else "hung" if status == -1 and not ended else "caught"
    by = said[-1] if said else "the import"
    return {"outcome": outcome, "by": by, "ran": len(said), "seconds": round(time.monotonic() - began, 2)}


def main() -> None:
    root = Path.cwd()
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    os.environ.update(PYTHONPATH=str(root), OPENBLAS_NUM_THREADS="1")
    sys.dont_write_bytecode = False
    answers = os.fdopen(os.dup(1), "w")
    os.dup2(2, 1)
    for entry in importlib.metadata.entry_points(group="pytest11"):
        entry.load()
    for name in sys.argv[1:]:
        with contextlib.suppress(ImportError):
            importlib.import_module(name)
    gc.collect()
    gc.freeze()
    forks = Forks(root)
    for line in sys.stdin:
        job = json.loads(line)
        answer = trace(forks, job) if "trace" in job else attempt(forks, job)
        print(json.dumps(answer), file=answers, flush=True)


if __name__ == "__main__":
    main()
