"""``floor lessons``: what is printed, and lines taken by a lead."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from floor.cli.main import Exit, main
from floor.shop import Shop
from floor.shop.simulation import ManualClock
from tests.batch.factory import MORNING
from tests.shop.taught import PART, teach


@pytest.fixture(scope="module")
def worked(tmp_path_factory: pytest.TempPathFactory) -> Path:
    clock = ManualClock(MORNING)
    shop = Shop(tmp_path_factory.mktemp("taught") / "shop", clock)
    shop.add_person("LL", "Lena Lindqvist", True, by="LL")
    shop.add_person("AA", "Arne Aas", False, by="LL")
    teach(shop, clock)
    shop.close()
    return shop.folder


@pytest.fixture
def folder(worked: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(worked, tmp_path / "shop"))


def ask(capsys: pytest.CaptureFixture[str], folder: Path, *args: str) -> tuple[int, str, str]:
    capsys.readouterr()
    code = main(["lessons", *args, "--shop", str(folder)])
    said = capsys.readouterr()
    return code, said.out, said.err


def test_it_prints_what_is_offered_with_its_lines_and_what_is_not(
    capsys: pytest.CaptureFixture[str], folder: Path
) -> None:
    code, out, err = ask(capsys, folder, "B0001")

    assert (code, err) == (Exit.FINE, "")
    assert "Lessons of B0001 for checklists/part.toml" in out
    assert ' - life = "60 min"\n    + life = "20 min"\n' in out
    line = int(out.partition('- life = "60 min"')[0].rpartition("line ")[2])
    assert PART.read_text(encoding="utf-8").split("\n")[line - 1] == 'life = "60 min"'
    assert "n/a, because 4 timed loads are too few: it takes 6" in " ".join(out.split())
    assert all(len(row) <= 80 for row in out.split("\n"))


def test_a_lead_takes_lines_by_number(
    capsys: pytest.CaptureFixture[str], folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    own = folder / "checklists" / "part.toml"
    out = ask(capsys, folder, "B0001")[1]
    number = next(row.split()[0] for row in out.split("\n") if "end mill, life" in row)

    monkeypatch.setattr("builtins.input", lambda prompt: "no")
    code, out, _ = ask(capsys, folder, "B0001", "--take", number, "--by", "ll")
    assert (code, out.split("\n")[-2]) == (Exit.FINE, "Nothing was taken.")
    assert own.read_bytes() == PART.read_bytes()

    monkeypatch.setattr("builtins.input", lambda prompt: "yes")
    code, out, _ = ask(capsys, folder, "B0001", "--take", number, number, "--by", "ll")
    assert code == Exit.FINE
    assert "on record as LL's" in out
    assert own.read_bytes() == PART.read_bytes().replace(b'life = "60 min"', b'life = "20 min"')
    assert '✓ tool 1 life: "60 min" to "20 min"' in ask(capsys, folder, "B0001")[1]

    assert ask(capsys, folder, "B0001", "--take", "all", "--by", "LL", "--yes")[0] == Exit.FINE
    assert "Nothing else to offer" in ask(capsys, folder, "B0001")[1]
    assert ask(capsys, folder, "B0001", "--take", "1", "--by", "LL")[0] == Exit.WRONG


def test_what_cannot_be_taken_is_refused_with_its_exit_status(capsys: pytest.CaptureFixture[str], folder: Path) -> None:
    assert ask(capsys, folder, "B0009")[0] == Exit.WRONG
    assert ask(capsys, folder, "B0001", "--take", "1")[0] == Exit.USAGE
    code, _, err = ask(capsys, folder, "B0001", "--take", "all", "1", "--by", "LL")
    assert (code, "give all alone, or the numbers without it" in err) == (Exit.USAGE, True)
    for wrong in ("0", "99", "-1", "x", "²"):
        code, _, err = ask(capsys, folder, "B0001", "--by", "LL", f"--take={wrong}")
        assert (code, f"there is no {wrong}; 1 to " in err) == (Exit.USAGE, True)
    code, _, err = ask(capsys, folder, "B0001", "--take", "1", "--by", "AA", "--yes")
    assert (code, "needs a lead" in err) == (Exit.WRONG, True)

    own = folder / "checklists" / "part.toml"
    own.unlink()
    code, out, err = ask(capsys, folder, "B0001")
    assert (code, "is not there any more" in err) == (Exit.FINE, True)
    assert 'tool 1 life: "60 min" to "20 min"' in out, "the values stand without the file too"
    assert ask(capsys, folder, "B0001", "--take", "1", "--by", "LL")[0] == Exit.WRONG
    (folder / "shop.toml").write_text("hands = 0\n", encoding="utf-8")
    code, _, err = ask(capsys, folder, "B0001")
    assert (code, "hands: 0 is out of range" in err) == (Exit.WRONG, True)


def test_a_pin_is_asked_for(capsys: pytest.CaptureFixture[str], folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    shop = Shop(folder)
    shop.set_pin("LL", "4711", "LL")
    shop.close()
    monkeypatch.setattr("getpass.getpass", lambda prompt: "0000")
    assert ask(capsys, folder, "B0001", "--take", "all", "--by", "LL", "--yes")[0] == Exit.WRONG
    monkeypatch.setattr("getpass.getpass", lambda prompt: "4711")
    assert ask(capsys, folder, "B0001", "--take", "all", "--by", "LL", "--yes")[0] == Exit.FINE


def test_no_command_is_given_without_a_pin_where_everyone_needs_one(
    capsys: pytest.CaptureFixture[str], folder: Path
) -> None:
    """REC-33: by command as on the screen."""
    (folder / "shop.toml").write_text("pin_for_everyone = true\n", encoding="utf-8")
    code, _, err = ask(capsys, folder, "B0001", "--take", "all", "--by", "LL", "--yes")
    assert (code, "LL has no PIN" in err) == (Exit.WRONG, True)


def test_the_close_out_report_tells_the_lessons(capsys: pytest.CaptureFixture[str], folder: Path) -> None:
    main(["paper", "close-out", "B0001", "--shop", str(folder)])
    section = capsys.readouterr().out.partition("Lessons for the next quote")[2].partition("\nScrap")[0]
    assert 'tool 1 life: "60 min" to "20 min"' in section
    assert "Started 28 for 20: 8 spare, 6 lost" in section
    assert "Not offered" in section
