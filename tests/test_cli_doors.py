"""Commands when something is in the way, and commands that take a record out and back."""

from __future__ import annotations

import json
import sys
import tomllib
from io import StringIO
from pathlib import Path

import pytest

from floor.app import FloorApp
from floor.batch.lifecycle.commands import CloseBatch, OpenBatch, SetPiecesAside
from floor.checklist.loading import list_shipped_checklists
from floor.cli.main import Exit, main
from floor.shop import Shop
from floor.shop.simulation import ManualClock
from tests.batch.factory import MORNING, part

ROOT = Path(__file__).parents[1]


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    """A shop with a lead and one batch."""
    folder = tmp_path / "shop"
    opened = Shop(folder, ManualClock(MORNING))
    opened.add_person("LL", "Lena Lindqvist", True, by="-")
    opened.open_batch(OpenBatch(opened.find_next_id(), part(), "digest", "part.toml", 8, 10), by="LL")
    opened.close()
    return folder


@pytest.mark.parametrize("command", [[], ["status"], ["verify"], ["backup"], ["plan"]])
@pytest.mark.parametrize("where", ["a file", "below a file", "where nobody may write"])
def test_a_folder_that_cannot_be_used_is_one_sentence(
    command: list[str], where: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    in_the_way = tmp_path / "file"
    in_the_way.write_text("not a shop", encoding="utf-8")
    places = {"a file": in_the_way, "below a file": in_the_way / "shop", "where nobody may write": Path("/proc/floor")}

    assert main([*command, "--shop", str(places[where])]) == Exit.CANNOT

    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.startswith("floor: ")
    assert "Traceback" not in told.err
    assert str(places[where]) in told.err


def test_the_shop_is_named_by_the_environment_too(
    shop: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("FLOOR_SHOP", str(shop))
    assert main(["status"]) == Exit.FINE
    assert "B0001  KB-7 A" in capsys.readouterr().out


@pytest.mark.parametrize("wrong", [["fly"], ["check"], ["status", "--fast"], ["--shop"]])
def test_a_command_line_that_makes_no_sense_ends_with_2(wrong: list[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main(wrong)
    assert ended.value.code == Exit.USAGE


def test_asked_for_the_plan_as_a_paper_it_names_the_command_that_prints_it(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["paper", "plan", "B0001"]) == Exit.USAGE
    assert capsys.readouterr().err.rstrip().endswith("for the plan, run floor plan")


def test_a_value_that_is_not_a_whole_number_is_refused_in_words(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["plan", "part.toml", "--order", "abc"])
    assert ended.value.code == Exit.USAGE
    assert 'argument --order: "abc" is not a whole number. Write it in digits, like 60' in capsys.readouterr().err


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (None, "no such file"),
        (b"", ""),
        (b"\xff\xfe\x00", "not a text file"),
        (b"[part", "TOML"),
        (b"format = 9\n", "format"),
    ],  # fmt: skip
)
def test_check_says_what_is_wrong_with_any_file(
    content: bytes | None, said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "part.toml"
    if content is not None:
        file.write_bytes(content)

    assert main(["check", str(file)]) == Exit.WRONG

    told = capsys.readouterr().out
    assert "part.toml" in told
    assert said.casefold() in told.casefold()


def test_one_wrong_file_among_right_ones_is_wrong(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    right = ROOT / "tests" / "batch" / "part.toml"
    assert main(["check", str(right), str(tmp_path / "none.toml")]) == Exit.WRONG
    assert "no problem found" in capsys.readouterr().out


def test_a_copy_is_made_and_brought_back(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["backup", "--shop", str(shop)]) == Exit.FINE
    [copy] = (shop / "backups").iterdir()
    record = shop / "record" / "B0001.json"
    sound = record.read_bytes()
    record.write_bytes(sound[:200])
    assert main(["verify", "--shop", str(shop)]) == Exit.WRONG

    assert main(["restore", str(copy), "--shop", str(shop)]) == Exit.WRONG, "a lead decides it"
    assert main(["restore", str(copy), "--by", "LL", "--shop", str(shop)]) == Exit.FINE
    assert main(["verify", "--shop", str(shop)]) == Exit.FINE
    capsys.readouterr()
    assert main(["status", "--shop", str(shop)]) == Exit.FINE
    assert "started 10" in capsys.readouterr().out


def test_status_tells_a_damaged_record_and_wrong_settings(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (shop / "shop.toml").write_text('hands = "two"\n', encoding="utf-8")
    assert main(["status", "--shop", str(shop)]) == Exit.WRONG
    assert "hands" in capsys.readouterr().err
    (shop / "shop.toml").unlink()
    record = shop / "record" / "B0001.json"
    sound = record.read_bytes()
    at = sound.rindex(b'"kind"')
    record.write_bytes(sound[:at] + b"x" + sound[at + 1 :])
    assert main(["status", "--json", "--shop", str(shop)]) == Exit.WRONG
    assert list(json.loads(capsys.readouterr().out)["unreadable"]) == ["B0001"]


def test_a_batch_goes_over_to_another_shop(shop: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    bundle, other = tmp_path / "b1.floor", tmp_path / "other"
    there = Shop(other, ManualClock(MORNING))
    there.add_person("LL", "Lena Lindqvist", True, by="-")
    there.close()

    assert main(["bundle", "B0001", str(bundle), "--to", "north shop", "--by", "LL", "--shop", str(shop)]) == Exit.FINE
    capsys.readouterr()
    again = ["bundle", "B0001", str(tmp_path / "b2.floor"), "--to", "x", "--by", "LL", "--shop", str(shop)]
    assert main(again) == Exit.FINE
    said = " ".join(capsys.readouterr().out.split())
    assert "went to north shop before, and this is the same: take in only one of them. --to is as it was." in said
    assert main(["receive", str(bundle), "--yes", "--by", "LL", "--shop", str(other)]) == Exit.FINE
    capsys.readouterr()
    assert main(["status", "--shop", str(other)]) == Exit.FINE
    assert "B0001" in capsys.readouterr().out


def test_the_checklists_and_the_styles_ship_inside_the_wheel() -> None:
    """What the wheel is built from; `floor.checklist.loading.list_shipped_checklists` finds the shipped files there."""
    wheel = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["hatch"]["build"]["targets"][
        "wheel"
    ]
    assert wheel["packages"] == ["floor"]
    assert wheel["force-include"] == {"checklists": "floor/checklists"}
    assert len(list((ROOT / "checklists").glob("*.toml"))) >= 3
    assert (ROOT / "checklists" / "README.md").is_file()
    assert {file.suffix for file in list_shipped_checklists()} == {".toml"}
    assert (ROOT / "floor" / "screens" / "floor.tcss").is_file()


@pytest.mark.parametrize(("fault", "status"), [(True, Exit.FAULT), (False, Exit.FINE)])
def test_a_program_that_ends_by_a_fault_does_not_end_with_0(
    fault: bool, status: Exit, shop: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Terminal(StringIO):
        def isatty(self) -> bool:
            return True

        def fileno(self) -> int:
            return 0

    def run(app: FloorApp) -> None:
        if fault:
            app.panic("a fault")
        else:
            app.exit()

    for stream in ("stdin", "stdout"):
        monkeypatch.setattr(sys, stream, Terminal())
    monkeypatch.setattr("floor.cli.main._need_size", lambda _: None)
    monkeypatch.setattr(FloorApp, "run", run)
    assert main(["--shop", str(shop)]) == status


def test_a_paper_goes_to_the_printer_that_the_shop_names(
    shop: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out, program = tmp_path / "printed", tmp_path / "printer.py"
    given = ["paper", "close-out", "B0001", "--print", "--shop", str(shop)]
    assert main(given) == Exit.CANNOT
    assert f'no printer is named; write print = "lp" in {shop / "shop.toml"}' in capsys.readouterr().err

    program.write_text(
        f"import sys\nopen({str(out)!r}, 'wb').write(sys.stdin.buffer.read())\nprint('request id is office-7')\n"
    )
    (shop / "shop.toml").write_text(f'print = "{sys.executable} {program}"\n')
    assert main(given) == Exit.FINE
    assert capsys.readouterr().out == "request id is office-7\n"
    assert "CLOSE-OUT" in out.read_text(encoding="utf-8")

    (shop / "shop.toml").write_text(f'print = "{tmp_path / "gone"}"\n')
    assert main(given) == Exit.CANNOT
    assert "floor: Not printed: there is no program" in capsys.readouterr().err
    (shop / "shop.toml").write_text("print = 3\n")
    assert main(given) == Exit.CANNOT
    assert "write text in quotes" in capsys.readouterr().err


def test_what_is_for_other_programs_is_not_printed(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["paper", "csv", "B0001", "--print", "--shop", str(shop)]) == Exit.USAGE
    assert "csv is machine-readable" in capsys.readouterr().err


def test_an_open_batch_among_the_closed_ones_is_brought_back(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Else it would vanish from What next without a word."""
    record = shop / "record"
    (record / "B0001.json").rename(record / "closed" / "B0001.json")
    assert main(["verify", "--shop", str(shop)]) == Exit.WRONG
    assert "B0001 is among the closed batches, but nobody closed it" in " ".join(capsys.readouterr().out.split())

    assert main(["status", "--shop", str(shop)]) == Exit.FINE
    assert "B0001" in capsys.readouterr().out
    assert (record / "B0001.json").is_file()
    assert main(["verify", "--shop", str(shop)]) == Exit.FINE


def test_a_closed_batch_that_was_cut_short_is_not_said_to_be_open(
    shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """What is missing may be the entry that closed it, so nobody is told to move it back."""
    opened = Shop(shop, ManualClock(MORNING))
    opened.do("B0001", SetPiecesAside("scrap", "spoilt", op=10, count=10), "LL")
    opened.do("B0001", CloseBatch("order withdrawn"), "LL")
    opened.close()
    place = shop / "record" / "closed" / "B0001.json"
    whole = place.read_bytes()
    for broken in (whole[: whole.index(b'"kind":"batch_closed"')], whole.replace(b"batch_closed", b"batch_lost")):
        place.write_bytes(broken)
        assert main(["verify", "--shop", str(shop)]) == Exit.WRONG
        assert "nobody closed it" not in " ".join(capsys.readouterr().out.split())


def test_a_closed_batch_whose_mark_was_left_behind_stays_closed(shop: Path) -> None:
    """A crash can come between the file and its mark."""
    opened = Shop(shop, ManualClock(MORNING))
    opened.do("B0001", SetPiecesAside("scrap", "spoilt", op=10, count=10), "LL")
    opened.do("B0001", CloseBatch("order withdrawn"), "LL")
    opened.close()
    record = shop / "record"
    (record / "closed" / ".B0001.mark").rename(record / ".B0001.mark")

    again = Shop(shop, ManualClock(MORNING))
    assert (again.closed(), [*again.batches], again.troubles) == (["B0001"], [], [])
    assert (record / "closed" / ".B0001.mark").is_file()
