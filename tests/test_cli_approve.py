"""``floor approve``: a lead approves a checklist, with PIN, and only one without errors."""

from __future__ import annotations

from pathlib import Path

import pytest

from floor.cli.base import Exit
from floor.cli.main import main
from floor.shop import Shop
from floor.shop.checklists import read_checklist_file

TEXT = (Path(__file__).parent / "batch" / "part.toml").read_text(encoding="utf-8")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    shop = Shop(tmp_path / "shop")
    shop.add_person("LL", "Lena", True, by="LL", pin="2468")
    shop.add_person("AA", "Arne", False, by="LL")
    shop.close()
    return shop.folder


def approve(folder: Path, file: Path, by: str) -> int:
    return main(["approve", str(file), "--by", by, "--shop", str(folder)])


def test_a_lead_approves_by_pin_and_the_record_has_the_content(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """CBP-12: by a command as on the screen."""
    file = folder / "checklists" / "part.toml"
    file.parent.mkdir()
    file.write_text(TEXT, encoding="utf-8")
    monkeypatch.setattr("getpass.getpass", lambda prompt: "0000")
    assert approve(folder, file, "LL") == Exit.WRONG
    assert approve(folder, file, "AA") == Exit.WRONG
    monkeypatch.setattr("getpass.getpass", lambda prompt: "2468")
    capsys.readouterr()

    assert approve(folder, file, "LL") == Exit.FINE

    one = read_checklist_file(folder, file)
    assert f"KB-7 A approved by LL: checklists/part.toml, SHA-256 {one.digest}" in capsys.readouterr().out
    shop = Shop(folder)
    known = shop.approvals.find("KB-7", one.digest)
    shop.close()
    assert known is not None
    assert known.by == "LL"
    assert approve(folder, file, "LL") == Exit.WRONG, "once"


def test_a_file_with_errors_or_none_is_not_approved(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("getpass.getpass", lambda prompt: "2468")
    broken = tmp_path / "broken.toml"
    broken.write_text("order = ", encoding="utf-8")
    assert approve(folder, broken, "LL") == Exit.WRONG
    assert "he file broken.toml has errors" in capsys.readouterr().err
    assert approve(folder, tmp_path / "none.toml", "LL") == Exit.WRONG


def test_what_the_check_warns_of_is_told_before_the_lead_signs(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """As on the screen: a lead approves what they were warned of."""
    file = tmp_path / "warned.toml"
    file.write_text(TEXT, encoding="utf-8")
    warned = sorted(str(one) for one in read_checklist_file(folder, file).loaded.warnings)
    assert warned, "the part has something to warn of"
    told = []

    def ask(prompt: str) -> str:
        told.append(capsys.readouterr().out)
        return "2468"

    monkeypatch.setattr("getpass.getpass", ask)
    assert approve(folder, file, "LL") == Exit.FINE
    assert all(one in told[0] for one in warned)
    assert capsys.readouterr().out.endswith(f", {len(warned)} warnings\n")
