"""The figures of a batch for other programs: every field is documented, and text, JSON and CSV say the same."""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from floor.batch.counting.commands import MarkedPieces
from floor.batch.lifecycle.commands import OpenBatch
from floor.batch.trials.commands import ChooseSetting, EnterTrialResult, PlanTrial
from floor.cli.main import Exit, main
from floor.papers.figures_export import COLUMNS, gather_process_figures, write_figures_csv, write_figures_json
from floor.shop import Shop
from floor.shop.simulation import ManualClock, SimulatedOperator
from tests.batch.factory import MORNING, part
from tests.batch.test_drifts import cut
from tests.papers.documented import list_documented
from tests.planning.planned import ONE_SHIFT


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A shop in which 24 pieces went through the mill, place A1 scrapped on each of six pallets."""
    clock = ManualClock(MORNING)
    shop = Shop(tmp_path / "shop", clock=clock)
    shop.add_person("LL", "Lena Lindqvist", True, by="LL")
    shop.add_person("AA", "Arne Aas", False, by="LL")
    shop.open_batch(OpenBatch("B0001", part(), "-", "part.toml", 20, 28), "LL")
    hand = SimulatedOperator(shop, "B0001", "AA", clock, second="LL")
    for load in range(7):
        number = hand.form(10)
        assert hand.work(number, marks=(MarkedPieces("deep", ("A1",)),) if load else ())
        assert hand.work(number)
        clock.forward(12 * 3600)
        assert hand.work(number)
    for command in (
        PlanTrial("which lacquer?", (("lacquer", ("A", "B")),), "number", "gloss", 2, "GU", 20, 5.0),
        EnterTrialResult(1, 1, (80.5, 81.5, 80.0)),
        EnterTrialResult(1, 2, (90.0, 91.0, 90.5), seen="even"),
        ChooseSetting(1, 2, "glossier", "op 20: lacquer B"),
        PlanTrial("which cloth?", (("cloth", ("soft", "coarse")),), "good or bad", "haze", 2),
        EnterTrialResult(2, 1, good=3),
        PlanTrial("which speed?", (("speed", ("6000 rpm", "8000 rpm", "9000 rpm")),), "number", "burr", 0, "mm"),
        *(EnterTrialResult(3, setting, (0.1 * setting, 0.2)) for setting in (1, 2, 3)),
        PlanTrial("which both?", (("cloth", ("a", "b")), ("wax", ("c", "d"))), "number", "haze", 0, "%"),
        *(EnterTrialResult(4, setting, (0.1 * setting, 0.2)) for setting in (1, 2, 3, 4)),
    ):
        shop.do("B0001", command, "AA")
    shop.close()
    (shop.folder / "shop.toml").write_text('[costs]\ncurrency = "EUR"\nlabor_hour = 38\n', encoding="utf-8")
    return tmp_path / "shop"


def printed(capsys: pytest.CaptureFixture[str], folder: Path, *args: str) -> str:
    assert main(["figures", "B0001", "--shop", str(folder), *args]) == Exit.FINE
    return capsys.readouterr().out


def fields(value: Any, top: str = "") -> Iterator[str]:
    """Every field as the README names it; those named by a symbol, op or reason count as one."""
    for one in value if isinstance(value, list) else [value]:
        if isinstance(one, dict):
            for name, inner in one.items():
                yield f"{top}.{name}" if top else name
                if name not in ("inputs", "left_out", "capability", "wear"):
                    yield from fields(inner, top or name)


def test_every_json_field_is_documented_and_no_other(capsys: pytest.CaptureFixture[str], folder: Path) -> None:
    written = set(fields(json.loads(printed(capsys, folder, "--json"))))

    assert written == list_documented("Figures", "JSON fields")


def test_the_csv_columns_are_documented_here_and_in_the_help(capsys: pytest.CaptureFixture[str], folder: Path) -> None:
    assert list_documented("Figures", "CSV columns") == set(COLUMNS)
    assert printed(capsys, folder, "--csv").splitlines()[0] == ",".join(COLUMNS)

    with pytest.raises(SystemExit):
        main(["figures", "--help"])
    said = capsys.readouterr().out.partition("CSV columns:")[2]
    assert [name for name in COLUMNS if not re.search(rf"\b{name}\b", said)] == []


def test_losses_patterns_and_values_are_those_of_the_record(capsys: pytest.CaptureFixture[str], folder: Path) -> None:
    found = json.loads(printed(capsys, folder, "--json"))

    assert [(one["op_caused"], one["lost"], one["pieces"]) for one in found["losses"]] == [(10, 6, 28)]
    assert found["losses"][0]["share_low"] < 6 / 28 < found["losses"][0]["share_high"]
    assert found["looks"] == 1
    assert any(one["what"] == "Place A1" and (one["lost"], one["pieces"]) == (6, 7) for one in found["patterns"])
    [groove] = [one for one in found["characteristics"] if one["what"] == "groove depth"]
    assert (groove["count"], groove["unit"], groove["low"], groove["high"]) == (14, "mm", 2.9, 3.1)
    assert groove["capability"]["cpk"]["value"] is None
    assert groove["capability"]["cpk"]["why_not"] == "too few values"


def test_text_json_and_csv_say_the_same(capsys: pytest.CaptureFixture[str], folder: Path) -> None:
    text = " ".join(printed(capsys, folder).split())
    figures = json.loads(printed(capsys, folder, "--json"))["key_figures"]
    every = list(csv.DictReader(io.StringIO(printed(capsys, folder, "--csv"))))
    rows = [row for row in every if row["name"] != "wear in 100 pieces"]

    shown = [one for one in figures if one["name"] != "worker efficiency"]
    assert [(row["scope"], row["name"], row["why_not"] or None) for row in rows] == [
        (one["scope"], one["name"], one["why_not"]) for one in shown
    ]
    for row, one in zip(rows, shown, strict=True):
        assert (float(row["value"]) if row["value"] else None) == pytest.approx(one["value"])
        assert f"{one['name']} " in text
        assert one["formula"] in text
        if one["value"] is not None and one["unit"] == "share":
            assert f"{100 * one['value']:.1f} % = {one['formula']}" in text
    bounds = {one["scope"]: one["at_most"] for one in figures if one["name"] == "scrap ratio"}
    assert bounds == {"batch": None, "mill": None, "bench": pytest.approx(1 - 0.05 ** (1 / 22))}, "22 coated, none lost"
    [worker] = [one for one in figures if one["name"] == "worker efficiency" and one["scope"] == "batch"]
    assert (worker["value"], worker["why_not"]) == (None, "because APAT is not recorded")


@pytest.mark.parametrize("slope", [0.002, 0.0])
def test_wear_has_its_interval_and_in_a_row_no_number_where_none_is_shown(slope: float) -> None:
    bench = cut(14, slope)
    found = gather_process_figures(bench.state, ONE_SHIFT.calendar, bench.clock().at)
    [wear] = [one["wear"] for one in json.loads(write_figures_json(found))["characteristics"]
              if one["what"] == "groove depth"]  # fmt: skip
    assert wear["low"] <= 100 * slope <= wear["high"]
    assert wear["low"] <= wear["value"] <= wear["high"]
    assert wear["why_not"] == (None if slope else "its interval includes 0")
    rows = list(csv.DictReader(io.StringIO(write_figures_csv(found))))
    [row] = [row for row in rows if row["name"] == "wear in 100 pieces"]
    assert (row["scope"], row["unit"], row["why_not"]) == ("op 10 groove depth", "mm", wear["why_not"] or "")
    assert row["value"] == (str(wear["value"]) if slope else "")


def test_one_station_and_a_time_can_be_asked_for(capsys: pytest.CaptureFixture[str], folder: Path) -> None:
    found = json.loads(printed(capsys, folder, "--json", "--station", "Bench", "--since", "2026-03-03"))

    assert {one["scope"] for one in found["key_figures"]} == {"bench"}
    assert found["losses"] == []
    assert [one["what"] for one in found["characteristics"]] == ["humidity"]
    assert {one["op"] for one in found["times"]} == {20}
    [elements] = found["elements"]
    assert elements["runs"] < 7


def test_losses_values_and_times_are_those_since_then_and_patterns_those_of_the_whole_batch(
    capsys: pytest.CaptureFixture[str], folder: Path
) -> None:
    """A load every half day: three of the seven began since the third day at 07:00, each with one scrapped."""
    since = ("--since", "2026-03-04 12:00")
    whole, later = (json.loads(printed(capsys, folder, "--json", *more)) for more in ((), since))

    assert [(one["lost"], one["pieces"]) for one in whole["losses"]] == [(6, 28)]
    [losses] = later["losses"]
    runs = losses["lost"]
    assert 0 < runs < 6
    assert losses["pieces"] == 4 * runs
    assert later["patterns"] == whole["patterns"]
    [groove] = [one for one in later["characteristics"] if one["what"] == "groove depth"]
    assert groove["count"] == 2 * runs
    cycles = [next(one["runs"] for one in data["times"] if one["part"] == "cycle") for data in (whole, later)]
    assert 0 < cycles[1] < cycles[0]
    text = printed(capsys, folder, *since)
    assert "Of runs started since " in text.split("\n")[0]
    assert f"Scrap and rework: {runs}, by reason" in text
    assert f"{runs:>3} of {4 * runs} counted there" in text


def test_since_a_time_after_the_last_entry_there_is_a_sentence_in_place_of_figures(
    capsys: pytest.CaptureFixture[str], folder: Path
) -> None:
    """Of an open batch; a time to come is no other case."""
    later = ("--since", "2030-01-01")
    text = printed(capsys, folder, *later)
    assert text.startswith("Nothing since 2030-01-01 00:00: the last entry of B0001 is ")
    assert "(AA 2026-03-" in " ".join(text.split())
    assert "ratio" not in text, "no figures with it"

    for form in ("--json", "--csv"):
        assert main(["figures", "B0001", "--shop", str(folder), form, *later]) == Exit.FINE
        out, err = capsys.readouterr()
        assert "Nothing since 2030-01-01 00:00" in err, "and what a program reads stays readable"
        figures = json.loads(out)["key_figures"] if form == "--json" else list(csv.DictReader(io.StringIO(out)))
        assert {one["value"] or None for one in figures} == {None}


def test_each_shift_has_its_key_figures(capsys: pytest.CaptureFixture[str], folder: Path) -> None:
    shifts = [("06:00", "14:00"), ("14:00", "22:00")]
    (folder / "shop.toml").write_text(
        'zone = "Etc/GMT-1"\n'
        + "".join(
            f'[[shifts]]\ndays = ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"]\nstart = "{start}"\nend = "{end}"\n'
            for start, end in shifts
        ),
        encoding="utf-8",
    )
    found = json.loads(printed(capsys, folder, "--json"))

    assert {one["scope"] for one in found["elements"]} >= {"batch", "mill", "shift 06:00 to 14:00"}
    assert "Shift 06:00 to 14:00, " in printed(capsys, folder)


def test_what_is_not_there_is_refused(capsys: pytest.CaptureFixture[str], folder: Path) -> None:
    def ask(*args: str) -> tuple[int, str]:
        return main(["figures", *args, "--shop", str(folder)]), capsys.readouterr().err

    assert ask("B0009")[0] == Exit.WRONG
    assert ask("B0001", "--station", "lathe")[0] == Exit.WRONG
    assert ask("B0001", "--since", "soon")[0] == Exit.USAGE
    (folder / "shop.toml").write_text("hands = 0\n", encoding="utf-8")
    code, said = ask("B0001")
    assert (code, "hands: 0 is out of range" in said) == (Exit.WRONG, True)


def test_cost_is_null_with_a_reason_in_the_text_where_no_rate_is_named(
    capsys: pytest.CaptureFixture[str], folder: Path
) -> None:
    costs = json.loads(printed(capsys, folder, "--json"))["costs"]
    assert costs["total"] == pytest.approx(costs["labor"])
    assert costs["labor"] > 0
    assert [(one["op"], one["reason"], one["pieces"]) for one in costs["scrap"]] == [(10, "Groove too deep", 6)]
    assert f"Cost so far {costs['total']:,.2f} EUR" in printed(capsys, folder)

    (folder / "shop.toml").unlink()
    assert json.loads(printed(capsys, folder, "--json"))["costs"] is None
    assert "Cost n/a, because shop.toml names no rates" in printed(capsys, folder)
