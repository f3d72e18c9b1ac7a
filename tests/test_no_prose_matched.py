"""No code treats a sentence as a fact: what is open, risky or struck is a value with a kind; words come last."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

import floor

ROOT = Path(floor.__path__[0])
CUTS = {"startswith", "endswith", "removeprefix", "removesuffix", "split", "rsplit", "partition", "rpartition"}
SAYS = {"describe", "sentences"}
"""Functions that return words for people, besides those named ``format_…``, ``describe_…`` and ``say_…``."""
SENTENCES = {"sentence", "wrong"}
"""Fields that hold a sentence for people."""
NO_SENTENCE = {
    ("checklist/loading.py", " (at end of document)"): "how the TOML reader of the standard library ends its message",
    ("checklist/schema_messages.py", "write "): "our own hint, set into another one",
    ("checklist/schema_messages.py", "; "): "what a validator of a file raises: what is wrong, and what to do",
    ("batch/gates/judge_process.py", " on "): "where nothing is named before it",
    ("checklist/loading.py", ""): "a mark of our own that stands for a value in a message, no word",
}
"""Exceptions, each with its reason: formats of others, what a person typed, a text put together just above."""
KEYS = {"step ", "caution ", "stop ", "rework ", "code ", "hold ", " here"}
"""Marks in keys of lines, clocks and choices, which nobody sees."""
TYPED = ("planning/questions/",)
"""Rooms that read what a person typed."""


def matches(tree: ast.AST) -> Iterator[tuple[int, str]]:
    """Where code matches a text: splits at a phrase, searches for one, or tests what a function says."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in CUTS:
            phrase = next((one for arg in node.args for one in phrases(arg)), "")
            if phrase or says(node.func.value):
                yield node.lineno, phrase
        elif isinstance(node, ast.Compare) and isinstance(node.ops[0], ast.In | ast.NotIn):
            phrase = next(phrases(node.left), "")
            if says(node.comparators[0]) or (says(node.left) and not isinstance(node.comparators[0], ast.Set)):
                yield node.lineno, phrase
        elif isinstance(node, ast.Compare) and (says(node.left) or any(map(says, node.comparators))):
            yield node.lineno, ""


def phrases(node: ast.expr) -> Iterator[str]:
    """Literals of several words, or with a blank at an end, in an operand; a single blank parts any words."""
    for one in ast.walk(node):
        if isinstance(one, ast.Constant) and isinstance(one.value, str) and " " in one.value and one.value != " ":
            yield one.value


def says(node: ast.expr) -> bool:
    """Whether an expression is a function's words for people, or a field with such words."""
    if isinstance(node, ast.Attribute):
        return node.attr in SENTENCES
    if not isinstance(node, ast.Call):
        return False
    name = getattr(node.func, "attr", getattr(node.func, "id", ""))
    return name in SAYS or name.startswith(("format_", "describe_", "say_"))


def found() -> set[tuple[str, int, str]]:
    return {
        (place, *hit)
        for path in ROOT.rglob("*.py")
        if not (place := path.relative_to(ROOT).as_posix()).startswith(TYPED)
        for hit in matches(ast.parse(path.read_text()))
    }


def test_no_code_matches_a_sentence() -> None:
    assert [hit for hit in sorted(found()) if hit[2] not in KEYS and (hit[0], hit[2]) not in NO_SENTENCE] == []


@pytest.mark.parametrize("was", [
    'any(point.startswith("a handover") for point in points)',
    'describe(batch, entry).removesuffix(" (struck out)")',
    'describe(batch, entry).split(": ", 1)',
    'what == describe(batch, entry)',
    '"floor recover" in journal.condition.sentence',
    'point.startswith(("waiver open", "question open"))',
])  # fmt: skip
def test_what_was_matched_once_is_found(was: str) -> None:
    assert [*matches(ast.parse(was))]


def test_every_exception_is_still_there() -> None:
    assert set(NO_SENTENCE) <= {(place, phrase) for place, _, phrase in found()}
