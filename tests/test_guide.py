"""The guides for developers, shops and authors of checklists are short, and everything they name is there."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

from tests.language import CODE, ROOT, TESTS, helps

PACKAGE = ROOT / "floor"
MOST_WORDS = {"DEVELOPERS.md": 4_000, "README.md": 4_600, "checklists/README.md": 4_000}
"""Guide → words. The first: a good quarter of an hour at 260 words a minute, a fast reader of technical text (from
memory). The others: what each had when it was last worked over (shop decision)."""
FILES = re.compile(r"\w/|/\w|\.(py|toml|md|txt)$")
FENCE = re.compile(r"```(\w+)\n(.*?)```", re.DOTALL)
LINK = re.compile(r"\]\(<?([^)>]+)>?\)")
COMMAND = re.compile(r"(?m)(?:^|`)(?:\.venv/bin/)?floor ([a-z]\w*)")
"""A command at the start of a line or of what stands in backticks."""


def read_guide(name: str = "DEVELOPERS.md") -> str:
    return (ROOT / name).read_text(encoding="utf-8")


def count_words(text: str) -> int:
    """Words as ``wc -w`` counts them, tables and commands included."""
    return len(text.split())


def list_named(text: str) -> Iterator[str]:
    """What stands in backticks, and each command of a fenced block of them, without its remark."""
    for language, block in FENCE.findall(text):
        if language == "sh":
            for line in block.splitlines():
                yield from re.split(r" && ", line.partition(" #")[0].strip())
    for span in re.findall(r"`([^`]+)`", FENCE.sub("", text)):
        yield " ".join(span.split())


def list_missing(text: str) -> list[str]:
    """What the text names and the repository does not have: files, modules, commands, names of the code."""
    return [named for named in list_named(text) if not is_there(named)]


def is_there(named: str) -> bool:
    named = named.removeprefix(".venv/bin/")
    command, *rest = named.split(" ")
    if command == "floor" and rest:
        return rest[0] in list_commands() and has_files(rest)
    if rest:
        return has_module(rest) if rest[0] == "-m" and "tests." in named else has_files(rest)
    return has_file(named) if FILES.search(named) else has_names(named)


def has_module(rest: list[str]) -> bool:
    """Whether ``python -m`` finds the module, without importing it: some of them run for hours."""
    path = ROOT / rest[1].replace(".", "/")
    return path.with_suffix(".py").is_file() or (path / "__main__.py").is_file()


def has_files(words: list[str]) -> bool:
    """Whether the files of this repository among the words of a command are there."""
    return all(has_file(word) for word in words if word.startswith(("tests/", "floor/", "checklists/")))


def has_file(named: str) -> bool:
    """Whether a file or folder is there, named from the repository, from ``floor/`` or from a room in it."""
    if braces := re.search(r"\{(.*?)\}", named):
        return all(has_file(named.replace(braces.group(), one)) for one in braces.group(1).split(","))
    pattern = named.strip("/").replace("…", "*")
    return any(any(ROOT.glob(f"{within}{pattern}")) for within in ("", "floor/", "floor/*/"))


def has_names(named: str) -> bool:
    """Whether the code has each word; one that ends in ``_`` or ``…`` begins words of the code."""
    return all(
        any(word.startswith(part) for word in list_words()) if part.endswith("_") else part in list_words()
        for part in re.findall(r"\w+", named)
    )


@cache
def list_words() -> frozenset[str]:
    files = (*(path for path in (*CODE, *TESTS) if path != Path(__file__)), ROOT / "pyproject.toml", ROOT / "README.md")
    return frozenset(re.findall(r"\w+", "\n".join(path.read_text(encoding="utf-8") for path in files)))


@cache
def list_commands() -> frozenset[str]:
    return frozenset(text.place.split(" ")[1] for text in helps())


def list_anchors(text: str) -> set[str]:
    """Where a link can lead in a text: its headings in lower case, spaces as hyphens, without other signs."""
    headings = re.findall(r"(?m)^#+ (.+)$", FENCE.sub("", text))
    return {re.sub(r"[^\w -]", "", heading.lower()).replace(" ", "-") for heading in headings}


def list_broken_links(name: str, text: str) -> list[str]:
    """Links of a guide to a file, picture or heading that is not there."""
    return [link for link in LINK.findall(FENCE.sub("", text)) if not leads_somewhere(name, text, link)]


def leads_somewhere(name: str, text: str, link: str) -> bool:
    path, _, anchor = link.partition("#")
    target = (ROOT / name).parent / path if path else ROOT / name
    if not target.exists():
        return False
    return not anchor or anchor in list_anchors(target.read_text(encoding="utf-8") if path else text)


def list_headings_unlinked(text: str) -> list[str]:
    """Chapters that the table of contents, before the first of them, does not lead to."""
    linked = {link.removeprefix("#") for link in LINK.findall(text)}
    return sorted(list_anchors("\n".join(re.findall(r"(?m)^## .+$", FENCE.sub("", text)))) - linked)


def list_rows(text: str) -> dict[str, str]:
    """Room → its row in the table of rooms."""
    [section] = re.findall(r"^## The rooms\n(.*?)^## ", text, re.DOTALL | re.MULTILINE)
    rows = [row for row in section.splitlines() if row.startswith("| `")]
    return {room: row for row in rows for room in re.findall(r"`([^`]+)`", row.split(" | ")[0])}


def list_unnamed(text: str) -> list[str]:
    """Rooms of ``floor/`` that the table does not have, and folders in them that are not in their row."""
    rows = list_rows(text)
    rooms = [f"{path.name}/" for path in list_packages(PACKAGE)]
    rooms += [path.name for path in PACKAGE.glob("*.py") if not path.name.startswith("__")]
    within = [(f"{path.name}/", f"{one.name}/") for path in list_packages(PACKAGE) for one in list_packages(path)]
    return sorted(
        [room for room in rooms if room not in rows]
        + [room + folder for room, folder in within if room in rows and f"`{folder}`" not in rows[room]]
    )


def list_packages(folder: Path) -> list[Path]:
    return [path.parent for path in folder.glob("*/__init__.py")]


@pytest.mark.parametrize("name", MOST_WORDS)
def test_it_is_short(name: str) -> None:
    assert count_words(read_guide(name)) <= MOST_WORDS[name], "shorten it: a docstring or --help may be the place"


@pytest.mark.parametrize("name", MOST_WORDS)
def test_its_links_lead_to_what_is_there(name: str) -> None:
    assert list_broken_links(name, read_guide(name)) == []


@pytest.mark.parametrize("name", ["README.md", "checklists/README.md"])
def test_its_contents_lead_to_every_chapter(name: str) -> None:
    assert list_headings_unlinked(read_guide(name)) == []


@pytest.mark.parametrize("name", ["README.md", "checklists/README.md"])
def test_every_command_it_names_is_there(name: str) -> None:
    assert set(COMMAND.findall(read_guide(name))) - list_commands() == set()


def test_the_readme_lists_every_command() -> None:
    listed = read_guide("README.md").partition("\n## Commands\n")[2].partition("\n## ")[0]
    assert set(COMMAND.findall(listed)) >= list_commands() - {"--help"}


def test_the_readme_starts_with_the_job_and_the_two_commands() -> None:
    job, cautions, *_ = read_guide("README.md").split("\n\n")[1:]
    assert job.startswith("Floor walks an operator")
    assert cautions.startswith("**It advises")
    assert ".venv/bin/pip install -q . && .venv/bin/floor demo" in read_guide("README.md").partition("\n## The")[0]


def test_every_file_module_command_and_name_is_there() -> None:
    assert list_missing(read_guide()) == []


def test_the_table_has_every_room_and_every_folder_in_it() -> None:
    assert list_unnamed(read_guide()) == []


# --- the guards themselves


@pytest.mark.parametrize("there", [
    "floor/app.py", "batch/tag.py", "questions/", "…_gates.py", "tests/{batch,planning}", ".ci/run",
    "floor plan --json", ".venv/bin/python -m tests.mutate --seed 1", ".venv/bin/python -m tests.ledger.soak",
    ".venv/bin/pytest", "Shop.do", "find_", "judge_…", "/", "!",
])  # fmt: skip
def test_what_is_there_is_found(there: str) -> None:
    assert list_missing(f"as `{there}` has it") == []
    assert list_missing(f"```sh\n{there}  # remark\n```\n") == []


@pytest.mark.parametrize("gone", [
    "floor/nowhere.py", "batch/nowhere.py", "nowhere/", "…_nowheres.py", "tests/{batch,nowhere}", "floor nowhere",
    "floor check checklists/nowhere.toml", ".venv/bin/python -m tests.nowhere", ".venv/bin/pytest tests/nowhere.py",
    "Shop.zap_nowhere", "zap_", "zap_…",
])  # fmt: skip
def test_what_is_gone_is_named(gone: str) -> None:
    assert list_missing(f"as `{gone}` has it") == [gone]
    assert list_missing(f"```sh\n{gone}  # remark\n```\n") == [gone]


@pytest.mark.parametrize(("row", "told"), [
    ("`ledger/`", ["ledger/"]), ("`wall.py`", ["wall.py"]), ("`nc/`", ["evidence/nc/"]),
])  # fmt: skip
def test_a_room_or_folder_that_the_table_lacks_is_named(row: str, told: list[str]) -> None:
    assert list_unnamed(read_guide().replace(row, "`elsewhere/`")) == told


@pytest.mark.parametrize(("link", "broken"), [
    ("checklists/README.md", False), ("checklists/README.md#times", False), ("#rooms-and-so-on", False),
    ("<tests/test_guide.py>", False), ("nowhere.md", True), ("#nowhere", True), ("checklists/README.md#nowhere", True),
])  # fmt: skip
def test_a_link_that_leads_nowhere_is_named(link: str, broken: bool) -> None:
    text = f"# Guide\n\n## Rooms, and so on\n\n[here]({link})\n"
    assert list_broken_links("README.md", text) == ([link.strip("<>")] if broken else [])


def test_a_chapter_that_the_contents_lack_is_named() -> None:
    assert list_headings_unlinked("[Rooms](#rooms)\n\n## Rooms\n\n## In shop.toml\n") == ["in-shoptoml"]


def test_words_in_tables_and_commands_count() -> None:
    assert count_words("# A b\n\n| c | d |\n```sh\ne f\n```\n") == 12
