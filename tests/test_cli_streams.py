"""Commands with a bad standard stream, path or shop: one sentence, no traceback."""

from __future__ import annotations

import gc
import json
import os
import pty
import select
import signal
import subprocess
import sys
import termios
import time
from pathlib import Path

import pytest

from floor.batch.lifecycle.commands import OpenBatch
from floor.cli.base import print_error
from floor.cli.main import Exit, main
from floor.shop import Shop
from floor.shop.simulation import ManualClock
from tests.batch.factory import MORNING, part

FLOOR = "import sys; from floor.cli.main import main; sys.exit(main())"


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    """A shop with a lead and one batch."""
    folder = tmp_path / "shop"
    opened = Shop(folder, ManualClock(MORNING))
    opened.add_person("LL", "Lena Lindqvist", True, by="-")
    opened.open_batch(
        OpenBatch(opened.find_next_id(), part(), "digest", "part.toml", 8, 10, reference="Größe ✓"), by="LL"
    )
    opened.close()
    return folder


def run(*words: str, redirect: str = "", **environment: str) -> subprocess.CompletedProcess[str]:
    """Run the program through a shell, which can close a stream."""
    command = f'exec "$0" -c "{FLOOR}" "$@" {redirect}'
    return subprocess.run(
        ["sh", "-c", command, sys.executable, *words],
        capture_output=True,
        text=True,
        check=False,
        encoding="latin-1",
        stdin=subprocess.DEVNULL,
        env={**os.environ, **environment},
    )


@pytest.mark.parametrize(
    ("redirect", "code"),
    [(">&-", Exit.CANNOT), ("> /dev/full", Exit.CANNOT), ("<&-", Exit.FINE), ("<&- >&- 2>&-", Exit.CANNOT)],
)
def test_a_stream_that_is_closed_or_full_is_a_sentence_and_nothing_gets_into_the_record(
    shop: Path, redirect: str, code: Exit
) -> None:
    before = {path: path.read_bytes() for path in (shop / "record").glob("*.json")}
    done = run("status", "--shop", str(shop), redirect=redirect)
    assert done.returncode == code
    assert "Traceback" not in done.stderr
    assert ("standard output cannot be written to" in done.stderr) == (code != Exit.FINE and "2>&-" not in redirect)
    assert {path: path.read_bytes() for path in before} == before


def test_a_command_collects_garbage_seldom(shop: Path) -> None:
    before = gc.get_threshold()
    try:
        gc.set_threshold(700, 10, 10)
        main(["status", "--shop", str(shop)])
        assert gc.get_threshold()[0] >= 10_000
    finally:
        gc.set_threshold(*before)


def test_letters_that_the_terminal_does_not_know_are_no_trouble(shop: Path) -> None:
    done = run("status", "--shop", str(shop), PYTHONIOENCODING="ascii")
    assert (done.returncode, done.stderr) == (Exit.FINE, "")
    assert "B0001" in done.stdout
    done = run("paper", "json", "B0001", "--shop", str(shop), PYTHONIOENCODING="latin-1")
    assert done.returncode == Exit.FINE
    assert "Größe ✓" in json.dumps(json.loads(done.stdout), ensure_ascii=False)


