"""The command line: output, answers, and never a traceback."""

from __future__ import annotations

import csv
import io
import json
import re
import shutil
import subprocess
import sys
from datetime import datetime, timedelta, timezone
from pathlib import Path

import pytest

from floor.cli.base import escape_controls
from floor.cli.main import Exit, _parse, _parser, main
from floor.entry import Draft
from floor.ledger import JournalFolder, NameTaken
from floor.papers.catalog import KINDS
from floor.screens.frame.tour import Tour
from floor.shop import Shop
from floor.shop.clock import read_clock
from floor.shop.demo import DAY, MARKER, make_demo
from floor.shop.simulation import ManualClock

CHECKLISTS = Path(__file__).parents[1] / "checklists"


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("demo") / "shop"
    make_demo(folder, ManualClock(datetime(2026, 5, 6, 10, tzinfo=timezone(timedelta(hours=2))))).close()
    return folder


@pytest.mark.parametrize("words", [[], ["--shop", "here"], ["--shop", "~/here"], ["--shop=here"]])
def test_just_opening_a_shop_reads_the_same_without_the_parser_of_all_commands(words: list[str]) -> None:
    assert vars(_parse(words)) == vars(_parser().parse_args(words))


@pytest.mark.parametrize("words", [["--shop"], ["--shop", "-x"], ["--shop", "~no-such-person"], ["--shp", "here"]])
def test_a_mistake_in_just_opening_a_shop_is_told_by_the_parser_of_all_commands(
    words: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as ended:
        _parse(words)
    assert ended.value.code == Exit.USAGE
    assert "usage: floor" in capsys.readouterr().err


def test_just_opening_a_shop_loads_no_other_command() -> None:
    code = (
        "import sys; from floor.cli.main import _parse; _parse([]); print([m for m in sys.modules if 'floor.cli' in m])"
    )
    loaded = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert loaded.strip() == "['floor.cli', 'floor.cli.base', 'floor.cli.main']"


def test_status_prints_counts_and_what_is_next(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["status", "--shop", str(demo)]) == Exit.FINE

    told = capsys.readouterr().out
    assert "B0001  TB-2140 C" in told
    assert "waived by RK" in told


def test_status_as_json_accounts_for_every_piece(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["status", "--json", "--shop", str(demo)]) == Exit.FINE

    told = json.loads(capsys.readouterr().out)
    assert told["format"] == 1
    batch = told["batches"][0]
    assert sum(batch["counts"].values()) == batch["started"]


def test_gauges_are_listed_with_what_is_due_first(
    demo: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shop = Shop(tmp_path / "shop")
    shop.add_person("LL", "Lena", True, by="-")
    today = shop.now().at.date()
    for serial, days in (("A1", 200), ("B2", 3)):
        shop.add_gauge(serial, "Micrometer", (today + timedelta(days)).isoformat(), "LL")
    shop.withdraw_gauge("A1", "dropped", False, "LL")
    shop.close()

    assert main(["gauges", "--shop", str(tmp_path / "shop")]) == Exit.FINE
    rows = capsys.readouterr().out.splitlines()
    assert rows[1].split() == ["B2", "Micrometer", (today + timedelta(3)).isoformat(), "due", "in", "3", "days"]
    assert rows[2].split()[-2:] == ["withdrawn:", "dropped"]

    assert main(["gauges", "--json", "--shop", str(tmp_path / "shop")]) == Exit.FINE
    told = json.loads(capsys.readouterr().out)
    assert [(one["serial"], one["withdrawn"], one["overdue"]) for one in told["gauges"]] == [
        ("B2", None, False),
        ("A1", "dropped", False),
    ]

    assert main(["gauges", "--shop", str(demo)]) == Exit.FINE
    assert "DM-1          Depth micrometer" in capsys.readouterr().out
    Shop(tmp_path / "new").close()
    assert main(["gauges", "--shop", str(tmp_path / "new")]) == Exit.FINE
    assert "No gauges" in capsys.readouterr().out


def test_verify_finds_the_record_sound_and_then_altered(
    demo: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["verify", "--shop", str(demo)]) == Exit.FINE
    record = demo / "record" / "B0001.json"
    sound = record.read_bytes()
    record.write_bytes(sound.replace(b"PO 7731", b"PO 7732", 1))
    try:
        assert main(["verify", "B0001", "--shop", str(demo)]) == Exit.WRONG
    finally:
        record.write_bytes(sound)
    assert "Entry 1 was altered" in capsys.readouterr().out


def test_verify_without_a_record_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["verify", "--shop", str(tmp_path)]) == Exit.CANNOT
    assert "no record" in capsys.readouterr().err


def test_check_passes_what_is_shipped(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", *map(str, CHECKLISTS.glob("*.toml"))]) == Exit.FINE
    assert capsys.readouterr().out.count("no problem found") == 3


def test_check_names_file_and_line_of_every_problem(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "wrong.toml"
    text = (CHECKLISTS / "thermal-break-plate.toml").read_text(encoding="utf-8")
    text = text.replace('"16000 rpm"', '"16000"').replace('station = "mill"', 'station = "mil"')
    file.write_text(text, encoding="utf-8")

    assert main(["check", str(file)]) == Exit.WRONG

    told = capsys.readouterr().out.splitlines()
    assert len(told) >= 4
    assert all(line.startswith(f"{file}:") or "wrong.toml:" in line for line in told)


def test_what_would_steer_the_terminal_is_printed_written_out(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "steering\x1b[2J.toml"
    text = (CHECKLISTS / "thermal-break-plate.toml").read_text(encoding="utf-8")
    file.write_text(text.replace('"Enamel', '"Ena\\u001b[31m\\u009b\\u202emel'), encoding="utf-8")

    assert main(["check", str(file)]) == Exit.WRONG
    assert main(["plan", str(file), "--order", "4", "--shop", str(tmp_path)]) == Exit.WRONG

    told = capsys.readouterr()
    for printed in told:
        assert r"steering\u001b[2J.toml" in printed
        assert r"Ena\u001b[31m\u009b\u202emel" in printed
        assert not set(printed) & set("\x1b\x9b\u202e")


def test_what_is_written_out_says_the_same_in_json_and_leaves_the_lines_of_a_table() -> None:
    value = {"name": "Größe\t✓ \x1b[31m\x7f\x9b\u2066\r\n\u2028"}
    text = json.dumps(value, indent=2, ensure_ascii=False)
    assert json.loads(escape_controls(text)) == value
    assert escape_controls("a,b\r\nc\td\r\n") == "a,b\r\nc\td\r\n"
    assert escape_controls("kept\rLOST") == r"kept\u000dLOST"


def test_check_warns_of_what_a_careful_shop_would_have(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "bold.toml"
    text = (CHECKLISTS / "metering-pin.toml").read_text(encoding="utf-8")
    bold = "".join(line for line in text.splitlines(keepends=True) if '"first piece accepted"' not in line)
    file.write_text(bold, encoding="utf-8")

    assert main(["check", str(file)]) == Exit.FINE, "it can be used"

    told = capsys.readouterr().out
    assert told.count("no first piece is accepted") == text.count('"first piece accepted"')
    assert "9 operations: no problem found, 3 warnings" in told


@pytest.mark.parametrize("kind", [*KINDS, "figures"])
def test_every_paper_is_printed(demo: Path, capsys: pytest.CaptureFixture[str], kind: str) -> None:
    assert main(["paper", kind, "B0001", "--piece", "3", "--load", "10", "--shop", str(demo)]) == Exit.FINE

    told = capsys.readouterr()
    assert "B0001" in told.out
    assert not told.err
    with pytest.raises(SystemExit):
        main(["paper", "--help"])
    assert kind in capsys.readouterr().out


def test_figures_on_paper_are_those_since_a_time(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["paper", "figures", "B0001", "--since", "2030-01-01", "--shop", str(demo)]) == Exit.FINE
    assert "Nothing since 2030-01-01 00:00" in " ".join(capsys.readouterr().out.split())
    assert main(["paper", "figures", "B0001", "--since", "soon", "--shop", str(demo)]) == Exit.WRONG
    assert "soon" in capsys.readouterr().err


def test_an_accepted_handover_is_printed_as_it_was_signed(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["paper", "handover", "B0001", "--signed", "1", "--shop", str(demo)]) == Exit.FINE
    assert "Incoming" in capsys.readouterr().out
    assert main(["paper", "handover", "B0001", "--signed", "9", "--shop", str(demo)]) == Exit.WRONG
    assert "B0001 has no handover 9; it has 2 accepted handovers" in capsys.readouterr().err


def test_a_paper_is_kept_where_it_says(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["paper", "close-out", "B0001", "--keep", "--shop", str(demo)]) == Exit.FINE

    path = Path(capsys.readouterr().out.rstrip("\n"))
    assert path.parent == demo / "papers"
    assert "CLOSE-OUT REPORT  B0001" in path.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("given", "status", "said"),
    [(["poster", "B0001"], Exit.USAGE, "choose from traveler, handover"),
     (["trace", "B0001", "--piece", "999"], Exit.WRONG, "1 to 108"),
     (["csv", "B0099"], Exit.WRONG, "here is no batch B0099")],
)  # fmt: skip
def test_a_paper_there_is_not_is_reported(
    demo: Path, capsys: pytest.CaptureFixture[str], given: list[str], status: Exit, said: str
) -> None:
    assert main(["paper", *given, "--shop", str(demo)]) == status
    assert said in capsys.readouterr().err


def test_schema_is_json(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["schema"]) == Exit.FINE
    assert json.loads(capsys.readouterr().out)["$schema"].startswith("https://json-schema.org/")


def test_without_a_terminal_the_program_does_not_start(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--shop", str(tmp_path / "shop")]) == Exit.CANNOT
    assert "not a terminal" in capsys.readouterr().err


def test_the_demo_clears_no_folder_that_is_not_a_demo(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "precious.txt").write_text("keep me", encoding="utf-8")

    assert main(["demo", "--shop", str(tmp_path)]) == Exit.CANNOT

    assert (tmp_path / "precious.txt").read_text(encoding="utf-8") == "keep me"
    assert not (tmp_path / MARKER).exists()
    assert "not a demo" in capsys.readouterr().err


def test_the_demo_clears_no_batch_that_somebody_entered(
    demo: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("floor.cli.main._show", lambda shop, **given: shop.close() or 0)
    folder = tmp_path / "demo"
    shutil.copytree(demo, folder)
    own = folder / "record" / "closed" / "B0002.json"
    own.write_text("{}", encoding="utf-8")

    assert main(["demo", "--shop", str(folder)]) == Exit.CANNOT
    assert own.exists()
    assert "B0002" in capsys.readouterr().err
    assert main(["demo", "--keep", "--shop", str(folder)]) == Exit.FINE
    assert own.exists()
    assert main(["demo", "--fresh", "--shop", str(folder)]) == Exit.FINE
    assert not own.exists()


def test_a_kept_demo_signs_nobody_in_past_a_pin(demo: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    shown: list[object] = []

    def show(shop: Shop, **given: object) -> int:
        shop.close()
        shown.append(given["who"])
        return 0

    monkeypatch.setattr("floor.cli.main._show", show)
    folder = tmp_path / "demo"
    shutil.copytree(demo, folder)
    for text in ("", "pin_for_everyone = true\n"):
        (folder / "shop.toml").write_text(text, encoding="utf-8")
        assert main(["demo", "--keep", "--shop", str(folder)]) == Exit.FINE
    assert shown == [DAY, ""]


def test_a_new_demo_has_a_tour_and_one_that_is_kept_has_none(
    demo: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shown: list[object] = []

    def show(shop: Shop, **given: object) -> int:
        shop.close()
        shown.append(given["tour"])
        return 0

    monkeypatch.setattr("floor.cli.main._show", show)
    folder = tmp_path / "demo"
    shutil.copytree(demo, folder)
    assert main(["demo", "--keep", "--shop", str(folder)]) == Exit.FINE
    assert main(["demo", "--shop", str(folder)]) == Exit.FINE
    assert shown[0] is None
    assert isinstance(shown[1], Tour)


@pytest.mark.parametrize("given", [["demo"], ["demo", "--fresh"]])
def test_the_demo_that_another_terminal_has_open_is_not_cleared(
    given: list[str], demo: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Confirmations there would be written to a record that is gone."""
    folder = tmp_path / "demo"
    shutil.copytree(demo, folder)
    inside: list[int] = []

    def show(shop: Shop, **more: object) -> int:
        shop.close()
        if not inside:
            inside.append(main([*given, "--shop", str(folder)]))
            assert (folder / "record" / "B0001.json").exists()
            inside.append(main(["demo", "--keep", "--shop", str(folder)]))
        return 0

    monkeypatch.setattr("floor.cli.main._show", show)
    assert main(["demo", "--keep", "--shop", str(folder)]) == Exit.FINE
    assert inside == [Exit.CANNOT, Exit.FINE]
    assert "is open at another terminal" in capsys.readouterr().err
    assert main(["demo", "--shop", str(folder)]) == Exit.FINE, "closed there, it is made anew"


@pytest.mark.parametrize("given", [["status"], ["verify"], ["restore", "{long}"], ["demo"], ["check", "{long}.toml"]])
def test_a_name_that_is_too_long_is_reported_in_words(
    given: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    long = str(tmp_path / ("x" * 300))
    args = [one.format(long=long) for one in given]

    assert main(args if given[0] == "check" else [*args, "--shop", long]) != Exit.FINE

    said = capsys.readouterr()
    assert "Errno" not in said.out + said.err


def test_help_teaches_by_example(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["--help"])

    assert ended.value.code == 0
    told = capsys.readouterr().out
    assert all(f"floor {word}" in told for word in ("demo", "status", "check", "schema", "verify", "backup", "bundle"))


@pytest.mark.parametrize("table", [["paper", "csv", "B0001"], ["plan", "--csv"]])
def test_a_table_on_standard_output_reads_back_row_by_row(
    demo: Path, table: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    """RFC 4180: each row ends with a line end and nothing else, the last one too."""
    main([*table, "--shop", str(demo)])  # its plan ends with 1: an oven needs somebody at night
    text = capsys.readouterr().out

    rows = list(csv.reader(io.StringIO(text, newline="")))
    assert {len(row) for row in rows} == {len(rows[0])}
    assert r"\u000d" not in text
    assert text.count("\r\n") == text.count("\n") == len(rows)
    if table[0] == "paper":
        assert re.fullmatch("[0-9a-f]{64}", rows[-1][-1])


def test_what_scrap_may_bring_is_not_worked_out_for_a_table(
    demo: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[str] = []
    monkeypatch.setattr("floor.planning.yield_risk._Doubts.load", lambda doubts, load: asked.append(load.id) or load)
    monkeypatch.setattr("floor.planning.whatif.compute_savings_of_one_more", lambda *given, **named: ())

    main(["plan", "--csv", "--shop", str(demo)])
    assert not asked
    main(["plan", "--json", "--shop", str(demo)])
    assert asked, "the band of the finish is in it"


def test_a_closed_batch_whose_file_is_gone_is_named(
    demo: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shop = tmp_path / "shop"
    shutil.copytree(demo, shop)
    journals = JournalFolder(shop / "record")
    with journals.open("B0001").turn() as turn:
        turn.append([Draft("batch_closed", {"finished": 0, "reason": "order withdrawn"})], read_clock(), "LL")
    journals.archive("B0001")
    assert main(["verify", "--shop", str(shop)]) == Exit.FINE
    (shop / "record" / "closed" / "B0001.json").unlink()
    capsys.readouterr()

    assert main(["verify", "--shop", str(shop)]) == Exit.WRONG
    assert f"The record of B0001 is not in {shop / 'record' / 'closed'} any more" in capsys.readouterr().out
    with pytest.raises(NameTaken):
        journals.create("B0001")
    journals.close()
    with_it = Shop(shop)
    assert with_it.find_next_id() == "B0002"
    with_it.close()
