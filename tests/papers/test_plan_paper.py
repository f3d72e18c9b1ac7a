"""The plan on paper and for programs: what is printed is what was planned, and bad input is named."""

from __future__ import annotations

import csv
import io
import json
from datetime import datetime
from pathlib import Path

import pytest

from floor.batch.lifecycle.commands import OpenBatch
from floor.checklist.loading import compute_checklist_digest
from floor.cli.main import Exit, main
from floor.planning.plan_text import describe_troubles, list_attendance
from floor.shop import Shop
from floor.shop.clock import read_clock
from tests.batch.factory import open_bench
from tests.planning.planned import planned, potted

HERE = Path(__file__).parents[1] / "planning" / "lid.toml"


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("floor.cli.plan.EFFORT", 100)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A shop with one open batch of 26 lids, 24 ordered."""
    shop = Shop(tmp_path / "shop")
    shop.add_person("LL", "Lena Lindqvist", True, by="LL")
    opening = OpenBatch("B0001", potted(), compute_checklist_digest(HERE.read_text("utf-8")), "lid.toml", 24, 26)
    shop.open_batch(opening, "LL")
    shop.close()
    return tmp_path / "shop"


def printed(capsys: pytest.CaptureFixture[str], folder: Path, *more: str) -> str:
    assert main(["plan", "--shop", str(folder), *more]) == Exit.FINE
    return capsys.readouterr().out


def test_the_text_fits_80_columns_and_says_what_matters(capsys: pytest.CaptureFixture[str], folder: Path) -> None:
    text = printed(capsys, folder)

    assert max(map(len, text.splitlines())) <= 80
    for words in ("B0001 finish", "Bottleneck", "one more Pallet", "10 Mill the pocket", "Who is needed when", "good"):
        assert words in text


def test_json_and_csv_hold_the_same_runs(capsys: pytest.CaptureFixture[str], folder: Path) -> None:
    found = json.loads(printed(capsys, folder, "--json"))
    rows = list(csv.DictReader(io.StringIO(printed(capsys, folder, "B0001", "--csv"))))

    assert len(found["runs"]) == len(rows) > 2 * 3
    assert sum(run["pieces"] for run in found["runs"] if run["op"] == 40) == 26
    assert {row["batch"] for row in rows} == {"B0001"}
    batch = found["batches"][0]
    assert 0 < batch["filled_probability"] < 1
    assert batch["finish_10_percent"] <= batch["finish_90_percent"]
    assert batch["finish_at_best"] == max(run["end"] for run in found["runs"])
    assert batch["finish_10_percent"] <= found["finish"] <= batch["finish_90_percent"]
    assert all(datetime.fromisoformat(row["start"]) <= datetime.fromisoformat(row["end"]) for row in rows)


def test_an_order_before_a_batch_exists(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    text = printed(capsys, tmp_path, str(HERE), "--order", "24", "--confidence", "0.9")
    found = json.loads(printed(capsys, tmp_path, str(HERE), "--order", "24", "--json", "--test", "30=1"))

    assert "a blank of 9 in x 9 in: 12 pieces, staggered rows (square rows: 9)" in text
    assert max(map(len, text.splitlines())) <= 80
    assert "Plan of" in text
    assert found["test_pieces"] == 1
    assert found["start_rounded"]["pieces"] % 12 == 0
    assert found["plan"]["batches"][0]["finish"] > found["plan"]["at"]
    assert printed(capsys, tmp_path, str(HERE), "--order", "24", "--csv").startswith("batch,op,")


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (["B0099"], "there is no open batch B0099; open are: B0001"),
        ([str(HERE), "--order", "0"], "order at least one"),
        ([str(HERE), "--confidence", "100%"], "choose one above 0 and below 1"),
        ([str(HERE), "--confidence", "sure"], "write it like 95% or 0.95"),
        ([str(HERE), "--test", "30"], "write it like 30=2"),
        ([str(HERE), "--test", "15=1"], "name one that is"),
        ([str(HERE), "--order", "99999"], "holds at most 5000: order fewer"),
        ([str(HERE), "--order", "4990"], "pieces started, and one batch holds at most 5000"),
        ([str(HERE), "--order", "24", "--start", "6448"], "holds at most 5000 pieces, not 6448: start fewer."),
        ([str(HERE), "--order", "24", "--start", "12"], "12 pieces cannot fill an order of 24: start 24 at the least"),
        (["gone.toml"], "there is no such file"),
    ],
)
def test_bad_input_is_named_with_what_would_do(
    capsys: pytest.CaptureFixture[str], folder: Path, more: list[str], said: str
) -> None:
    assert main(["plan", "--shop", str(folder), *more]) == Exit.WRONG
    out = capsys.readouterr()
    assert not out.out
    assert said in out.err


def test_wrong_settings_are_named_with_their_file(capsys: pytest.CaptureFixture[str], folder: Path) -> None:
    (folder / "shop.toml").write_text("hands = 0")
    assert main(["plan", "--shop", str(folder)]) == Exit.WRONG
    assert "shop.toml: line 1, hands" in capsys.readouterr().err


def test_a_shop_without_a_batch_is_told_how_to_go_on(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    shop = Shop(tmp_path / "new")
    shop.add_person("LL", "Lena Lindqvist", True, by="LL")
    shop.close()

    assert main(["plan", "--shop", str(tmp_path / "new")]) == Exit.WRONG
    assert "name a checklist" in capsys.readouterr().err


def test_the_program_asks_the_time_of_nobody_else(folder: Path) -> None:
    """The plan starts now: no run before the command was given."""
    shop = Shop(folder, read_clock)
    plan = planned(*shop.batches, now=shop.now())
    assert min(run.start for run in plan.plan.runs) >= plan.plan.start
    shop.close()


def test_who_is_needed_when_is_in_order_and_never_two_places_at_once() -> None:
    found = list_attendance(planned(open_bench(potted, start=39).state))
    assert [one.start for one in found] == sorted(one.start for one in found)
    assert all(before.end <= after.start for before, after in zip(found, found[1:], strict=False))


def test_a_plan_without_trouble_says_none() -> None:
    assert describe_troubles(planned(open_bench(potted, start=13).state)) == []


@pytest.mark.parametrize("form", [[], ["--json"], ["--csv"]], ids=["text", "json", "csv"])
def test_a_plan_that_is_not_whole_is_complained_of(
    capsys: pytest.CaptureFixture[str], folder: Path, form: list[str]
) -> None:
    """Nobody is in: the printed plan says so, the exit status too, and the complaint is one line per batch."""
    (folder / "shop.toml").write_text('[[shifts]]\ndays = ["Mon"]\nstart = "07:00"\nend = "15:00"\npeople = 0\n')

    assert main(["plan", "--shop", str(folder), *form]) == Exit.WRONG

    out = capsys.readouterr()
    because = ", because" if form else "."
    assert f"B0001: finish unknown: 26 pieces are not planned from op 10 on{because}" in out.err
    assert form or " ".join((out.out + out.err).split()).count("Have 1 at work") == 1, "the reason once"
    assert len(out.err.splitlines()) == 1
    assert "early by" not in out.out
    if form == ["--json"]:
        found = json.loads(out.out)
        assert found["finish"] is found["batches"][0]["finish"] is found["batches"][0]["late_hours"] is None
        assert found["batches"][0]["finish_unknown_because"].startswith("finish unknown: 26 pieces")
