"""Each requirement that Floor was drawn up from has its verdict and its tests, and DEVELOPERS.md says the same.

What the guidance asks and what shows it is data: tests/requirements.toml.
"""

from __future__ import annotations

import ast
import re
import tomllib
from collections import Counter
from collections.abc import Iterator, Sequence
from functools import cache
from typing import Any

import pytest

from tests.language import ROOT

FAMILIES = {"CBP": 56, "HND": 30, "REC": 42, "SAF": 76, "HMI": 38, "KPI": 37}
"""Family of requirements → how many there are, numbered from 1."""
VERDICTS = ("met", "partly", "not met", "not applicable")
FIELDS = {"id", "says", "verdict", "tests", "lacks", "why"}

Row = dict[str, Any]


@cache
def rows() -> list[Row]:
    text = (ROOT / "tests" / "requirements.toml").read_text(encoding="utf-8")
    found: list[Row] = tomllib.loads(text)["rows"]
    return found


@cache
def list_tests(file: str) -> frozenset[str]:
    """Test functions and test classes of a file; a method as ``Class::method``, a class made elsewhere by its name."""
    path = ROOT / file
    if not path.is_file():
        return frozenset()
    return frozenset(_names(ast.parse(path.read_text(encoding="utf-8")).body))


def _names(body: Sequence[ast.stmt], within: str = "") -> Iterator[str]:
    for node in body:
        match node:
            case ast.FunctionDef() | ast.AsyncFunctionDef() if node.name.startswith("test_"):
                yield within + node.name
            case ast.ClassDef() if node.name.startswith("Test") and not within:
                yield node.name
                yield from _names(node.body, f"{node.name}::")
            case ast.Assign(targets=[ast.Name(id=name)]) if name.startswith("Test") and not within:
                yield name  # pytest collects it too: TestRandomBatch = RandomBatch.TestCase


def list_wrong_numbers(found: Sequence[Row]) -> list[str]:
    wanted = {f"{family}-{number:02d}" for family, many in FAMILIES.items() for number in range(1, many + 1)}
    there = Counter(row["id"] for row in found)
    return [
        *(f"{one}: missing" for one in sorted(wanted - set(there))),
        *(f"{one}: no such requirement" for one in sorted(set(there) - wanted)),
        *(f"{one}: there {many} times" for one, many in there.items() if many > 1),
    ]


def list_faults(row: Row) -> list[str]:
    """What is wrong with one row by itself."""
    name, verdict, tests = row["id"], row.get("verdict"), row.get("tests", [])
    faults = [f"{name}: no field {field}" for field in sorted(set(row) - FIELDS)]
    if len(row.get("says", "").split()) < 3:
        faults.append(f"{name}: does not say what is required")
    if verdict not in VERDICTS:
        faults.append(f'{name}: verdict "{verdict}" is none of {", ".join(VERDICTS)}')
    if verdict == "met" and not tests:
        faults.append(f"{name}: met, and no test shows it")
    if (verdict in ("partly", "not met")) != bool(row.get("lacks", "").strip()):
        faults.append(f"{name}: {verdict}; `lacks` says what is missing, and only where something is")
    if (verdict in ("partly", "not applicable")) != bool(row.get("why", "").strip()):
        faults.append(f"{name}: {verdict}; `why` says why it does not apply or stays partly met, and only there")
    if verdict in ("not met", "not applicable") and tests:
        faults.append(f"{name}: {verdict}, and yet tests show it")
    if len(set(tests)) < len(tests):
        faults.append(f"{name}: a test is named twice")
    for test in tests:
        file, _, function = test.partition("::")
        if function.partition("[")[0] not in list_tests(file):
            faults.append(f"{name}: there is no test {test}")
    return faults


def summarize(found: Sequence[Row]) -> str:
    """The table of DEVELOPERS.md: families by verdict."""
    lines = ["| family | met | partly | not met | not applicable | all |", "| --- | --- | --- | --- | --- | --- |"]
    for family in (*FAMILIES, ""):
        count = Counter(row["verdict"] for row in found if row["id"].startswith(family))
        cells = [*(count[verdict] for verdict in VERDICTS), count.total()]
        lines.append(f"| {family or '**all**'} | " + " | ".join(map(str, cells)) + " |")
    return "\n".join(lines)


