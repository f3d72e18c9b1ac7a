"""A paper is in the folder whole or not at all."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from floor.papers.save import make_file_name, save_paper


def test_it_is_written_whole_and_the_same_again_is_the_same_file(tmp_path: Path) -> None:
    path = save_paper(tmp_path, "B0001-handover.txt", "first é\r\n")
    again = save_paper(tmp_path, "B0001-handover.txt", "first é\r\n")

    assert path == again == tmp_path / "papers" / "B0001-handover.txt"
    assert path.read_bytes() == "first é\r\n".encode()
    assert [one.name for one in path.parent.iterdir()] == [path.name]


def test_it_is_not_for_everybody_on_the_host(tmp_path: Path) -> None:
    path = save_paper(tmp_path, "sheet.txt", "RK 2 scrap\n")

    assert path.stat().st_mode & 0o007 == 0
    assert path.parent.stat().st_mode & 0o007 == 0


@pytest.mark.parametrize("links", [True, False])
def test_another_paper_of_the_same_name_is_never_written_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, links: bool
) -> None:
    if not links:  # as on a memory stick: FAT knows none

        def none(*_: object) -> None:
            raise OSError(95, "Operation not supported")

        monkeypatch.setattr("os.link", none)

    kept = [save_paper(tmp_path, "sheet.txt", text).name for text in ("one\n", "two\n", "three\n", "two\n")]

    assert kept == ["sheet.txt", "sheet-2.txt", "sheet-3.txt", "sheet-2.txt"]
    papers = tmp_path / "papers"
    assert {one.name: one.read_text() for one in papers.iterdir()} == {
        "sheet.txt": "one\n", "sheet-2.txt": "two\n", "sheet-3.txt": "three\n",
    }  # fmt: skip


def test_a_folder_of_papers_sorts_by_time() -> None:
    morning, evening = datetime(2026, 3, 2, 7, 5, tzinfo=UTC), datetime(2026, 3, 2, 19, 5, tzinfo=UTC)

    assert make_file_name("B0001-handover", morning) == "B0001-handover-20260302-0705.txt"
    assert make_file_name("B0001-handover", morning, "csv") < make_file_name("B0001-handover", evening, "csv")


def test_where_the_disk_refuses_the_older_paper_stays(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = save_paper(tmp_path, "sheet.txt", "first\n")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(OSError, match="No space"):
        save_paper(tmp_path, "sheet.txt", "second\n")

    assert path.read_text() == "first\n"
    assert [one.name for one in path.parent.iterdir()] == ["sheet.txt"]
