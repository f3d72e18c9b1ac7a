"""The line of every value, for every TOML notation."""

import tomllib
from collections.abc import Iterator

import pytest

from floor.checklist.line_numbers import Path, map_lines
from floor.checklist.loading import list_shipped_checklists

MIXED = '''\
# a comment = 1
top = 1
"quoted key" = "a # no comment, \\" no end"   # comment
dotted.inner . deep = 'literal \\'

[table] # comment
text = """
two = 2
\\""" still ""\"\""
after = [1, [2,
  3], # three ]
  { a = 1, b = { c = "}" } },
]

[[many]]
name = \'\'\'
[[many]]
\'\'\'
[[many.inner]]
x = 1
[[many.inner]]
x = 2
[many.sub]
y = 2026-01-05T10:00:00Z
[[many]]
inner = []
'''


def paths(value: object, path: Path = ()) -> Iterator[Path]:
    """Every path of parsed data."""
    if path:
        yield path
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from paths(inner, (*path, key))
    elif isinstance(value, list):
        for place, inner in enumerate(value):
            yield from paths(inner, (*path, place))


def test_lines_of_a_file_with_every_way_of_writing() -> None:
    lines = map_lines(MIXED)

    assert set(lines) == set(paths(tomllib.loads(MIXED)))
    expected = {
        ("top",): 2,
        ("quoted key",): 3,
        ("dotted",): 4,
        ("dotted", "inner", "deep"): 4,
        ("table",): 6,
        ("table", "text"): 7,
        ("table", "after"): 10,
        ("table", "after", 1, 0): 10,
        ("table", "after", 1, 1): 11,
        ("table", "after", 2, "b", "c"): 12,
        ("many",): 15,
        ("many", 0, "name"): 16,
        ("many", 0, "inner", 0, "x"): 20,
        ("many", 0, "inner", 1, "x"): 22,
        ("many", 0, "sub", "y"): 24,
        ("many", 1): 25,
        ("many", 1, "inner"): 26,
    }
    assert {path: lines[path] for path in expected} == expected


@pytest.mark.parametrize("file", list_shipped_checklists(), ids=lambda file: file.stem)
def test_every_key_of_a_shipped_file_stands_on_its_line(file) -> None:  # type: ignore[no-untyped-def]
    text = file.read_text()

    lines = map_lines(text)

    assert set(lines) == set(paths(tomllib.loads(text)))
    for path, line in lines.items():
        named = [part for part in path if isinstance(part, str)][-1]
        if isinstance(path[-1], str):
            assert named in text.split("\n")[line - 1]
