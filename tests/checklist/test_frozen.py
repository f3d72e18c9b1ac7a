"""A frozen checklist reads back unchanged and fast, and damage is refused just as pydantic refuses it in a file."""

import json
import subprocess
import sys
import tomllib
from copy import deepcopy
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from floor.checklist.frozen import freeze_checklist, read_frozen_checklist
from floor.checklist.loading import list_shipped_checklists, load_checklist, read_checklist
from floor.checklist.model import Checklist
from floor.checklist.schema import make_validator

HERE = Path(__file__).parent
RIGHT = HERE / "right.toml"
FROZEN = HERE / "right.frozen.json"
"""What an earlier version wrote into a record for `RIGHT`."""

FILE: dict[str, Any] = json.loads(json.dumps(tomllib.loads(RIGHT.read_text()), default=str))
DATA: dict[str, Any] = json.loads(FROZEN.read_text())

Place = tuple[str | int, ...]


def right() -> Checklist:
    checklist = load_checklist(RIGHT).checklist
    assert checklist is not None
    return checklist


def same_places(file: Any, frozen: Any, path: Place = ()) -> list[Place]:
    """The paths at which a file and what was frozen of it hold the same kind of value; those with units do not."""
    if type(file) is not type(frozen):
        return []
    inner: list[Any] = []
    if isinstance(file, dict):
        inner = [key for key in file if key in frozen]
    elif isinstance(file, list):
        inner = list(range(len(file)))
    return [path, *(place for key in inner for place in same_places(file[key], frozen[key], (*path, key)))]


def at(data: Any, path: Place) -> Any:
    for key in path:
        data = data[key]
    return data


def put(data: Any, path: Place, value: Any) -> Any:
    if not path:
        return value
    changed = deepcopy(data)
    at(changed, path[:-1])[path[-1]] = value
    return changed


def in_a_file(data: Any) -> Checklist | None:
    """What pydantic makes from a file's data; None if it refuses it."""
    try:
        return make_validator().validate_json(json.dumps(data))
    except ValidationError:
        return None


def in_a_record(data: Any) -> Checklist | None:
    try:
        return read_frozen_checklist(data)
    except ValueError:
        return None


@pytest.mark.parametrize("file", [RIGHT, *list_shipped_checklists()], ids=lambda file: file.stem)
def test_what_is_frozen_reads_back_the_same(file: Path) -> None:
    checklist = load_checklist(file).checklist
    assert checklist is not None

    assert read_frozen_checklist(json.loads(json.dumps(freeze_checklist(checklist)))) == checklist


def test_what_an_earlier_version_froze_is_read_and_would_be_frozen_the_same() -> None:
    assert read_frozen_checklist(DATA) == right()
    assert freeze_checklist(right()) == DATA


def test_a_default_is_not_written() -> None:
    text = RIGHT.read_text().replace('title = "Mill pocket"', 'title = "Mill pocket"\nstart = "Start the cycle"')

    checklist = read_checklist(text, "x").checklist

    assert checklist == right()
    assert "start" not in freeze_checklist(checklist)["operations"][0]


VALUES: st.SearchStrategy[Any] = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-1, 10_000),
    st.floats(-1, 2),
    st.text(max_size=50),
    st.sampled_from(["", "x" * 241, "line\n", "\x1b[31m", "\u202e", "-a", "load", "cured", "no gate", "2026-03-16"]),
    st.sampled_from([[], {}, [{}], [1], {"a": 1}, {"gate": "cured"}, {"gate": []}, {"do": "Deburr"}]),
)


@given(path=st.sampled_from(same_places(FILE, DATA)), value=VALUES)
def test_a_wrong_value_is_refused_as_it_would_be_in_a_file(path: Place, value: Any) -> None:
    """Reference: pydantic's own validation of the same damage in a file."""
    assert in_a_record(put(DATA, path, value)) == in_a_file(put(FILE, path, value))