def list_not_met(text: str) -> list[str]:
    """The rows that DEVELOPERS.md lists as not met, from lines such as ``- CBP-10: steps at the same time``."""
    [section] = re.findall(r"^## Guidance followed\n(.*?)^#", text, re.DOTALL | re.MULTILINE)
    return re.findall(r"^- ([A-Z]{3}-\d\d): \S", section, re.MULTILINE)


def read_developers() -> str:
    return (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def test_every_requirement_is_judged_once() -> None:
    assert list_wrong_numbers(rows()) == []


def test_every_row_names_its_tests_or_what_it_lacks() -> None:
    faults = [fault for row in rows() for fault in list_faults(row)]
    assert not faults, "\n".join(faults)


def test_the_summary_is_that_of_the_rows() -> None:
    assert summarize(rows()) in read_developers(), f"DEVELOPERS.md should have\n{summarize(rows())}"


def test_every_row_that_is_not_met_is_listed() -> None:
    listed = list_not_met(read_developers())
    wanted = [row["id"] for row in rows() if row["verdict"] == "not met"]
    assert listed == wanted, f"listed wrongly: {sorted(set(listed) ^ set(wanted)) or 'their order'}"


# --- the guards themselves

HERE = "tests/test_requirements.py"
RIGHT: Row = {
    "id": "CBP-01",
    "says": "One step alone is current",
    "verdict": "met",
    "tests": [f"{HERE}::test_a_fault_of_a_row_is_named", "tests/batch/test_random_batch.py::TestRandomBatch"],
}
WRONG = [
    ({"verdict": "done"}, 'CBP-01: verdict "done" is none of'),
    ({"says": "Steps"}, "CBP-01: does not say what is required"),
    ({"tests": []}, "CBP-01: met, and no test shows it"),
    ({"tests": [f"{HERE}::test_nothing"]}, f"CBP-01: there is no test {HERE}::test_nothing"),
    ({"tests": [f"{HERE}::list_faults"]}, f"CBP-01: there is no test {HERE}::list_faults"),
    ({"tests": ["tests/no_file.py::test_all"]}, "CBP-01: there is no test tests/no_file.py::test_all"),
    ({"tests": [RIGHT["tests"][0]] * 2}, "CBP-01: a test is named twice"),
    ({"verdict": "partly", "why": "on purpose"}, "CBP-01: partly; `lacks` says what is missing"),
    (
        {"verdict": "partly", "lacks": "a little"},
        "CBP-01: partly; `why` says why it does not apply or stays partly met",
    ),
    ({"verdict": "not met", "tests": [], "lacks": " "}, "CBP-01: not met; `lacks` says what is missing"),
    ({"verdict": "not met", "lacks": "all"}, "CBP-01: not met, and yet tests show it"),
    ({"verdict": "not applicable", "tests": []}, "CBP-01: not applicable; `why` says why"),
    ({"lacks": "a little"}, "CBP-01: met; `lacks` says what is missing, and only where something is"),
    ({"test": "x"}, "CBP-01: no field test"),
]


@pytest.mark.parametrize(("change", "told"), WRONG, ids=[told[:60] for _, told in WRONG])
def test_a_fault_of_a_row_is_named(change: Row, told: str) -> None:
    assert list_faults(RIGHT) == []
    faults = list_faults({**RIGHT, **change})
    assert len(faults) == 1
    assert faults[0].startswith(told)


def test_a_test_in_brackets_or_in_a_class_is_found() -> None:
    assert list_faults({**RIGHT, "tests": [f"{HERE}::test_a_fault_of_a_row_is_named[done]"]}) == []
    body = ast.parse("class TestAll:\n    def test_one(self): ...\n    def other(self): ...\n").body
    assert list(_names(body)) == ["TestAll", "TestAll::test_one"]


def test_a_number_that_is_missing_strange_or_twice_is_named() -> None:
    all_of_them = rows()
    assert list_wrong_numbers(all_of_them[1:]) == ["CBP-01: missing"]
    assert list_wrong_numbers([*all_of_them, RIGHT]) == ["CBP-01: there 2 times"]
    assert list_wrong_numbers([*all_of_them, {**RIGHT, "id": "CBP-57"}]) == ["CBP-57: no such requirement"]


def test_a_summary_of_other_rows_is_another() -> None:
    changed = [{**row, "verdict": "partly"} if row["id"] == "CBP-01" else row for row in rows()]
    assert summarize(changed) not in read_developers()
    said = "## Guidance followed\n\n- CBP-10: two at once\n- SAF-14: guards\n\n## Next\n- KPI-04: times\n"
    assert list_not_met(said) == ["CBP-10", "SAF-14"]
