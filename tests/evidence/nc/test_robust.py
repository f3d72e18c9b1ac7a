"""Any bytes: no exception, no word lost, the same result by every path."""

from __future__ import annotations

import json
import re
from dataclasses import replace

import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st

from floor.evidence.nc import reader
from floor.evidence.nc.against_card import ExpectedProgram, ExpectedTool, find_program_faults
from floor.evidence.nc.block import split_block
from floor.evidence.nc.code_actions import ACTIONS, MOTIONS
from floor.evidence.nc.dialect import Dialect, list_choices
from floor.evidence.nc.fast_path import _ANY, _DOTTED, Plain, _compile
from floor.evidence.nc.modal_groups import format_code
from floor.evidence.nc.report import write_program_json, write_program_text
from floor.evidence.nc.summary import ProgramSummary
from tests.evidence.nc.programs import END, START, read

CARD = ExpectedProgram(
    "mm",
    {"G54": "Vise 1"},
    tools=(ExpectedTool(1, (1, 2), (1, 2)),),
    lowest_z=-1,
    travel_x=(0, 1),
    travel_y=(0, 1),
    coolant="dry",
)
PIECES = st.sampled_from(
    [
        "G0",
        "G1",
        "G2",
        "G3",
        "G01",
        "g1",
        "G17",
        "G18",
        "G19",
        "G20",
        "G21",
        "G28",
        "G38.2",
        "G40",
        "G41",
        "G43",
        "G49",
        "G52",
        "G53",
        "G54",
        "G55",
        "G54.1",
        "G68",
        "G80",
        "G81",
        "G83",
        "G84",
        "G90",
        "G91",
        "G90.1",
        "G92",
        "G93",
        "G94",
        "G95",
        "G98",
        "G99",
        "G10",
        "G4",
        "G5.1",
        "G65",
        "G70",
        "G33",
        "G33.1",
        "G187",
        "M0",
        "M2",
        "M30",
        "M3",
        "M5",
        "M6",
        "M8",
        "M9",
        "M88",
        "M97",
        "M98",
        "M99",
        "T1",
        "T2",
        "H1",
        "H2",
        "D1",
        "S1000",
        "F100",
        "F.5",
        "X1.",
        "X-2.5",
        "X10",
        "Y0",
        "Y3.",
        "Z-1.",
        "Z5.",
        "I1.",
        "J-1.",
        "K0.5",
        "R2.",
        "R-2.",
        "P1",
        "P100",
        "Q.5",
        "L2",
        "A90.",
        "U1.",
        "N10",
        "O100",
        "O100 sub",
        "O100 endsub",
        "O100 call [1]",
        "O1 if [#1 GT 0]",
        "O1 else",
        "O1 endif",
        "O2 repeat [3]",
        "O2 endrepeat",
        "O3 while [#1 LT 3]",
        "O3 endwhile",
        "#1=1",
        "#1=#1+1",
        "#2=[#1*2]",
        "X#1",
        "Y[#1+#2]",
        "G#1",
        "IF[#1 EQ 1]GOTO10",
        "IF[#1 LT 2]THEN #2=3",
        "GOTO10",
        "WHILE[#1 LT 5]DO1",
        "END1",
        "(a)",
        "(b",
        ")",
        ";c",
        "/",
        "%",
        "X1.2.3",
        "X--1",
        "XO",
        "\u2212",
        "é",
        "\0",
        "\x1a",
        "=",
        "#",
        "[",
        "]",
        "\t",
    ]
)
LINES = st.lists(st.lists(PIECES, max_size=7).map(" ".join), max_size=25)
DIALECTS = st.fixed_dictionaries(
    {name: st.sampled_from([None, *choices]) for name, choices in list_choices().items()}
).map(lambda chosen: Dialect(**chosen, rapid=(1000, 1000, 500)))


def use(summary: ProgramSummary) -> None:
    """All that is made of a summary: it must not fail, nor print wider than a terminal."""
    faults = find_program_faults(summary, CARD)
    text = write_program_text(summary, faults)
    assert max(len(line) for line in text.splitlines()) <= 80
    json.loads(write_program_json(summary, faults), parse_constant=pytest.fail)  # no NaN, no infinity


def written(summary: ProgramSummary) -> str:
    """All of it, by which two are compared: a position that is not known is NaN, which equals nothing."""
    return repr(summary)


@settings(max_examples=300, deadline=None)
@given(st.binary(max_size=400), st.integers(1, 50))
@example(b"\xff\xfeG\x00", 1)
@example(b"\r", 1)
@example(b"\r\n\r", 1)
@example(b"%", 1)
def test_any_bytes(data: bytes, size: int) -> None:
    use(read(data, size=size))


@settings(max_examples=300, deadline=None)
@given(LINES, DIALECTS, st.booleans())
def test_any_words(lines: list[str], dialect: Dialect, started: bool) -> None:
    use(read((START if started else "") + "\n".join(lines), dialect))


@settings(max_examples=300, deadline=None)
@given(LINES, DIALECTS, st.sampled_from(["\n", "\r", "\r\n"]), st.integers(1, 400))
def test_how_it_is_cut_and_ended_does_not_matter(lines: list[str], dialect: Dialect, end: str, size: int) -> None:
    assume("\0" not in "".join(lines))  # "\n\0 \0" is a line end and a blank in UTF-16, and with "\r\n" it is not
    one, other = read("\n".join(lines), dialect), read(end.join(lines), dialect, size)
    assert written(replace(other, sha256="", size=0)) == written(replace(one, sha256="", size=0))


