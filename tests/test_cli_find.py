"""``floor find``: what it prints for people and programs, and what it answers if nothing is found."""

from __future__ import annotations

import csv
import io
import json
import shutil
import subprocess
import sys
from collections.abc import Callable
from datetime import datetime, timedelta, timezone
from pathlib import Path

import pytest

from floor.batch.corrections.commands import Note, StrikeOut
from floor.batch.describe import describe
from floor.cli.main import Exit, main
from floor.ledger import JournalFolder
from floor.papers.search_results import FOUND
from floor.shop import Shop
from floor.shop.demo import make_demo
from floor.shop.simulation import ManualClock

Say = Callable[..., str]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo, with a struck-out note and another note, one of them with terminal controls."""
    folder = tmp_path_factory.mktemp("demo") / "shop"
    shop = make_demo(folder, ManualClock(datetime(2026, 5, 6, 10, tzinfo=timezone(timedelta(hours=2)))))
    shop.do("B0001", Note("Judder at the second pass"), "RK")
    wrong = shop.do("B0001", Note("judder on load 99"), "RK")[0]
    shop.do("B0001", StrikeOut(wrong.seq, "other machine"), "RK")
    shop.close()
    (folder / "shop.toml").write_text('zone = "Europe/Vienna"\n', encoding="utf-8")
    return folder


@pytest.fixture
def find(folder: Path, capsys: pytest.CaptureFixture[str]) -> Say:
    """Run the command; returns its output if it ended as expected."""

    def find(*given: str, ends: Exit = Exit.FINE) -> str:
        assert main(["find", *given, "--shop", str(folder)]) == ends
        said = capsys.readouterr()
        return said.err if ends != Exit.FINE else said.out

    return find


def test_entries_are_shown_in_the_words_of_the_history(find: Say, folder: Path) -> None:
    told = find("B0001", "--text", "JUDDER")

    shop = Shop(folder)
    batch = shop.batch("B0001")
    kept, struck, strike = batch.entries[-3:]
    shop.close()
    lines = told.splitlines()
    assert lines[0] == f"B0001 TB-2140 C: 2 of {len(batch.entries)} entries"
    assert lines[1].split()[0] == str(kept.seq)
    assert lines[1].endswith(f"RK    {describe(batch, kept)}")
    assert f"STRUCK OUT by entry {strike.seq}: note: judder on load 99" in told
    assert str(struck.seq) in told
    assert all(len(line) <= 80 for line in lines)


def test_what_is_asked_for_is_combined(find: Say) -> None:
    asked = (
        "--kind",
        "counts,waived",
        "--by",
        "tn",
        "--op",
        "20",
        "--station",
        "Pouring bench",
        "--load",
        "2",
        "--not-struck",
    )
    every = json.loads(find("B0001", "--json"))["entries"]

    found = json.loads(find("B0001", *asked, "--json"))["entries"]

    kinds = {"counted", "set_aside", "disposed", "taken_off", "out_decided", "before_decided", "waived"}
    hers = [one for one in every if one["by"] == "TN" and one["kind"] in kinds and one["op"] == 20
            and one["station"] == "bench" and one["load"] == 2 and one["struck_by"] is None]  # fmt: skip
    assert found == hers != []


def test_a_load_is_named_by_its_carrier_too(find: Say) -> None:
    numbered = [json.loads(find("--load", load, "--json"))["entries"] for load in ("1", "load 1")]

    on = json.loads(find("--load", "pallet 1", "--json"))["entries"]

    assert numbered[0] == numbered[1] != []
    assert all(one in on for one in numbered[0]), "and later loads of the same pallet"


@pytest.mark.parametrize(("asked", "many"), [(("--struck",), 1), (("--not-struck",), 1), ((), 2)])
def test_struck_or_not(find: Say, asked: tuple[str, ...], many: int) -> None:
    assert json.loads(find("--text", "judder", *asked, "--json"))["found"] == many


def test_since_and_until_cut_the_record_at_their_minutes(find: Say) -> None:
    every = json.loads(find("B0001", "--json"))["entries"]
    middle = every[len(every) // 2]["local"][:16]

    before = json.loads(find("B0001", "--until", middle, "--json"))["entries"]
    after = json.loads(find("B0001", "--since", middle, "--json"))["entries"]

    assert before == [one for one in every if one["local"][:16] <= middle]
    assert after == [one for one in every if one["local"][:16] >= middle]


def test_the_table_has_the_same_fields_as_the_json(find: Say) -> None:
    """RFC 4180: quoted fields, CRLF."""
    entries = json.loads(find("B0001", "--kind", "noted", "--json"))["entries"]
    text = find("B0001", "--kind", "noted", "--csv")

    rows = list(csv.DictReader(io.StringIO(text, newline="")))
    assert text.count("\r\n") == len(rows) + 1
    assert tuple(rows[0]) == tuple(entries[0]) == FOUND
    for row, entry in zip(rows, entries, strict=True):
        row["data"] = json.loads(row["data"])
        assert row == {
            name: str(value) if name != "data" and value is not None else value or "" for name, value in entry.items()
        }


def test_the_readme_names_every_field() -> None:
    readme = (Path(__file__).parents[1] / "README.md").read_text(encoding="utf-8")

    section = readme.partition("\n### Found entries\n")[2].partition("\n### ")[0]
    assert all(f"`{name}`" in section for name in (*FOUND, "format", "batches", "found", "entries"))


@pytest.mark.parametrize(("given", "ends", "said"), [
    (("B0009",), Exit.WRONG, "B0009"),
    (("--kind", "wavied"), Exit.USAGE, "Did you mean waived?"),
    (("--since", "noonish"), Exit.USAGE, '"noonish" is not a time'),
    (("--until", "2026-02-30"), Exit.USAGE, '"2026-02-30" is not a time'),
    (("--by", "ZZ"), Exit.WRONG, "ZZ entered nothing in B0001"),
    (("--station", "lathe"), Exit.WRONG, 'no station "lathe"'),
    (("--op", "11"), Exit.WRONG, "no op 11"),
    (("--load", "99"), Exit.WRONG, "no load 99"),
    (("--load", "palet 1"), Exit.WRONG, "Did you mean Pallet 1?"),
    (("--text", "penguin", "--by", "rk"), Exit.WRONG, 'nothing in B0001 matches this: by RK, "penguin"'),
])  # fmt: skip
def test_what_is_not_there_or_not_understood_is_reported(
    find: Say, given: tuple[str, ...], ends: Exit, said: str
) -> None:
    assert said in find(*given, ends=ends)


def test_nothing_found_is_no_entry_for_a_program_too(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    given = ["find", "--text", "penguin", "--shop", str(folder)]

    assert main([*given, "--json"]) == Exit.WRONG
    assert json.loads(capsys.readouterr().out) == {"format": 1, "batches": ["B0001"], "found": 0, "entries": []}
    assert main([*given, "--csv"]) == Exit.WRONG
    assert capsys.readouterr().out.strip() == ",".join(FOUND)
    assert main(given) == Exit.WRONG
    assert capsys.readouterr().out == ""


def test_a_closed_batch_is_looked_into_by_its_name_only(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shop = tmp_path / "shop"
    shutil.copytree(folder, shop)
    journals = JournalFolder(shop / "record")
    journals.archive("B0001")
    journals.close()

    assert main(["find", "B0001", "--text", "judder", "--json", "--shop", str(shop)]) == Exit.FINE
    assert json.loads(capsys.readouterr().out)["found"] == 2
    for asked in (["--text", "judder"], ["--load", "3"], ["--by", "RK"]):
        assert main(["find", *asked, "--shop", str(shop)]) == Exit.WRONG
        assert "no batch is open; name the closed batch to search" in capsys.readouterr().err


def test_a_damaged_record_is_reported_beside_what_is_found(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shop = tmp_path / "shop"
    shutil.copytree(folder, shop)
    record = shop / "record" / "B0001.json"
    record.write_bytes(record.read_bytes().replace(b"judder on load 99", b"judder on load 98", 1))

    assert main(["find", "B0001", "--text", "judder", "--shop", str(shop)]) == Exit.FINE
    told = capsys.readouterr()
    assert "Judder at the second pass" in told.out
    assert "load 99" not in told.out
    assert "B0001" in told.err


@pytest.mark.parametrize("command", [["status"], ["paper", "history", "B0001"], ["paper", "csv", "B0001"]])
def test_no_other_command_loads_the_database(folder: Path, command: list[str]) -> None:
    code = (
        f"import sys; from floor.cli.main import main; main({[*command, '--shop', str(folder)]!r}); "
        "sys.exit('tinydb' in sys.modules)"
    )

    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)

    assert done.returncode == 0


def test_words_that_nobody_typed_are_looked_for_in_the_history(find: Say) -> None:
    """A step's own words stand in how its entries read: nobody types them."""
    told = find("B0001", "--text", "emergency stop")
    assert told.count("emergency stop") > 1
    assert "judder" not in told.casefold()


def test_a_word_where_the_batch_goes_is_answered_with_where_words_go(find: Say) -> None:
    said = " ".join(find("lot", ends=Exit.WRONG).split())
    assert "here is no batch lot. Open: B0001; to look for words, floor find --text lot." in said
