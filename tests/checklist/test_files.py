"""Unreadable files give a sentence, never a traceback; where checklists are."""

import os
from pathlib import Path

import pytest

from floor.checklist.loading import (
    MOST_BYTES,
    compute_checklist_digest,
    list_shipped_checklists,
    load_checklist,
    read_checklist,
)

RIGHT = Path(__file__).parent / "right.toml"


def only(file: Path) -> str:
    """The one problem of a file, without the name of the file."""
    loaded = load_checklist(file)
    (problem,) = loaded.problems
    assert loaded.checklist is None
    assert problem.file == str(file)
    return str(problem).removeprefix(f"{file}:")


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    assert (
        only(tmp_path / "none.toml") == "1: the file: there is no such file; check the name; `ls` shows what is there"
    )


def test_a_name_that_no_file_can_have() -> None:
    assert "cannot be" in only(Path("a\0b")) or "no such file" in only(Path("a\0b"))


def test_a_name_that_is_too_long(tmp_path: Path) -> None:
    assert "cannot be read" in only(tmp_path / ("n" * 300))


def test_a_folder(tmp_path: Path) -> None:
    assert "this is a folder or a device" in only(tmp_path)


def test_a_large_file_is_not_read(tmp_path: Path) -> None:
    with (tmp_path / "large.toml").open("wb") as large:
        large.truncate(50_000_000)

    assert f"larger than {MOST_BYTES // 1000} kB" in only(tmp_path / "large.toml")


def test_a_picture(tmp_path: Path) -> None:
    (tmp_path / "a.toml").write_bytes(b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR")

    assert "not a text file" in only(tmp_path / "a.toml")


def test_another_encoding(tmp_path: Path) -> None:
    (tmp_path / "a.toml").write_bytes(b"format = 1\nname = '20 \xb0C'\n")

    assert "line 2 is not in UTF-8; save the file as UTF-8" in only(tmp_path / "a.toml")


def test_no_permission(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(_: Path) -> bytes:
        raise PermissionError(13, "Permission denied")

    (tmp_path / "a.toml").write_text("format = 1")
    monkeypatch.setattr(Path, "read_bytes", refuse)  # root may read everything, so the refusal is simulated

    assert "no permission to read it; ask its owner" in only(tmp_path / "a.toml")


def test_a_disk_that_fails(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(_: Path) -> bytes:
        raise OSError(5, os.strerror(5))

    (tmp_path / "a.toml").write_text("format = 1")
    monkeypatch.setattr(Path, "read_bytes", fail)

    assert "cannot be read (Input/output error)" in only(tmp_path / "a.toml")


SYNTAX = [
    ("revised = 2026-13-02\n", "1: column 15: 2026-13-02 is not in the calendar: there is no month 13; write a date"),
    ("revised = 2026-02-30\n", "1: column 11: 2026-02-30 is not in the calendar: that month has days 1 to 28"),
    ("revised = 2026-01-31 x\n", "1: column 22: expected newline"),
    ("revised = 2026-12-01 x\n", "1: column 22: expected newline"),
    ("revised = 2026-12-00\n", "1: column 15: 2026-12-00 is not in the calendar: that month has days 1 to 31"),
    ("revised = 2026-03-02 x\n", "1: column 22: expected newline"),
    ("format = 1\nname = Spacer\n", "2: column 8: invalid value"),
    ("format = 1\n[part\n", "2: column 6: expected ']' at the end of a table declaration"),
    ("format = 1\nformat = 1\n", "2: column 11: cannot overwrite a value"),
    ("a = 'open", "1: "),
    ('id = "x"\nname = [\n', "3: end of the file: "),
    ('x = """\n', "2: end of the file: "),
    ("a = 1\x0b\nb = 2020-13-01\n", "1: column 6: "),
    ("revised = 0000-01-01\n", "1: column 11: 0000-01-01 is not in the calendar: there is no year 0"),
    ("a = " + "[" * 5000, "1: the file: brackets are nested too deep"),
    ("a = " + "9" * 5000, "1: the file: a number has too many digits"),
]


@pytest.mark.parametrize(("text", "said"), SYNTAX, ids=[text[:20] for text, _ in SYNTAX])
def test_syntax_errors_have_their_line(text: str, said: str) -> None:
    (problem,) = read_checklist(text, "x").problems

    assert str(problem).startswith(f"x:{said}")


def test_line_ends_and_mark_of_other_systems_make_no_difference(tmp_path: Path) -> None:
    text = RIGHT.read_text()
    (tmp_path / "a.toml").write_bytes(b"\xef\xbb\xbf" + text.replace("\n", "\r\n").encode())

    loaded = load_checklist(tmp_path / "a.toml")

    assert loaded.checklist == read_checklist(text, "x").checklist
    assert compute_checklist_digest(loaded.text) == compute_checklist_digest(text)
    assert compute_checklist_digest(text) != compute_checklist_digest(text.replace("Spacer", "Washer"))


def test_shipped_checklists_are_found() -> None:
    assert [file.name for file in list_shipped_checklists()] == [
        "bonded-strut.toml",
        "metering-pin.toml",
        "thermal-break-plate.toml",
    ]


def test_shipped_checklists_are_found_inside_an_installed_package(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "floor" / "checklists").mkdir(parents=True)
    (tmp_path / "floor" / "checklists" / "one.toml").touch()
    monkeypatch.setattr("floor.checklist.loading.files", lambda package: tmp_path / package)

    assert [file.name for file in list_shipped_checklists()] == ["one.toml"]


@pytest.mark.parametrize("depth", [17, 300, 5_000])
@pytest.mark.parametrize("text", ["x = {}{}", "[[operations]]\nop = 10\nsteps = {}{}"])
def test_brackets_within_brackets_without_end(depth: int, text: str, tmp_path: Path) -> None:
    file = tmp_path / "deep.toml"
    file.write_text(text.format("[" * depth, "]" * depth))

    assert "nested too deep" in only(file)


def test_pipes_and_devices_are_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.toml")
    (tmp_path / "device.toml").symlink_to("/dev/zero")

    for name in ("pipe.toml", "device.toml"):
        assert "a folder or a device" in only(tmp_path / name)
