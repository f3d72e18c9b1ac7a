"""All words of the program: what it can show, and what its code says to its readers."""

from __future__ import annotations

import ast
import io
import re
import tokenize
import tomllib
from collections.abc import Iterator
from contextlib import redirect_stdout, suppress
from dataclasses import dataclass, replace
from functools import cache
from itertools import chain
from pathlib import Path

from floor.cli.main import main
from floor.papers.catalog import KINDS, PaperSource, make_offer
from floor.papers.status import write_status_text
from tests.papers.half_done import half_done, report_alone
from tests.screens.picture import FOLDER, read_pages
from tests.screens.seen import text_of

ROOT = Path(__file__).parent.parent
CODE = tuple(sorted((ROOT / "floor").rglob("*.py")))
TESTS = tuple(sorted((ROOT / "tests").rglob("*.py")))
PICTURES = tuple(sorted((ROOT / "tests").rglob("__snapshots__/**/*.svg")))
CHECKLISTS = tuple(sorted((ROOT / "checklists").glob("*.toml")))
READMES = (ROOT / "README.md", ROOT / "checklists" / "README.md")
STYLE = re.compile(r"\{[^}]*\b(height|color|width|display|padding)\b[^}]*:")
"""A style sheet in a string."""


@dataclass(frozen=True, slots=True)
class Text:
    """A line of words, and where it is."""

    place: str
    line: int
    words: str

    def __str__(self) -> str:
        return f"{self.place}:{self.line}: {self.words.strip()}"


@dataclass(frozen=True, slots=True)
class Ban:
    """A banned pattern, what to write instead, and why."""

    pattern: re.Pattern[str]
    not_in: str
    write: str
    why: str
    notes: bool

    def finds(self, text: Text) -> str:
        """The first match of the pattern; empty if there is none, or it is allowed there."""
        found = None if self.not_in and text.place.startswith(self.not_in) else self.pattern.search(text.words)
        return found.group() if found else ""


def bans() -> list[Ban]:
    table = tomllib.loads((ROOT / "tests/wording.toml").read_text())["banned"]
    return [
        Ban(re.compile(one["pattern"]), one.get("not_in", ""), one["write"], one["why"], one.get("notes", False))
        for one in table
    ]


def literals(path: Path) -> Iterator[Text]:
    """Words in a module's strings that may be shown: no docstrings, keys, styles or patterns."""
    nodes = list(ast.walk(ast.parse(path.read_text())))
    passed_over = {id(node.value) for node in nodes if isinstance(node, ast.Expr)}
    passed_over |= {id(part) for node in nodes if isinstance(node, ast.JoinedStr) for part in node.values}
    for node in nodes:
        if id(node) in passed_over:
            continue
        if isinstance(node, ast.JoinedStr):
            words = "".join(str(part.value) if isinstance(part, ast.Constant) else "…" for part in node.values)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            words = node.value
        else:
            continue
        if (" " in words.strip() or words[:1].isupper()) and not STYLE.search(words):
            for number, line in enumerate(words.splitlines()):
                yield Text(place_of(path), node.lineno + number, line)


def place_of(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


def lines(place: str, text: str) -> Iterator[Text]:
    for number, line in enumerate(text.splitlines(), 1):
        if line.strip():
            yield Text(place, number, line)


def in_file(path: Path) -> Iterator[Text]:
    return lines(place_of(path), path.read_text())


def pictures() -> Iterator[Text]:
    for path in PICTURES:
        yield from lines(place_of(path), text_of(path.read_text()))
    for path in sorted(FOLDER.rglob("*.txt")):
        for page in read_pages(path):
            yield from lines(place_of(path), "\n".join(page.lines))


def papers() -> Iterator[Text]:
    """Every paper of a half-done batch, and what ``floor status`` prints of it."""
    bench = half_done()
    source = PaperSource(bench.state, bench.clock(), bench.state.entries[-1].hash, {"AA": "Arne Aas"}, "AA")
    source = replace(source, earlier=lambda: report_alone(bench))
    for kind in KINDS:
        if kind not in ("csv", "json"):
            yield from lines(f"paper {kind}", make_offer(source, kind, piece=1).write())
    yield from lines("floor status", write_status_text([bench.state], [], bench.clock()))


def helps() -> Iterator[Text]:
    """What ``--help`` prints, of the program and of each of its commands."""
    whole = _help()
    yield from lines("floor --help", whole)
    for name in re.findall(r"(?m)^    (\w+) ", whole.partition("commands:")[2].partition("examples:")[0]):
        yield from lines(f"floor {name} --help", _help(name))


def _help(*command: str) -> str:
    said = io.StringIO()
    with redirect_stdout(said), suppress(SystemExit):
        main([*command, "--help"])
    return said.getvalue()


@cache
def shown() -> tuple[Text, ...]:
    """Every text the program can show, and the shipped files meant for reading."""
    code = chain.from_iterable(map(literals, CODE))
    files = chain.from_iterable(map(in_file, (*CHECKLISTS, *READMES)))
    return (*code, *pictures(), *papers(), *helps(), *files)


@cache
def notes() -> tuple[Text, ...]:
    """Docstrings and comments of the program and its tests."""
    return tuple(chain.from_iterable(map(_notes_in, (*CODE, *TESTS))))


def _notes_in(path: Path) -> Iterator[Text]:
    text = path.read_text()
    for token in tokenize.generate_tokens(io.StringIO(text).readline):
        if token.type == tokenize.COMMENT:
            yield Text(place_of(path), token.start[0], token.string)
    for node in _statements(ast.parse(text)):
        said = node.value if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant) else None
        if said is not None and isinstance(said.value, str):
            for number, line in enumerate(said.value.splitlines()):
                yield Text(place_of(path), node.lineno + number, line)


def _statements(tree: ast.AST) -> Iterator[ast.AST]:
    """All statements, without the expressions in them: those are nine of ten nodes."""
    for within in ("body", "handlers", "cases", "orelse", "finalbody"):
        for node in getattr(tree, within, ()):
            yield node
            yield from _statements(node)