def test_a_field_that_is_lost_or_added_is_noticed_as_it_would_be_in_a_file() -> None:
    """Reference: as above. A lost field that has a default is not damage that its shape can show."""
    refused = 0
    for path in same_places(FILE, DATA):
        if not isinstance(at(DATA, path), dict):
            continue
        assert in_a_record(put(DATA, path, {**at(DATA, path), "another": 1})) is None, path
        for lost in at(DATA, path).keys() & at(FILE, path).keys():
            frozen, file = deepcopy(DATA), deepcopy(FILE)
            del at(frozen, path)[lost], at(file, path)[lost]
            read = in_a_record(frozen)
            assert read == in_a_file(file), (path, lost)
            refused += read is None
    assert refused > 50


@given(path=st.sampled_from(same_places(FILE, DATA)))
def test_a_refusal_names_the_place(path: Place) -> None:
    with pytest.raises(ValueError, match=": ") as refused:
        read_frozen_checklist(put(DATA, path, {"no such field": [None]}))

    pointer = "".join(f"/{key}" for key in path)
    assert str(refused.value).startswith(f"{pointer!r}: ") or path == ("cautions",)


UNITS = [
    ("0.2 in", "is not a value with its unit"),
    ([0.2, "in", 5.08], "is not a value with its unit"),
    ([True, "in", 5.08, "0.2 in"], "is not a number"),
    ([0.2, "in", float("inf"), "0.2 in"], "is not a number"),
    ([10**400, "in", 5.08, "0.2 in"], "is not a number"),
    ([0.2, "in", 5.08, 2], "is not text"),
    ([0.2, "in", 5.08, "0.2 \x1b[31min"], "does not keep to pattern"),
]


@pytest.mark.parametrize(("value", "said"), UNITS, ids=[said for _, said in UNITS])
def test_a_damaged_value_with_a_unit_is_named(value: Any, said: str) -> None:
    with pytest.raises(ValueError, match=said) as refused:
        read_frozen_checklist(put(DATA, ("operations", 0, "time"), {"setup": value}))

    assert str(refused.value).startswith("'/operations/0/time/setup': ")


def test_nothing_in_a_refusal_works_on_a_terminal() -> None:
    with pytest.raises(ValueError, match="cautions") as refused:
        read_frozen_checklist(put(DATA, ("cautions", "\x1b[31m/~"), 1))

    assert str(refused.value).isprintable()
    assert r"/cautions/\x1b[31m~1~0" in str(refused.value)


def test_a_checklist_never_changes() -> None:
    checklist = right()

    with pytest.raises(AttributeError):
        checklist.order = 3  # type: ignore[misc]
    with pytest.raises(AttributeError):
        del checklist.part
    with pytest.raises(TypeError, match=r"unknown: \['another'\]"):
        replace(checklist.part, another=1)  # type: ignore[call-arg]
    assert replace(checklist.part, name="Other").name == "Other"
    assert hash(checklist.part) == hash(right().part)
    assert checklist.part != checklist.stations[0]
    assert "number=" in repr(checklist.part)


FOLD = """
import json, sys
from floor.batch.fold import fold
from floor.entry import Entry
body = {"id": "B1", "checklist": json.loads(sys.stdin.read()), "digest": "", "file": "right.toml", "order": 1}
at = "2026-03-02T06:00:00.000Z"
batch = fold([Entry(1, at, 0, "", 0.0, "AA", "batch_opened", body, "0" * 64, "")])
print(batch.checklist.part.number, *sys.modules)
"""


def test_opening_a_batch_loads_neither_validation_nor_units_nor_file_readers() -> None:
    ran = subprocess.run([sys.executable, "-c", FOLD], input=FROZEN.read_text(), capture_output=True, text=True)

    number, *loaded = ran.stdout.split()
    assert number == DATA["part"]["number"], ran.stderr
    assert not {"pydantic", "pydantic_core", "pint", "tomllib", "difflib", "textual"} & set(loaded)
