"""One English everywhere: plain, American, the words of the trade, one word for one thing."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterable

import pytest

from tests.language import ROOT, Ban, Text, bans, helps, notes, shown

BANS = bans()
WIDE = 80
"""Columns of the narrowest terminal."""


def told(found: Iterable[tuple[Text, Ban, str]]) -> list[str]:
    return [f'{text}\n    "{hit}": write {ban.write} ({ban.why})' for text, ban, hit in found]


def breaches(texts: Iterable[Text], held: Iterable[Ban]) -> list[tuple[Text, Ban, str]]:
    held = list(held)
    return [(text, ban, hit) for text in texts for ban in held if (hit := ban.finds(text))]


def test_nothing_that_is_shown_holds_a_banned_word() -> None:
    found = told(breaches(shown(), BANS))
    assert not found, f"{len(found)} places\n" + "\n".join(found)


def test_docstrings_and_comments_keep_to_what_is_american() -> None:
    found = told(breaches(notes(), [ban for ban in BANS if ban.notes]))
    assert not found, f"{len(found)} places\n" + "\n".join(found)


def test_nothing_is_misspelled_or_british() -> None:
    """Set up in pyproject.toml, with the words of the trade in tests/trade_words.txt."""
    done = subprocess.run([sys.executable, "-m", "codespell_lib"], cwd=ROOT, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr


def test_help_fits_a_terminal_of_80_columns(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", str(WIDE))
    assert [str(text) for text in helps() if len(text.words) > WIDE] == []


@pytest.mark.parametrize(("words", "hit"), [
    ("Flash not ripe, 9 min left", "ripe"),
    ("A disposition takes a lead", "takes a lead"),
    ("The pin of RK is set", "pin"),
    ("Clear it: floor demo --fresh", ""),
    ("begun 14:05", "begun"),
    ("Strike the entry out", ""),
    ("x Strike  e Papers", "Strike"),
    ("booth earthed", "earthed"),
    ("The mill is safe to open", "mill is safe"),
    ("Floor never says that a machine is safe.", ""),
])  # fmt: skip
def test_a_ban_finds_its_word_and_lets_others_stand(words: str, hit: str) -> None:
    found = breaches([Text("here", 1, words)], BANS)
    assert [one[2] for one in found] == ([hit] if hit else [])


def test_every_source_of_words_is_read() -> None:
    places = {text.place for text in shown()}
    assert {
        "README.md",
        "checklists/README.md",
        "floor --help",
        "floor plan --help",
        "paper handover",
        "floor status",
    } <= places
    assert len([place for place in places if place.endswith(".txt")]) > 50
    assert len([place for place in places if place.startswith("checklists/") and place.endswith(".toml")]) == 3
    assert len([place for place in places if place.startswith("floor/")]) > 100
    assert {"tests/test_language.py", "tests/language.py"} <= {text.place for text in notes()}
