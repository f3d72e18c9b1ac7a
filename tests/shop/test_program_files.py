"""A program's file in the folder of its station: read, compared with its operation, and every wrong word found."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from floor.batch.command import Refused
from floor.batch.gates.program_findings import list_program_faults, sort_findings
from floor.batch.lifecycle.commands import OpenBatch
from floor.shop import Shop
from floor.shop.program_files import find_program_file, has_program_changed, prepare_reading, record_unread
from floor.shop.simulation import ManualClock, SimulatedOperator
from tests.batch.factory import MORNING, edited
from tests.shop.programmed import EDITS, LINE, PROGRAM

WRONG = {
    "offset": (r"\bG54\b", "G55"),
    "offset left out": (r"\bG54\n", ""),
    "tool": (r"\bT\d(?= M6)", "T9"),
    "H": (r"\bH\d", "H7"),
    "length offset left out": (r"G43 H\d ", ""),
    "S": (r"\bS\d+", "S800"),
    "F": (r"\bF\d+\.", "F9000."),
    "spindle never started": (r" M3\b", ""),
    "spindle the other way": (r"\bM3\b(?=\nG0 X20)", "M4"),
    "coolant left out": (r"M8\n", ""),
    "other coolant": (r"\bM8\b", "M7"),
    "rapid into the work": (r"\bG1 (?=Z-3)", "G0 "),
    "R in the work": (r"\bR1\.", "R-1."),
    "plunge as fast as a side cut": (r"\bF200\.", "F800."),
    "not retracted": (r"\bZ5\.(?=\nM9\nM5\nT2)", "Z1."),
    "units": (r"\bG21\b", "G20"),
    "units left out": (r"G21 ", ""),
    "depth": (r"Z-3\.\d?", "Z-30."),
    "out of the carrier": (r"\b([XY])[1-5]0\.", r"\g<1>500."),
    "incremental": (r"(?<=G17 )G90", "G91"),
    "offset written": (r"(?<=G54)\n", "\nG10 L2 P1 Z-1.\n"),
    "zero shifted": (r"(?<=G54)\n", "\nG92 X0. Y0.\n"),
    "local zero": (r"(?<=G54)\n", "\nG52 X5.\n"),
}
"""A wrong word: made at each of its places, one at a time."""


class Place:
    """A shop with one load at the gate of its program."""

    def __init__(self, folder: Path) -> None:
        self.clock = ManualClock(MORNING)
        self.shop = Shop(folder / "shop", self.clock)
        self.shop.add_person("LL", "Lena Lindqvist", True, by="LL")
        self.shop.add_person("BB", "Bea Brandt", False, by="LL")
        opened = OpenBatch(self.shop.find_next_id(), edited(*EDITS), "digest", "part.toml", 8, 10)
        self.hand = SimulatedOperator(self.shop, self.shop.open_batch(opened, by="LL").id, "LL", self.clock, "BB")
        self.file = folder / "shop" / "programs" / "O0710.nc"
        self.file.parent.mkdir()
        self.load = self.hand.form(10)
        self.hand.work(self.load, stop=lambda line: line.key == LINE)

    def read(self, text: str) -> list[str]:
        """The kinds that keep the gate open."""
        self.file.write_text(text)
        self.hand.do(prepare_reading(self.shop.folder, self.hand.batch, self.hand.run(self.load), LINE).read())
        return [one.kind for one in list_program_faults(self.hand.batch, self.hand.run(self.load))]


@pytest.fixture
def place(tmp_path: Path) -> Iterator[Place]:
    made = Place(tmp_path)
    yield made
    made.shop.close()


def test_a_right_program_has_no_fault_and_its_time_is_known(place: Place) -> None:
    """Feed moves by hand: 8 mm at 200, 70 mm at 800 and two holes of 4.1 mm at 160 mm/min."""
    assert place.read(PROGRAM) == []
    reading = prepare_reading(place.shop.folder, place.hand.batch, place.hand.run(place.load), LINE).read()
    assert reading.seconds == pytest.approx(60 * (8 / 200 + 70 / 800 + 2 * 4.1 / 160), rel=1e-6)
    assert (reading.file, reading.lines, reading.untimed) == ("O0710.nc", PROGRAM.count("\n"), True)


@pytest.mark.parametrize("what", WRONG)
def test_every_wrong_word_keeps_the_gate_open(place: Place, what: str) -> None:
    pattern, new = WRONG[what]
    places = list(re.finditer(pattern, PROGRAM))
    missed = [
        found.group()
        for found in places
        if not place.read(PROGRAM[: found.start()] + found.expand(new) + PROGRAM[found.end() :])
    ]
    assert places
    assert missed == [], f"{len(places) - len(missed)} of {len(places)} caught"


def test_coolant_on_what_is_cut_dry_is_a_fault(tmp_path: Path) -> None:
    place = Place(tmp_path)
    operation = place.hand.batch.operation(10)
    assert operation.coolant == "flood"
    place.hand.batch.checklist.ops[10].__dict__["coolant"] = "dry"
    assert "coolant off card" in place.read(PROGRAM)
    place.shop.close()


def test_a_file_that_is_not_there_is_said_with_where_to_put_it(place: Place) -> None:
    with pytest.raises(Refused) as refused:
        prepare_reading(place.shop.folder, place.hand.batch, place.hand.run(place.load), LINE)
    assert refused.value.wrong == "O0710.nc is not there"
    assert str(place.file.parent) in refused.value.remedy


def test_a_folder_in_its_place_cannot_be_read(place: Place) -> None:
    place.file.mkdir()
    with pytest.raises(Refused) as refused:
        prepare_reading(place.shop.folder, place.hand.batch, place.hand.run(place.load), LINE).read()
    assert refused.value.wrong.startswith("O0710.nc cannot be read (")


@pytest.mark.parametrize("data", [b"", b"\x00\xff" * 500, b"\xef\xbb\xbf%\r\n", PROGRAM.encode("utf-16")])
def test_what_is_no_program_keeps_the_gate_open(place: Place, data: bytes) -> None:
    place.file.write_bytes(data)
    reading = prepare_reading(place.shop.folder, place.hand.batch, place.hand.run(place.load), LINE).read()
    assert sort_findings(reading.findings)[0] or data.startswith(b"\xff\xfe")


def test_an_operator_has_it_read_and_starts_it_unless_it_has_changed(place: Place) -> None:
    place.file.write_text(PROGRAM)
    place.hand.work(place.load, stop=lambda line: line.kind == "start")
    run = place.hand.run(place.load)
    assert place.hand.batch.programs[run.setup].faults == ()
    assert not has_program_changed(place.shop.folder, place.hand.batch, run)
    place.file.write_text(PROGRAM.replace("F800.", "F80."))
    assert has_program_changed(place.shop.folder, place.hand.batch, run)
    place.file.unlink()
    assert has_program_changed(place.shop.folder, place.hand.batch, run)
    place.hand.do(record_unread(place.hand.batch, run, LINE, "it is gone"))
    assert not has_program_changed(place.shop.folder, place.hand.batch, run), "as the record says"
    assert place.hand.batch.programs[run.setup].sha256, "the file that was read is still known"


def test_the_reading_of_a_large_file_is_told_of_and_may_be_stopped(place: Place) -> None:
    moves = "\n".join(f"G1 X{n % 50}. F800." for n in range(60_000))
    place.file.write_text(PROGRAM.replace("Y40.\n", f"{moves}\nY40.\n"))
    reading = prepare_reading(place.shop.folder, place.hand.batch, place.hand.run(place.load), LINE)
    told: list[float] = []
    reading.read(told.append)
    assert told == sorted(told)
    assert (len(told) > 2, told[-1]) == (True, 1.0)

    with pytest.raises(KeyboardInterrupt):
        reading.read(_stop)


def _stop(share: float) -> None:
    if share == 1:  # the whole file is read, and its loops are followed
        raise KeyboardInterrupt


def test_a_pipe_in_its_place_is_refused_and_holds_nothing_up(place: Place) -> None:
    os.mkfifo(place.file)
    run = place.hand.run(place.load)
    with pytest.raises(Refused, match="it is not a file"):
        prepare_reading(place.shop.folder, place.hand.batch, run, LINE)
    place.file.unlink()
    place.file.write_text(PROGRAM)
    place.hand.do(prepare_reading(place.shop.folder, place.hand.batch, run, LINE).read())
    place.file.unlink()
    os.mkfifo(place.file)
    assert has_program_changed(place.shop.folder, place.hand.batch, run)


def test_a_loop_that_is_followed_for_long_may_be_stopped(place: Place) -> None:
    place.file.write_text(PROGRAM.replace("Y40.\n", "#1=0\nWHILE [#1 LT 1000000] DO1\n#1=#1+1\nEND1\nY40.\n"))
    told: list[float] = []
    reading = prepare_reading(place.shop.folder, place.hand.batch, place.hand.run(place.load), LINE)

    def count(share: float) -> None:
        told.append(share)
        if len(told) > 20:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        reading.read(count)


def test_the_folder_of_a_user_who_is_not_there_is_said(tmp_path: Path) -> None:
    part = edited(*EDITS)
    station = replace(part.station("mill"), program_folder="~nobody-of-this-name/programs")
    with pytest.raises(Refused, match="a user unknown on this computer"):
        find_program_file(tmp_path, station, part.ops[10])
