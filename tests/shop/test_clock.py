"""The machine's own clock: what tells one start of a machine from another, and one machine from another."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from floor.batch.walk.clock_jumps import was_restarted
from floor.entry import Moment
from floor.shop import clock as clocks
from floor.shop.clock import read_clock


def moment(boot: str) -> Moment:
    return Moment(datetime(2026, 3, 2, tzinfo=UTC), boot, 60.0)


def test_two_readings_are_of_one_start_and_go_on() -> None:
    first, second = read_clock(), read_clock()
    assert first.boot == second.boot
    assert second.up >= first.up
    assert second.at.tzinfo is not None


@pytest.mark.parametrize(
    ("before", "after", "same"),
    [
        ("m-1", "m-2", True),
        ("m-1", "m-1", False),
        ("m-1", "n-2", False),
        ("4a0c4b0e", "91f2aa01", False),  # from records before machines were named
        ("4a0c4b0e", "m-1", False),
        ("", "m-1", False),
        ("m-1", "", False),
        ("-1", "-2", False),
    ],
)
def test_only_a_named_machine_is_known_to_have_restarted(before: str, after: str, same: bool) -> None:
    assert was_restarted(moment(before), moment(after)) is same


def test_the_machine_is_named_without_giving_its_number_away(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """machine-id(5): the number "should be considered confidential" and is to be hashed before it is given out (from
    memory). Copies of one system share it, so the host's name goes in too."""
    (tmp_path / "machine-id").write_text("0123456789abcdef0123456789abcdef\n", encoding="ascii")
    real = Path
    monkeypatch.setattr(clocks, "Path", lambda path: tmp_path / "machine-id" if "machine" in path else real(path))
    names = set()
    for host in ("north", "south"):
        monkeypatch.setattr("platform.node", lambda host=host: host)
        names.add(clocks._machine())
    assert len(names) == 2
    assert all(len(name) == 8 and name not in "0123456789abcdef0123456789abcdef" for name in names)
    (tmp_path / "machine-id").write_text("\n", encoding="ascii")
    assert clocks._machine() == ""


def test_the_time_since_the_start_is_kept_to_the_millisecond(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(clocks, "_boot", lambda: "m-1")
    monkeypatch.setattr("time.clock_gettime", lambda clock: 12.3456789)
    assert read_clock().up == 12.346
    monkeypatch.setattr(clocks, "_boot", lambda: "")
    assert (read_clock().boot, read_clock().up) == ("", 0.0)
    monkeypatch.setattr(clocks, "_boot", lambda: "m-1")
    monkeypatch.delattr("time.CLOCK_BOOTTIME")
    assert (read_clock().boot, read_clock().up) == ("", 0.0), "a system that does not count sleep is not trusted"


def test_a_start_is_named_by_machine_and_boot_where_the_system_gives_them(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    files = {"/proc/sys/kernel/random/boot_id": tmp_path / "boot", "/etc/machine-id": tmp_path / "machine"}
    monkeypatch.setattr(clocks, "Path", files.get)
    boot = clocks._boot.__wrapped__
    assert (boot(), clocks._machine()) == ("", "")
    files["/proc/sys/kernel/random/boot_id"].write_text("0123456789-abcdef\n", encoding="ascii")
    assert boot() == "01234567"
    files["/etc/machine-id"].write_text("fedcba\n", encoding="ascii")
    assert boot() == f"{clocks._machine()}-01234567"
    assert len(clocks._machine()) == 8
    files["/etc/machine-id"].write_bytes(b"\xff")
    assert boot() == "01234567"
