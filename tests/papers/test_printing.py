"""A paper goes to the shop's print command as it is; what goes wrong there is a sentence, and holds up nothing."""

from __future__ import annotations

import signal
import sys
import time
from pathlib import Path

import pytest

from floor.papers.printing import MOST_SAID, NotPrinted, print_paper
from floor.text import count_cells


def python(script: str, *more: str) -> tuple[str, ...]:
    return (sys.executable, "-c", script, *more)


def test_the_paper_is_on_standard_input_as_it_is(tmp_path: Path) -> None:
    out = tmp_path / "out"
    content = "Füllen ½\f\n".encode() + bytes(range(256)) * 1000
    said = print_paper(python("import sys; open(sys.argv[1], 'wb').write(sys.stdin.buffer.read())", str(out)), content)
    assert out.read_bytes() == content
    assert said == ""


def test_no_shell_reads_the_command(tmp_path: Path) -> None:
    """POSIX sh would run what stands after the semicolon and expand the variable."""
    given = (f"; touch {tmp_path / 'made'}", "$HOME", "$(id)", "*")
    said = print_paper(python("import sys; print(sys.argv[1:])", *given), b"")
    assert said == str(list(given))[: len(said)]
    assert not (tmp_path / "made").exists()


def test_what_the_command_says_is_one_harmless_line() -> None:
    said = print_paper(python(r"print('request id is label-7\n\x1b[2J  (1 file)')"), b"x")
    assert said == "request id is label-7 [2J (1 file)"


def test_a_command_that_fails_is_told_with_what_it_said() -> None:
    with pytest.raises(NotPrinted) as wrong:
        print_paper(python("import sys; print('no such class or printer', file=sys.stderr); sys.exit(7)"), b"x")
    assert (wrong.value.fault, wrong.value.said, wrong.value.status) == ("failed", "no such class or printer", 7)
    assert "no such class or printer (exit status 7)" in str(wrong.value)


def test_one_ended_by_a_signal_is_told() -> None:
    with pytest.raises(NotPrinted) as wrong:
        print_paper(python("import os; os.kill(os.getpid(), 9)"), b"x")
    assert (wrong.value.fault, wrong.value.status) == ("failed", -signal.SIGKILL)
    assert "signal 9" in str(wrong.value)


def test_a_program_that_is_not_there_or_may_not_be_run_is_told(tmp_path: Path) -> None:
    for make, fault in ((None, "not found"), (0o600, "not allowed"), (0o700, "cannot run")):
        program = tmp_path / "program"
        if make is not None:
            program.write_text("this is no program")
            program.chmod(make)
        with pytest.raises(NotPrinted) as wrong:
            print_paper((str(program),), b"x")
        assert wrong.value.fault == fault


def test_one_that_hangs_is_stopped_with_what_it_started(tmp_path: Path) -> None:
    started = time.monotonic()
    script = "import os, sys, time; p = os.fork(); open(sys.argv[1], 'a').write(f'{os.getpid()}\\n'); time.sleep(60)"
    with pytest.raises(NotPrinted) as wrong:
        print_paper(python(script, str(tmp_path / "pids")), b"x", seconds=1.0)
    assert wrong.value.fault == "too slow"
    assert time.monotonic() - started < 20
    pids = [int(line) for line in (tmp_path / "pids").read_text().split()]
    assert len(pids) == 2
    deadline = time.monotonic() + 10
    while any(is_running(pid) for pid in pids) and time.monotonic() < deadline:
        time.sleep(0.02)
    assert not any(is_running(pid) for pid in pids)


def is_running(pid: int) -> bool:
    """Whether a process runs; one that ended and that nobody waited for does not."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] not in ("Z", "X")
    except OSError:
        return False


def test_one_that_does_not_end_when_asked_is_stopped_all_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("floor.papers.printing._WAYS_OUT", 0.3)
    with pytest.raises(NotPrinted, match="took too long"):
        print_paper(python("import signal, time; signal.signal(15, signal.SIG_IGN); time.sleep(60)"), b"", seconds=1.0)


def test_what_it_started_is_stopped_even_if_only_that_does_not_end_when_asked(tmp_path: Path) -> None:
    """The shell that a print script is goes when asked; its driver may not."""
    script = (
        "import os, signal, sys, time\n"
        "if os.fork() == 0: signal.signal(15, signal.SIG_IGN); open(sys.argv[1], 'w').write(str(os.getpid()))\n"
        "time.sleep(60)"
    )
    with pytest.raises(NotPrinted, match="took too long"):
        print_paper(python(script, str(tmp_path / "pid")), b"", seconds=2.0)
    deadline = time.monotonic() + 10
    while is_running(int((tmp_path / "pid").read_text())) and time.monotonic() < deadline:
        time.sleep(0.02)
    assert not is_running(int((tmp_path / "pid").read_text()))


def test_one_that_leaves_a_process_behind_holds_up_nothing() -> None:
    """As a spooler does: a pipe would stay open until that ends."""
    started = time.monotonic()
    print_paper(python("import os, time; os.fork() or time.sleep(30)"), b"x")
    assert time.monotonic() - started < 20


def test_one_that_reads_nothing_holds_up_nothing() -> None:
    assert print_paper(python("print('ok')"), b"x" * 1_000_000) == "ok"


def test_of_one_that_says_a_lot_the_beginning_is_kept() -> None:
    with pytest.raises(NotPrinted) as wrong:
        print_paper(python("print('jam ' * 100000); raise SystemExit(1)"), b"x")
    assert wrong.value.said.startswith("jam jam")
    assert count_cells(wrong.value.said) <= MOST_SAID
