"""The plan for other programs: every field that is written is documented, and the text says the same."""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from floor.batch.lifecycle.commands import OpenBatch
from floor.checklist.loading import list_shipped_checklists, load_checklist
from floor.cli.main import Exit, main
from floor.papers.plan import COLUMNS
from floor.planning.plan_text import format_day_time
from floor.shop import Shop
from tests.batch.factory import thermal_break
from tests.papers.documented import list_documented

PLATE = next(str(file) for file in list_shipped_checklists() if file.stem == "thermal-break-plate")


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("floor.cli.plan.EFFORT", 20)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A shop with one open batch of plates, 30 started for an order of 24."""
    shop = Shop(tmp_path / "shop")
    shop.add_person("LL", "Lena Lindqvist", True, by="LL")
    shop.open_batch(OpenBatch("B0001", thermal_break(), "-", "thermal-break-plate.toml", 24, 30), "LL")
    shop.close()
    return tmp_path / "shop"


def printed(capsys: pytest.CaptureFixture[str], *args: str) -> str:
    assert main(["plan", *args]) == Exit.FINE
    return capsys.readouterr().out


def fields(value: Any, top: str = "") -> Iterator[str]:
    """Every field of JSON data as the README names it: the field at the top, and any below it."""
    for one in value if isinstance(value, list) else [value]:
        if isinstance(one, dict):
            for name, inner in one.items():
                yield f"{top}.{name}" if top else name
                if name not in ("leaving_each_operation", "sent_to_rework", "plan"):
                    yield from fields(inner, top or name)


def test_every_json_field_is_documented_and_no_other(capsys: pytest.CaptureFixture[str], folder: Path) -> None:
    shop = json.loads(printed(capsys, "--shop", str(folder), "--json", "--what-if", "saturday"))
    order = json.loads(printed(capsys, PLATE, "--shop", str(folder), "--order", "12", "--json"))
    plan = order.pop("plan")

    written = {*fields(shop), *fields(plan), *fields(order)}
    absent = {f"obstacles.{name}" for name in ("where", "wrong", "remedy", "load")}  # nothing is in the way here
    absent |= {f"pressing.{name}" for name in ("where", "wrong", "remedy")}
    absent |= {f"batches.{name}" for name in ("pieces", "at_op", "probability", "hours")}  # nothing more to start
    assert written <= list_documented("Plan", "JSON fields")
    assert list_documented("Plan", "JSON fields") - written <= absent
    assert shop["format"] == plan["format"] == 2


def test_the_csv_columns_are_documented_here_and_in_the_help(capsys: pytest.CaptureFixture[str], folder: Path) -> None:
    assert list_documented("Plan", "CSV columns") == set(COLUMNS)
    assert printed(capsys, "--shop", str(folder), "--csv").splitlines()[0] == ",".join(COLUMNS)

    with pytest.raises(SystemExit) as done:
        main(["plan", "--help"])
    assert done.value.code == 0
    said = capsys.readouterr().out
    assert [name for name in COLUMNS if not re.search(rf"\b{name}\b", said.partition("CSV columns:")[2])] == []
    for example in ("floor plan B0007", "--order 96 --confidence 90%", "--csv > runs.csv", "--json |"):
        assert example in said


def test_text_json_and_csv_say_the_same(capsys: pytest.CaptureFixture[str], folder: Path) -> None:
    text = printed(capsys, "--shop", str(folder))
    found = json.loads(printed(capsys, "--shop", str(folder), "--json"))
    rows = list(csv.DictReader(io.StringIO(printed(capsys, "--shop", str(folder), "--csv"))))

    assert [(int(row["op"]), row["carrier"], int(row["pieces"])) for row in rows] == [
        (run["op"], run["carrier"] or "", run["pieces"]) for run in found["runs"]
    ]
    listed = text.partition("\nRuns ")[2].partition("\n\n")[0].splitlines()[2:]
    assert len(listed) == len(rows)
    for line, row in zip(listed, rows, strict=True):
        assert line.split()[-1] == row["pieces"]
        assert re.search(rf"\b{row['op']} ", line)
    flat = " ".join(text.split())
    assert f"{100 * found['batches'][0]['filled_probability']:.0f} % chance" in flat
    assert found["bottleneck"]["words"] in flat
    best = found["one_more_saves_hours"][0]
    assert f"saves {best['working_hours']:.1f} working hours" in flat
    zone = datetime.fromisoformat(rows[0]["end"]).tzinfo
    finish = datetime.fromisoformat(found["batches"][0]["finish_at_best"]).astimezone(zone)
    done = max(datetime.fromisoformat(run["end"]) for run in found["runs"])
    assert abs((finish - done).total_seconds()) <= 1
    later = max(datetime.fromisoformat(row["end"]) for row in rows)  # a plan of its own, made a moment later
    assert abs((finish - later).total_seconds()) <= 120
    assert format_day_time(finish)[:6] in text


def test_the_text_of_an_order_says_what_its_json_says(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    checklist = load_checklist(PLATE).checklist
    assert checklist is not None
    text = printed(capsys, PLATE, "--shop", str(tmp_path), "--order", "12")
    found = json.loads(printed(capsys, PLATE, "--shop", str(tmp_path), "--order", "12", "--json"))

    assert f"Material required for {found['start_rounded']['pieces']} pieces" in text
    for one in found["shelf"]:
        assert one["what"] in text
        assert f"{one['packages']} x {one['package']}" in text
    for leg in found["loads"]:
        assert re.search(rf"{leg['carrier']} +{leg['loads']} +{leg['in_the_last']} +{leg['in_the_shop']}\n", text)