@settings(max_examples=300, deadline=None)
@given(LINES, DIALECTS)
@example(["G2 Y0 R2. R2."], Dialect())
def test_the_fast_way_reads_as_the_other(lines: list[str], dialect: Dialect) -> None:
    text = START + "\n".join(lines)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(reader, "compile_plain", lambda dialect: Plain(lambda text: None, lambda text: None))
        slow = read(text, dialect)
    assert written(read(text, dialect)) == written(slow)


PLAIN = st.lists(
    st.tuples(
        st.sampled_from(["", "G0 ", "G1", "g01 ", "G2 ", "G3", "N5 "]),
        st.lists(st.tuples(st.sampled_from("XYZ"), st.floats(-9, 9).map(lambda x: f"{x:.2f}")), max_size=3),
        st.sampled_from(["", "R5.", "I1. J0", "I-1.0J2.", "R-7."]),
        st.sampled_from(["", "F90", " F12.5", " (c)", " ;", "F9 "]),
    ).map(lambda parts: parts[0] + " ".join(a + b for a, b in parts[1]) + parts[2] + parts[3]),
    min_size=1,
    max_size=30,
)


@settings(max_examples=300, deadline=None)
@given(PLAIN, st.sampled_from(["", "G91", "G20", "G93", "G18", "G41 D1", "G55", "G52 X1.", "G95"]))
def test_the_fast_way_reads_moves_as_the_other(lines: list[str], mode: str) -> None:
    text = f"{START}{mode}\n" + "\n".join(lines)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(reader, "compile_plain", lambda dialect: Plain(lambda text: None, lambda text: None))
        slow = read(text)
    assert read(text) == slow


@pytest.mark.parametrize(
    "lines",
    [
        "X5.",
        "X5",
        "F9",
        "G1 R5.",
        "G0 R5.\nX5.",
        "G0 I5.\nX5.",
        "G1 X1 R5\nX2.",
        "G1 X5. F9.\n%\nX9.",
        "G3 F9.\nR5\nX5.",
    ],
)
def test_the_fast_way_leaves_no_trace_of_what_it_refuses(lines: str) -> None:
    """Also at the start of a program, where nothing is in force."""
    for text in (lines, START + lines, f"%\n{lines}\n%\nG1 X9."):
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(reader, "compile_plain", lambda dialect: Plain(lambda text: None, lambda text: None))
            slow = read(text)
        assert read(text) == slow


@settings(max_examples=500, deadline=None)
@given(st.lists(PIECES, max_size=8).map("".join) | st.text(max_size=60))
@example("0/0")
def test_every_character_of_a_line_is_kept_or_listed(text: str) -> None:
    """Everything except blanks is in a word, comment, assignment, statement or the list of unread text."""
    block = split_block(text)
    kept = [word.letter + word.text for word in block.words]
    kept += [f"#{one.name}={one.text}" for one in block.assignments]
    kept += [*block.comments, *block.unread, block.percent + block.name]
    kept += [block.control.kind + block.control.name + block.control.test] if block.control else []

    def letters(text: str) -> list[str]:
        return sorted(re.sub(r"[\s/();:\x00\x1a]", "", text).upper().replace("O", ""))

    level = "".join(re.findall(r"/\s*(\d+)", text))
    if block.control or block.skip or level or any("(" in one or ";" in one for one in block.comments):
        assert set(letters(text)) <= set(letters("".join(kept) + level + "/1"))
    else:
        assert letters(text) == letters("".join(kept))


@pytest.mark.parametrize("letter", sorted(set("ABCDEFGHIJKLMPQRSTUVWXYZ")))
def test_no_letter_is_passed_over(letter: str) -> None:
    """Every word changes the summary, or is listed."""
    with_it, without = (read(f"{START}{line}\nG1 X7. Y7. Z7.{END}") for line in (f"{letter}5.0", ""))
    assert replace(with_it, sha256="", size=0) != replace(without, sha256="", size=0)


def test_no_code_is_passed_over_in_silence() -> None:
    """Each G-code to a tenth: known, or a finding."""
    known = ACTIONS.keys() | MOTIONS
    text = "\n".join(format_code("G", code) for code in range(1000) if code not in known)
    listed = {one.subject for one in read(text).findings if one.kind == "unknown code"}

    assert listed == {format_code("G", code) for code in range(1000) if code not in known}
    assert len(known) < 100


def test_a_line_without_end_is_cut_and_told() -> None:
    told = read(b"G1 X5. " + b"Y" * 3_000_000, size=1 << 16)
    assert any(one.kind == "long line" for one in told.findings)


def test_deep_brackets_and_endless_loops_come_to_an_end() -> None:
    deep = read(f"#1={'[' * 1500}1{']' * 1500}\nX#1\nM30")
    endless = read("N1 #1=1\nGOTO 1\nM30")
    calls = read("O1\nM98 P1\nM30")

    assert deep.end is not None
    assert any(one.kind == "never left" for one in endless.findings)
    assert any(one.kind == "calls itself" for one in calls.findings)


@settings(max_examples=400)
@example("G1 X. F9.")
@example("N10 G01 X1.5 Y-.5 F200")
@given(
    st.from_regex(r"(N\d{1,3} ?)?(G0?[0-4] ?)?([XYZIJKR][-+]?\d{0,3}\.?\d{0,3} ?){0,4}(F\d{0,3}\.? ?)?", fullmatch=True)
)
def test_a_plain_line_is_the_same_with_and_without_possessive_repeats(text: str) -> None:
    """Python before 3.11.5 reads possessive repeats wrongly (CPython issue 106052): it gets the pattern without."""
    for number in (_ANY, _DOTTED):
        ours, plain = (match(text) for match in (_compile(number), _compile(number, "?")))
        assert (ours and ours.groups()) == (plain and plain.groups())
