"""A paper is in the folder whole or not at all."""

from __future__ import annotations

from pathlib import Path

import pytest

from floor.papers.keep import keep


def test_it_is_written_and_replaced_whole(tmp_path: Path) -> None:
    path = keep(tmp_path, "B0001-handover-7.txt", "first\n")
    again = keep(tmp_path, "B0001-handover-7.txt", "second é\n")

    assert path == again == tmp_path / "papers" / "B0001-handover-7.txt"
    assert path.read_bytes() == "second é\n".encode()
    assert [one.name for one in path.parent.iterdir()] == [path.name]


def test_where_the_disk_refuses_the_older_paper_stays(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = keep(tmp_path, "sheet.txt", "first\n")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(OSError, match="No space"):
        keep(tmp_path, "sheet.txt", "second\n")

    assert path.read_text() == "first\n"
    assert [one.name for one in path.parent.iterdir()] == ["sheet.txt"]
