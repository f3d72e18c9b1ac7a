"""A paper goes to the shop's print command as it is; what goes wrong there is a sentence, and holds up nothing."""

from __future__ import annotations

import os
import select
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from floor.papers.printing import MOST_SAID, SECONDS, WAYS_OUT, NotPrinted, print_paper
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


class Hanging:
    """A print command with children that hold a pipe open: ready once each wrote a line, gone once nobody holds it.

    It is also what waits for the command: until all are ready and no longer, so that no test waits for a clock.
    """

    def __init__(self, folder: Path, ready: int, deaf: int = 0) -> None:
        """
        Args:
            ready: how many processes write a line.
            deaf: how often the command does not end although it was told to.
        """
        self.pipe = folder / "pipe"
        os.mkfifo(self.pipe)
        self.end = os.open(self.pipe, os.O_RDONLY | os.O_NONBLOCK)
        self.ready, self.deaf = ready, deaf
        self.asked: list[float] = []

    def __call__(self, process: subprocess.Popen[bytes], seconds: float) -> int:
        self.asked.append(seconds)
        if len(self.asked) == 1:
            lines = b""
            while lines.count(b"\n") < self.ready:
                lines += self._read()
            raise subprocess.TimeoutExpired(process.args, seconds)
        if len(self.asked) <= 1 + self.deaf:
            raise subprocess.TimeoutExpired(process.args, seconds)
        return process.wait()

    def _read(self) -> bytes:
        there, _, _ = select.select([self.end], [], [], PATIENCE)
        assert there, "what was started neither says anything nor ends"
        return os.read(self.end, 4096)

    def all_gone(self) -> bool:
        """Whether nobody holds the pipe any more; waits for what was told to go."""
        while self._read():
            pass
        os.close(self.end)
        return True


PATIENCE = 10.0
"""Seconds that only a failing test waits."""
HELD = "import os, signal, sys; pipe = os.open(sys.argv[1], os.O_WRONLY); "
# The alarm ends what nobody ended, so that a failing test ends too.
READY = "signal.alarm(20); os.write(pipe, b'ready\\n'); signal.pause()"


def test_one_that_hangs_is_stopped_with_what_it_started(tmp_path: Path) -> None:
    hanging = Hanging(tmp_path, ready=2)
    with pytest.raises(NotPrinted) as wrong:
        print_paper(python(HELD + "os.fork(); " + READY, str(hanging.pipe)), b"x", hanging)
    assert wrong.value.fault == "too slow"
    assert hanging.all_gone()
    assert hanging.asked == [SECONDS, WAYS_OUT, WAYS_OUT]


def test_one_that_does_not_end_when_asked_is_stopped_all_the_same(tmp_path: Path) -> None:
    hanging = Hanging(tmp_path, ready=1, deaf=1)
    script = HELD + "signal.signal(15, signal.SIG_IGN); " + READY
    with pytest.raises(NotPrinted, match="took too long"):
        print_paper(python(script, str(hanging.pipe)), b"", hanging)
    assert hanging.all_gone()
    assert hanging.asked == [SECONDS, WAYS_OUT, WAYS_OUT]


def test_what_it_started_is_stopped_even_if_only_that_does_not_end_when_asked(tmp_path: Path) -> None:
    """The shell that a print script is goes when asked; its driver may not."""
    hanging = Hanging(tmp_path, ready=2)
    script = HELD + "os.fork() == 0 and signal.signal(15, signal.SIG_IGN); " + READY
    with pytest.raises(NotPrinted, match="took too long"):
        print_paper(python(script, str(hanging.pipe)), b"", hanging)
    assert hanging.all_gone()


def test_one_that_leaves_a_process_behind_holds_up_nothing(tmp_path: Path) -> None:
    """As a spooler does: a pipe would stay open until that ends."""
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    script = "import os, sys; os.fork() or open(sys.argv[1]).read()"
    print_paper(python(script, str(pipe)), b"x")
    with pipe.open("w"):
        pass  # the one left behind ends only now


def test_one_that_reads_nothing_holds_up_nothing() -> None:
    assert print_paper(python("print('ok')"), b"x" * 1_000_000) == "ok"


def test_of_one_that_says_a_lot_the_beginning_is_kept() -> None:
    with pytest.raises(NotPrinted) as wrong:
        print_paper(python("print('jam ' * 100000); raise SystemExit(1)"), b"x")
    assert wrong.value.said.startswith("jam jam")
    assert count_cells(wrong.value.said) <= MOST_SAID
