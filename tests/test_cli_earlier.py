"""``floor figures --earlier`` and the paper of it: text, JSON and CSV say the same, and every field is in the help."""

from __future__ import annotations

import csv
import io
import json
from datetime import timedelta
from pathlib import Path

import pytest

from floor.cli.help import FIGURES
from floor.cli.main import Exit, main
from floor.papers.earlier_export import COLUMNS
from floor.shop import Shop
from floor.shop.simulation import ManualClock
from tests.batch.factory import MORNING, edited
from tests.shop.earlier import work_batch
from tests.shop.taught import ALL_DAY, PART


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two closed batches of the part, one of another part, one open; one more whose file is no record."""
    clock = ManualClock(MORNING)
    shop = Shop(tmp_path_factory.mktemp("earlier") / "shop", clock)
    (shop.folder / "shop.toml").write_text(ALL_DAY, encoding="utf-8")
    shop.add_person("LL", "Lena Lindqvist", True, by="LL")
    shop.add_person("AA", "Arne Aas", False, by="LL")
    for scrap in ({10: 1, 30: 1}, {10: 2}):
        work_batch(shop, clock, scrap)
        clock.forward(40 * 86400)
    work_batch(shop, clock, {10: 1}, checklist=edited(('number = "KB-7"', 'number = "KB-8"')))
    work_batch(shop, clock, {10: 1}, until=timedelta(hours=3), close=False)
    shop.close()
    (shop.folder / "record" / "closed" / "B0009.json").write_bytes(b"no record")
    return shop.folder


def ask(capsys: pytest.CaptureFixture[str], *args: str) -> tuple[int, str, str]:
    capsys.readouterr()
    code = main([*args])
    said = capsys.readouterr()
    return code, said.out, said.err


def test_text_json_and_csv_say_the_same(capsys: pytest.CaptureFixture[str], folder: Path) -> None:
    figures = ("figures", "B0004", "--earlier", "--shop", str(folder))
    code, text, err = ask(capsys, *figures)
    data = json.loads(ask(capsys, *figures, "--json")[1])
    rows = list(csv.DictReader(io.StringIO(ask(capsys, *figures, "--csv")[1])))

    assert code == Exit.FINE
    assert err == "floor: B0009 is left out: its first entry cannot be read\n"
    assert all(len(line) <= 80 for line in text.split("\n"))
    assert [one["batch"] for one in data["batches"]] == ["B0004", "B0002", "B0001"]
    assert data["left_out"] == {"B0009": "its first entry cannot be read"}
    assert [one["by"] for one in data["start_quantity"]] == ["checklist", "next"]
    milled = [one for one in data["rows"] if (one["op"], one["what"], one["part"]) == (10, "yield", "KB-7")]
    assert [(one["good"], one["pieces"]) for one in milled] == [(7, 8), (6, 8), (7, 8)]
    assert milled[0]["weight"] > milled[2]["weight"] > 0, "the older, the lighter"
    others = [one for one in data["rows"] if one["part"] == "KB-8"]
    assert {one["not_used"] for one in others} == {"other part"}
    assert {one["weight"] for one in others} == {0.0}
    assert len(rows) == len(data["rows"])
    assert [float(one["share"]) for one in rows if one["what"] == "yield"] == [
        one["share"] for one in data["rows"] if one["what"] == "yield"
    ]
    (op_10,) = (one for one in data["next"] if one["op"] == 10)
    assert f"next order {100 * op_10['good']:.1f} % ({op_10['weight']:.0f})" in text


def test_a_shop_says_after_how_many_days_a_batch_counts_half(capsys: pytest.CaptureFixture[str], folder: Path) -> None:
    def look() -> tuple[float, list[float], float]:
        """(half-life, weights of the batches at op 10, the newest first, share of pieces that the plan lets pass)."""
        data = json.loads(ask(capsys, "figures", "B0004", "--earlier", "--json", "--shop", str(folder))[1])
        mine = [one for one in data["rows"] if (one["op"], one["what"], one["part"]) == (10, "yield", "KB-7")]
        plan = json.loads(ask(capsys, "plan", str(PART), "--order", "8", "--json", "--shop", str(folder))[1])
        return data["half_life_days"], [one["weight"] for one in mine], plan["piece_yield"]

    usual, weights, passed = look()
    settings = folder / "shop.toml"
    settings.write_text(f"half_life_days = 4\n{ALL_DAY}", encoding="utf-8")
    try:
        half_life, shorter, passed_then = look()
    finally:
        settings.write_text(ALL_DAY, encoding="utf-8")
    assert (usual, half_life) == (365, 4)
    assert shorter[-1] < 0.01 * weights[-1], "of 80 days ago nothing is left"
    assert passed_then != passed


def test_every_field_is_in_the_help(capsys: pytest.CaptureFixture[str], folder: Path) -> None:
    data = json.loads(ask(capsys, "figures", "B0004", "--earlier", "--json", "--shop", str(folder))[1])
    fields = set(data) | {
        name
        for part in ("start_quantity", "batches", "rows", "next", "next_paces")
        for one in data[part]
        for name in one
    }
    words = set(FIGURES.replace(",", " ").replace("(", " ").replace(")", " ").replace(":", " ").split())

    assert fields - words == {"format", "as_of"}
    assert set(COLUMNS) <= words


def test_the_paper_and_its_refusal(capsys: pytest.CaptureFixture[str], folder: Path) -> None:
    code, text, _ = ask(capsys, "paper", "earlier", "B0004", "--shop", str(folder))

    assert code == Exit.FINE
    assert "EARLIER BATCHES  B0004" in text
    assert "B0002      A" in text
    assert all(len(line) <= 80 for line in text.split("\n"))


def test_an_order_is_planned_by_earlier_batches_before_there_is_one(
    capsys: pytest.CaptureFixture[str], folder: Path, tmp_path: Path
) -> None:
    """By the checklist alone nothing is lost, so 8 would do; in an empty folder that stays so, and no shop is made."""
    ask_plan = ("plan", str(PART), "--order", "8", "--json", "--shop")
    alone = json.loads(ask(capsys, *ask_plan, str(tmp_path / "none"))[1])
    beside = json.loads(ask(capsys, *ask_plan, str(folder))[1])
    text = ask(capsys, "plan", str(PART), "--order", "8", "--shop", str(folder))[1]

    assert (alone["earlier_batches"], alone["start"]["pieces"]) == ([], 8)
    assert not (tmp_path / "none").exists()
    assert beside["earlier_batches"] == ["B0004", "B0002", "B0001"]
    assert beside["start"]["pieces"] > 8
    said = text.partition("How sure, without and with earlier batches")[2]
    assert "by the checklist alone" in said
    assert "with 3 earlier batches  " in said