@pytest.mark.parametrize("command", [["status"], ["plan"], ["verify"], ["backup"], ["paper", "csv", "B0001"]])
def test_who_mistypes_a_shop_does_not_get_a_new_one(
    command: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([*command, "--shop", str(tmp_path / "typo")]) == Exit.CANNOT
    assert "no record in" in capsys.readouterr().err
    assert not (tmp_path / "typo").exists()


def test_a_home_that_is_nobodys_is_a_sentence(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["status", "--shop=~no-such-person/shop"])
    assert ended.value.code == Exit.USAGE
    monkeypatch.setenv("FLOOR_SHOP", "~no-such-person")
    assert main(["status"]) == Exit.CANNOT
    assert capsys.readouterr().err.count('no home folder for "~no-such-person') == 2


@pytest.mark.parametrize("words", [["status", "--shop=~/shop"], ["verify", "--shop", "~/shop"]])
def test_home_is_home_also_where_the_shell_left_it_alone(
    shop: Path, words: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HOME", str(shop.parent))
    assert main(words) == Exit.FINE


def test_a_real_shop_is_not_gone_on_with_as_a_demo(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["demo", "--keep", "--shop", str(shop)]) == Exit.CANNOT
    assert "not a demo shop" in capsys.readouterr().err


def test_verify_goes_on_over_what_it_cannot_read(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    record = shop / "record"
    (record / "B0005.json").mkdir()
    os.mkfifo(record / "B0006.json")
    (record / "shop.json").unlink()

    assert main(["verify", "--shop", str(shop)]) == Exit.WRONG

    told = capsys.readouterr().out.splitlines()
    assert [line.split(":")[0] for line in told[:3]] == ["B0001", "B0005", "B0006"]
    assert "all 2 entries" in told[0]
    assert "though it held" in told[3]


def test_what_is_missing_is_verified_said_and_brought_back(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["backup", "--shop", str(shop)]) == Exit.FINE
    path = shop / "record" / "B0001.json"
    path.write_bytes(path.read_bytes().split(b"\n")[0] + b"\n}}\n")
    assert main(["verify", "--shop", str(shop)]) == Exit.WRONG
    assert "2 entries are missing" in capsys.readouterr().out

    assert main(["recover", "B0001", "--by", "LL", "--shop", str(shop)]) == Exit.FINE
    assert main(["verify", "--shop", str(shop)]) == Exit.FINE


def test_a_batch_that_comes_under_another_name_is_reported(
    shop: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    other = Shop(tmp_path / "other", ManualClock(MORNING.replace(hour=8)))
    other.add_person("LL", "Lena Lindqvist", True, by="-")
    other.open_batch(OpenBatch("B0001", part(), "digest", "part.toml", 8, 12), by="LL")
    other.close()
    file = str(tmp_path / "b.floor")
    assert main(["bundle", "B0001", file, "--to", "north", "--by", "LL", "--shop", str(shop)]) == Exit.FINE
    assert main(["receive", file, "--yes", "--by", "LL", "--shop", str(tmp_path / "other")]) == Exit.FINE
    assert "B0002 is active here now. It was B0001 where it came from" in capsys.readouterr().out
    assert main(["status", "--shop", str(shop)]) == Exit.FINE
    assert "transferred to north" in capsys.readouterr().out


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP])
def test_a_program_that_is_told_to_end_leaves_the_terminal_as_it_was(shop: Path, number: signal.Signals) -> None:
    child, terminal = pty.fork()
    if child == 0:
        os.execvpe(
            sys.executable, [sys.executable, "-c", FLOOR, "--shop", str(shop)], {**os.environ, "TERM": "xterm-256color"}
        )
    written = b""
    until = time.monotonic() + 60
    told = False
    while time.monotonic() < until and select.select([terminal], [], [], 60)[0]:
        try:
            written += (part := os.read(terminal, 1 << 16))
        except OSError:  # the other side has gone
            break
        if not told and b"KB-7" in written:  # the opening screen is up
            os.kill(child, number)
            told = True
        if not part:
            break
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 128 + number
    assert b"\x1b[?1049l" in written, "the alternate screen is left"
    assert b"\x1b[?1000l" in written, "the mouse is let go"
    assert b"Traceback" not in written
    assert termios.tcgetwinsize(terminal) == (24, 80), "it did not say its size, and so was given one"
    os.close(terminal)


@pytest.mark.parametrize("seen", [b"\x1b[?1049h", b"KB-7"], ids=["starting", "standing"])
def test_a_program_whose_terminal_is_lost_ends(shop: Path, seen: bytes) -> None:
    child, terminal = pty.fork()
    if child == 0:
        os.execvpe(
            sys.executable, [sys.executable, "-c", FLOOR, "--shop", str(shop)], {**os.environ, "TERM": "xterm-256color"}
        )
    written = b""
    while seen not in written:
        written += os.read(terminal, 1 << 16)
    os.close(terminal)
    ends = os.pidfd_open(child)
    ended = bool(select.select([ends], [], [], 60)[0])
    if not ended:
        os.kill(child, signal.SIGKILL)
    os.close(ends)
    # by the signal itself if it comes before anybody listens for it
    code = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    assert ended
    # 120: the interpreter could not flush what was still to be written to it
    assert code in (128 + signal.SIGHUP, -signal.SIGHUP, 120)


def test_who_asks_of_a_shop_that_is_not_there_reads_where_the_demo_is(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """After `floor demo`, `floor verify` looks into the usual folder, where nothing is yet."""
    monkeypatch.setattr("floor.cli.base.get_data_folder", lambda: tmp_path)
    monkeypatch.delenv("FLOOR_SHOP", raising=False)
    assert main(["verify"]) == Exit.CANNOT
    assert "the demo" not in capsys.readouterr().err
    (tmp_path / "demo" / "record").mkdir(parents=True)
    assert main(["verify"]) == Exit.CANNOT
    assert f"(the demo: --shop {tmp_path / 'demo'})" in capsys.readouterr().err


@pytest.mark.parametrize("terminal", [True, False])
def test_a_finding_is_wrapped_on_a_terminal_and_one_line_for_a_script(
    terminal: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "cut.toml"
    file.write_text("format = 1\norder = many\n", encoding="utf-8")
    monkeypatch.setattr(sys.stdout, "isatty", lambda: terminal)
    assert main(["check", str(file)]) == Exit.WRONG
    lines = capsys.readouterr().out.splitlines()
    assert lines[0].startswith(str(file)[:40])
    assert (max(map(len, lines)) <= 80) is terminal
    assert all(line.startswith("    ") for line in lines[1:])
    assert (len(lines) == 1) is not terminal


def test_an_error_is_wrapped_at_the_width_of_the_terminal(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A terminal cuts in the middle of a word and of a path."""
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
    monkeypatch.setenv("COLUMNS", "50")
    said = "B0001 is cut short: restore it from record-2026-11-20, or go on without the lost entries"
    print_error(said)
    lines = capsys.readouterr().err.splitlines()
    assert max(map(len, lines)) <= 50
    assert " ".join(line.strip() for line in lines).endswith(
        "restore it from record-2026-11-20, or go on without the lost entries"
    )
