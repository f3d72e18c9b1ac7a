"""What-if on the command line: a table for people, the same for programs, and the reply to wrong words."""

from __future__ import annotations

import json
from datetime import date, datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from floor.batch.lifecycle.commands import OpenBatch
from floor.cli.main import Exit, main
from floor.entry import Moment
from floor.planning.questions import WORDS
from floor.shop import Shop
from tests.planning.planned import potted

PART = Path(__file__).parents[1] / "planning" / "lid.toml"
VIENNA = ZoneInfo("Europe/Vienna")
THURSDAY = datetime(2026, 6, 11, 7, tzinfo=VIENNA)
ZONE = 'zone = "Europe/Vienna"\n'
OVERTIME = '[[shifts]]\ndates = [2026-06-13]\nstart = "07:00"\nend = "15:30"\nbreaks = [["11:30", "12:00"]]\n'


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("floor.cli.plan.EFFORT", 300)
    monkeypatch.setattr("floor.cli.plan.read_clock", lambda: Moment(THURSDAY))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A shop with an order of 36 lids, 39 started, due on Friday."""
    shop = Shop(tmp_path / "shop", clock=lambda: Moment(THURSDAY))
    shop.add_person("LL", "Lena Lindqvist", True, by="LL")
    shop.open_batch(OpenBatch("B0001", potted(), "-", "lid.toml", 36, 39, date(2026, 6, 12)), "LL")
    shop.close()
    (tmp_path / "shop" / "shop.toml").write_text(ZONE)
    return tmp_path / "shop"


def printed(capsys: pytest.CaptureFixture[str], *args: object) -> str:
    assert main(["plan", *map(str, args)]) == Exit.FINE
    return capsys.readouterr().out


def ordered(capsys: pytest.CaptureFixture[str], folder: Path, part: Path, *args: object) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(
        printed(capsys, part, "--order", 36, "--start", 39, "--shop", folder, "--json", *args)
    )
    return found["plan"]  # type: ignore[no-any-return]


def test_the_answer_is_what_an_edited_checklist_and_an_edited_shop_file_give(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    (tmp_path / "shop.toml").write_text(ZONE)
    asked = ordered(capsys, tmp_path, PART, "--what-if", "1 more pallet", "--what-if", "saturday")["what_if"]

    changed = tmp_path / "changed.toml"
    changed.write_text(PART.read_text().replace("capacity = 13\ncount = 2", "capacity = 13\ncount = 3"))
    more = ordered(capsys, tmp_path, changed)
    (tmp_path / "shop.toml").write_text(ZONE + OVERTIME)
    saturday = ordered(capsys, tmp_path, PART)
    both = ordered(capsys, tmp_path, changed)

    assert [row["change"] for row in asked] == ["Today", "1 more Pallet", "Sat 13 Jun 07:00–15:30", "All together"]
    assert [row["finish"] for row in asked[1:]] == [plan["finish"] for plan in (more, saturday, both)]
    assert asked[1]["sooner_working_hours"] > 0
    assert asked[0]["finish"] > asked[1]["finish"]


def test_the_table_and_its_fields_say_the_same(
    capsys: pytest.CaptureFixture[str], folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("floor.shop.shop.Shop.now", lambda _: Moment(THURSDAY))
    words = "saturday, 2 more pallets, router down until mon"
    text = printed(capsys, "--shop", folder, "--what-if", words)
    found = json.loads(printed(capsys, "--shop", folder, "--what-if", words, "--json"))

    assert max(map(len, text.splitlines())) <= 80
    assert " ".join(text.splitlines()[2].split()) == "change finish against today due Fri 12 Jun limited by"
    lines = [line for line in text.splitlines()[3:] if not line.startswith(" ")]
    for row, line in zip(found["what_if"], lines, strict=False):
        at = datetime.fromisoformat(row["finish"]).astimezone(VIENNA)
        assert line.startswith(row["change"][:20])
        assert f"{at:%a %d %H:%M}" in line
        late = row["batches"][0]["late_working_days"]
        assert (f"✕ {late} d late" if late > 0 else "✓") in line
        assert row["batches"][0]["due_kept"] == (late <= 0)
        hours = row["sooner_working_hours"]
        if row["change"] != "Today" and hours:
            told = float(line[24:].split()[3])
            assert told == pytest.approx(abs(hours), abs=0.06)
            assert ("sooner" if hours > 0 else "later") in line
    assert found["what_if"][3]["sooner_working_hours"] < 0
    assert found["finish"] == found["what_if"][0]["finish"], "the plan that stands beside it is today's"


@pytest.mark.parametrize(("words", "said"), [
    ("3 more palets", '"3 more palets": there is no "palets" here. Did you mean Pallet?'),
    ("", "nothing is asked yet. Write for example"),
    ("friday", "Fri 12 Jun is worked already"),
])  # fmt: skip
def test_words_that_mean_nothing_say_what_to_write(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, words: str, said: str
) -> None:
    (tmp_path / "shop.toml").write_text(ZONE)
    assert main(["plan", str(PART), "--order", "12", "--shop", str(tmp_path), "--what-if", words]) == Exit.WRONG
    heard = capsys.readouterr()
    assert heard.out == ""
    assert heard.err.startswith("floor: ")
    assert said in heard.err


def test_a_table_of_runs_takes_no_what_if(capsys: pytest.CaptureFixture[str], folder: Path) -> None:
    assert main(["plan", "--shop", str(folder), "--csv", "--what-if", "saturday"]) == Exit.USAGE
    assert "leave it out, or take --json" in capsys.readouterr().err


def test_the_help_names_every_change(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["plan", "--help"])
    said = capsys.readouterr().out
    for words, _ in WORDS:
        assert all(one in said for one in words.split(" · ")), words
