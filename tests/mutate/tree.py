"""Copies of the tree to change, and workers in them."""

from __future__ import annotations

import ast
import compileall
import json
import os
import queue
import shutil
import subprocess
import sys
import tempfile
import threading
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from py_compile import PycInvalidationMode
from typing import Any

LEFT_OUT = shutil.ignore_patterns(".*", "__pycache__", "*.pyc", "*.egg-info", "build", "dist")
WORKER = Path(__file__).with_name("worker.py")
OWN = Path(__file__).parent.name

Job = dict[str, Any]
Answer = dict[str, Any]


def copy_tree(root: Path, to: Path) -> None:
    """All but hidden folders; compiled modules are checked against the content of their source, never its date."""
    shutil.copytree(root, to, ignore=LEFT_OUT)
    compileall.compile_dir(to / "floor", quiet=2, invalidation_mode=PycInvalidationMode.CHECKED_HASH, workers=1)


def sources(root: Path, rooms: Iterable[str]) -> dict[str, str]:
    """The modules of these rooms and their text."""
    paths = sorted(path for room in rooms for path in (root / "floor" / room).rglob("*.py"))
    return {path.relative_to(root).as_posix(): path.read_text() for path in paths}


READ_ONLY = frozenset({"tests/checklist/test_nothing_idle.py", "tests/test_layers.py"})
"""They read the program's text on the disk, where no mutant stands, and take minutes while lines are recorded."""


def test_files(root: Path) -> list[str]:
    """Every test file that can catch a mutant; slowest rooms first, so no worker ends late."""
    paths = (path.relative_to(root).as_posix() for path in (root / "tests").rglob("test_*.py"))
    return sorted(
        (path for path in paths if f"/{OWN}/" not in path and path not in READ_ONLY),
        key=lambda path: ("whole" not in path, path),
    )


def imported(root: Path) -> list[str]:
    """Third-party modules the program or its tests import: a worker imports them once for all."""
    found: set[str] = set()
    for path in (*(root / "floor").rglob("*.py"), *(root / "tests").rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.Import):
                found.update(alias.name for alias in node.names)
            elif isinstance(node, ast.ImportFrom) and node.module:
                found.update((node.module, *(f"{node.module}.{alias.name}" for alias in node.names)))
    ours = ("floor", "tests", "__future__")
    return sorted(name for name in found if name.split(".")[0] not in (*ours, *sys.stdlib_module_names))


@contextmanager
def workers(root: Path, count: int) -> Iterator[Workers]:
    """A number of workers, each with a copy of the tree; both are removed afterward."""
    with tempfile.TemporaryDirectory(prefix="floor-mutate-") as folder:
        trees = [Path(folder, f"tree{n}") for n in range(count)]
        for tree in trees:
            copy_tree(root, tree)
        names = imported(root)
        started = [
            subprocess.Popen(
                [sys.executable, "-P", str(WORKER), *names],
                cwd=tree,
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                text=True,
                env={**os.environ, "TMPDIR": folder},
            )
            for tree in trees
        ]
        try:
            yield Workers(started)
        finally:
            for one in started:
                with one:  # closes its pipes, so it ends
                    one.kill()


class Workers:
    """Processes that take one job at a time each."""

    def __init__(self, started: Sequence[subprocess.Popen[str]]) -> None:
        self.started = started

    def each(self, jobs: Iterable[Callable[[Callable[[Job], Answer]], None]]) -> None:
        """Do all jobs, as many at a time as there are workers; each gets a way to ask its worker."""
        waiting: queue.SimpleQueue[Callable[[Callable[[Job], Answer]], None]] = queue.SimpleQueue()
        for job in jobs:
            waiting.put(job)
        failed: list[BaseException] = []

        def work(process: subprocess.Popen[str]) -> None:
            while not failed:
                try:
                    job = waiting.get_nowait()
                except queue.Empty:
                    return
                try:
                    job(lambda asked: _ask(process, asked))
                except BaseException as error:
                    failed.append(error)

        threads = [threading.Thread(target=work, args=(process,), daemon=True) for process in self.started]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        if failed:
            raise failed[0]


def _ask(process: subprocess.Popen[str], job: Job) -> Answer:
    assert process.stdin is not None
    assert process.stdout is not None
    process.stdin.write(json.dumps(job) + "\n")
    process.stdin.flush()
    line = process.stdout.readline()
    if not line:
        raise RuntimeError(f"a worker ended at {job.get('trace', job.get('file'))}")
    found: Answer = json.loads(line)
    return found
