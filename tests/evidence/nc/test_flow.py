"""Subprograms, loops and jumps, followed as far as the file gives them; else nothing is claimed.

M98 and M99 after NIST IR 6556's relatives and public control manuals as read; macro statements after the same (m).
"""

from __future__ import annotations

import pytest

from floor.evidence.nc import follower, reader
from floor.evidence.nc.summary import ProgramSummary
from tests.evidence.nc.programs import END, NEXT, START, cut, ends, find, kinds, read, tool, travel, went

SUB = "O100\nG91 G1 Z-1. F100.\nX5.\nG90\nM99\n"


@pytest.mark.parametrize(
    ("call", "depth"),
    [
        ("M98 P100", 9),
        ("M98 P100 L3", 7),
        ("M98 P30100", 7),
        ("M98 P0100", 9),
        ("M98 P100\nM98 P100", 8),
        ("M98 P100 L0", None),
    ],
)
def test_a_subprogram_is_followed(call: str, depth: float | None) -> None:
    told = read(f"{START}{call}{END}{SUB}")

    assert kinds(told) == set()
    if depth is None:
        assert tool(told).first_feed == 0
    else:
        assert cut(told, "Z") == ("known", depth, 10)
        assert [one.text for one in told.subprograms] == ["O100"]


def test_a_subprogram_that_is_not_in_the_file_leaves_nothing_known() -> None:
    told = read(f"{START}G1 X5. F100.\nM98 P200\nG90 G1 X9. F100.\nM30\n")

    assert [(one.subject, one.line) for one in find(told, "call missing")] == [("O200", NEXT + 1)]
    assert [travel(told, axis).sure for axis in "XYZ"] == ["unknown"] * 3
    assert "calls" in [one.text for one in told.cycle_time.untimed]


@pytest.mark.parametrize("end", ["", "%\n", "O300\nG0 X99.\nM99\n"])
def test_a_subprogram_without_its_end_does_not_run_into_what_follows(end: str) -> None:
    told = read(f"{START}M98 P200 L2\nG0 X1.\nM30\nO200\nG91 G0 X5.\nG90\n{end}")

    assert [(one.subject, one.line, one.count) for one in find(told, "no return")] == [("O200", NEXT + 5, 1)]
    assert went(told, "X") == ("known", 1, 10)
    assert (told.end and told.end.text, "unread lines" in kinds(told)) == ("M30", False)


@pytest.mark.parametrize(
    ("back", "right"), [("M99", ("known", 1, 5)), ("M99 P50", ("known", 3, 5)), ("M99 P51", ("unknown", None, None))]
)
def test_a_subprogram_may_return_to_a_block_of_its_caller(back: str, right: tuple[str, float, float]) -> None:
    """M99 P: the block number is the caller's (public control manuals)."""
    told = read(f"{START}M98 P200\nG0 X1.\nN50 G0 X3.\nM30\nO200\nN50 G0 X5.\n{back}\n")
    assert went(told, "X") == right
    assert [one.subject for one in find(told, "label not found")] == (["N51"] if right[0] == "unknown" else [])


def test_subprograms_within_subprograms() -> None:
    told = read(f"{START}M98 P1\nM30\nO1\nM98 P2 L2\nM99\nO2\nM98 P100\nM99\n{SUB}")
    assert cut(told, "Z") == ("known", 8, 10)


def test_a_local_subprogram_by_its_block_number() -> None:
    told = read(f"{START}M97 P500 L2\nM30\nN500 G91 G1 Z-1. F9.\nG90\nM99\n")
    assert cut(told, "Z") == ("known", 8, 10)


def test_subprograms_by_name() -> None:
    """As the open-source controller has them, with arguments #1, #2 … of their own."""
    text = "o<hole> sub\nG0 X#1 Y#2\nG1 Z-#3 F9.\nG0 Z5.\no<hole> endsub\n"
    told = read(text + START + "#1=50\no<hole> call [10] [20] [0.5]\nG0 X#1\nG53 Z0. M2")

    assert (went(told, "X"), went(told, "Y"), cut(told, "Z")) == (
        ("known", 10, 50),
        ("known", 20, 20),
        ("known", -0.5, 10),
    )
    assert kinds(told) == set()


@pytest.mark.parametrize(
    ("loop", "depth"),
    [
        ("#1=0\nWHILE[#1 LT 4]DO1\nG91 G1 Z-.5 F9.\n#1=#1+1\nEND1\nG90", 8),
        ("#1=0\nN10 G91 G1 Z-.5 F9.\n#1=#1+1\nIF[#1 LT 4]GOTO10\nG90", 8),
        ("#1=0\nWHILE[#1 LT 2]DO1\n#2=0\nWHILE[#2 LT 3]DO2\nG91 G1 Z-.5 F9.\n#2=#2+1\nEND2\n#1=#1+1\nEND1\nG90", 7),
        ("o1 repeat [4]\nG91 G1 Z-.5 F9.\no1 endrepeat\nG90", 8),
        ("#1=4\no1 while [#1 GT 0]\nG91 G1 Z-.5 F9.\n#1=[#1-1]\no1 endwhile\nG90", 8),
        ("#1=2\no1 if [#1 EQ 1]\nG1 Z5. F9.\no1 elseif [#1 EQ 2]\nG1 Z6. F9.\no1 else\nG1 Z7. F9.\no1 endif", 6),
        ("#1=3\no1 if [#1 EQ 1]\nG1 Z5. F9.\no1 elseif [#1 EQ 2]\nG1 Z6. F9.\no1 else\nG1 Z7. F9.\no1 endif", 7),
        ("#1=1\no1 if [#1 EQ 1]\nG1 Z5. F9.\no1 else\nG1 Z2. F9.\no1 endif", 5),
        ("#1=1\nIF[#1 EQ 1]THEN #2=8\nIF[#1 EQ 2]THEN #2=3\nG1 Z#2 F9.", 8),
        ("#1=2.5\n#2=[[#1+1.5]*2-ABS[-1]]\nG1 Z#2 F9.", 7),
        ("#1=30\nG1 Z[10-2*SIN[#1]] F9.", 9),
        ("GOTO 5\nG1 Z-99. F9.\nN5 G1 Z9. F9.", 9),
    ],
)
def test_loops_and_jumps_are_followed(loop: str, depth: float) -> None:
    told = read(f"{START}{loop}{END}")
    assert (cut(told, "Z"), kinds(told)) == (("known", depth, 10), set())


@pytest.mark.parametrize(
    ("text", "right"),
    [
        ("G91 G1 Z-1. F9.\nG90 M98 P100", ("known", 8, 10)),
        ("G91 M98 P100\nG90", ("known", 9, 10)),
        ("G91 G1 Z-1. F9. M98 P100\nG90", ("known", 8, 10)),
    ],
)
def test_the_block_of_the_first_jump_counts_once(text: str, right: tuple[str, float, float]) -> None:
    told = read(f"{START}{text}\nM30\n{SUB}")
    assert cut(told, "Z") == right


def test_findings_of_the_block_of_the_first_jump_count_once() -> None:
    told = read(f"{START}G187 M98 P100\nM30\n{SUB}")
    assert [one.count for one in find(told, "unknown code")] == [1]


@pytest.mark.parametrize(
    ("text", "sure"),
    [
        ("GOTO 5\nM30\nO2\nN5 G1 Z-99. F9.\nM30", "unknown"),  # the label is another program's
        ("GOTO 5\nN5 G1 Z9. F9.\nM30\nO2\nN5 G1 Z-99. F9.\nM30", "known"),
        ("GOTO 5\nN5 G1 Z9. F9.\nN5 G1 Z8.\nM30", "unknown"),  # twice in this one
        ("o1 if [1]\nGOTO 5\no1 endif\nN5 G1 Z9. F9.\nM30", "known"),  # a statement is no program number
    ],
)
def test_a_label_is_one_of_its_own_program(text: str, sure: str) -> None:
    told = read(f"O1\n{START}{text}\n")
    assert (travel(told, "Z").sure, "label not found" in kinds(told)) == (sure, sure == "unknown")
    low = travel(told, "Z").low
    assert low is None or low.at > -99


def test_a_loop_is_counted() -> None:
    told = read(f"{START}#1=0\nWHILE[#1 LT 4]DO1\n#1=#1+1\nEND1\nM30\n")
    assert [(one.line, one.value) for one in told.loops] == [(NEXT + 1, 4)]


@pytest.mark.parametrize(
    "jump", ["IF[#500 EQ 1]GOTO10", "WHILE[#500 GT 1]DO1", "GOTO#500", "o1 while [#500 GT 1]", "/GOTO10"]
)
def test_after_a_jump_that_is_not_known_words_are_read_and_no_place_is(jump: str) -> None:
    told = read(f"{START}G1 X5. F9.\n{jump}\nG90 G55 G1 X9. F9.\nM8\nT7 M6\nN10 END1\no1 endwhile\nM30\n")

    assert find(told, "jump not known")[0].line == NEXT + 1
    assert (travel(told, "X").sure, travel(told, "X", offset="G55").sure) == ("unknown", "unknown")
    assert [one.code for one in tool(told).coolants] == ["M8"]
    assert [one.number for one in told.tools] == [1, 7]
    assert [one.text for one in told.work_offsets] == ["G54", "G55"]


def test_a_macro_call_may_do_anything() -> None:
    told = read(f"{START}G65 P9810 Z-5. F100.\nG90 G1 X5. F9.\nM30\n")
    assert ([one.subject for one in find(told, "macro call")], travel(told, "Z").sure) == (["O9810"], "unknown")


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("X#1", None),  # never set: it may hold anything
        ("#1=#5063\nX#1", None),  # what a probe found
        ("#1=1\n#1=#9\nX#1", None),  # known, then not
        ("#1=1\n/#1=2\nX#1", None),  # depends on the switch
        ("#1=1\nIF[#9 EQ 1]THEN #1=2\nX#1", None),
        ("#<depth>=2.5\nX#<depth>", 2.5),
        ("#1=2\n##1=7\nX#2", 7),
        ("#2=5\n#1=2\n##1=7\nX#2", 7),
        ("#1=2\n#[#1+1]=7\nX#3", 7),
        ("#1=2\n#2=9\nX#[#1]", 9),
        ("#3=5\n#[#9]=7\nX#3", None),  # any of them may have been set
        ("#1=1/0\nX#1", None),
        ("#1=2**3\nX#1", 8),
        ("#1=7MOD4\nX#1", 3),
        ("X[1+2*3]", 7),
        ("X-[1+2]", -3),
        ("X-#1", None),
        ("#1=ATAN[1]/[1]\nX#1", 45),
        ("#1=SQRT[9]\nX#1", 3),
        ("#1=FIX[2.7]\n#2=FUP[2.2]\nX[#1+#2]", 5),
        ("#1=[1 AND 0]\nX#1", 0),
        ("#1=[2 GE 2]\nX#1", 1),
    ],
)
def test_what_a_variable_is_known_to_hold(text: str, value: float | None) -> None:
    """Operators after NIST IR 6556, 3.3.2.3 (m): powers, then times and MOD, then plus; angles in degrees."""
    told = read(f"{START}G0 {text}\nM30" if text.startswith("X") else f"{START}{text}\nM30")
    span = travel(told, "X")
    assert span.sure == ("unknown" if value is None else "known")
    if value is not None:
        assert span.high is not None
        assert max(span.high.at, -(span.low.at if span.low else 0)) == pytest.approx(abs(value))


def test_m99_at_the_end_of_the_main_program_starts_over() -> None:
    told = read(f"{START}G1 X5. F9.\nM99\n")
    assert kinds(told) == {"main loops"}


def test_a_file_that_is_too_long_to_hold_is_read_on_with_nothing_known(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(reader, "LONGEST_HELD", 10)
    told = read(f"{START}G1 X5. F9.\nM98 P100\nG90 G0 X7.\nM8\nM30\n{SUB}")

    assert "too long to follow" in kinds(told)
    assert (travel(told, "X").sure, [one.code for one in tool(told).coolants]) == ("unknown", ["M8"])


def test_an_endless_loop_comes_to_an_end(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(follower, "MOST_STEPS", 500)
    told = read(f"{START}#1=0\nN5 G91 G1 X1. F9.\n#1=#1+1\nGOTO5\nM30")
    assert ("endless loop" in kinds(told), travel(told, "X").sure) == (True, "unknown")


def check_read_on_after(told: ProgramSummary) -> None:
    """What follows the loop is read, and nothing is said of its passes."""
    assert [one.value for one in told.loops if one.value > 100] == []
    assert (told.end and told.end.text, "no end" in kinds(told)) == ("M30", False)
    assert [one.text for one in told.work_offsets] == ["G54", "G55"]
    assert [one.code for one in tool(told).coolants] == ["M8"]


@pytest.mark.parametrize(
    ("loop", "line", "last"),
    [
        ("G1 X5. F9.\nN5 G91 G1 X1.\nGOTO5", NEXT + 1, NEXT + 2),
        ("N5 #1=1\nG1 X1. F9.\nIF[#1 EQ 1]GOTO5", NEXT, NEXT + 2),
        ("WHILE[1 EQ 1]DO1\nG91 G1 X1. F9.\nEND1", NEXT, NEXT + 2),
        ("#1=0\nWHILE[#1 LT 5]DO1\n#2=#1+1\nEND1", NEXT + 1, NEXT + 3),  # the slip is in the third line
        ("#1=0\nN5 #1=1-#1\nG1 X#1 F9.\nGOTO5", NEXT + 1, NEXT + 3),  # every other pass is the same
        ("WHILE[1 EQ 1]DO1\n#1=0\nWHILE[#1 LT 9]DO2\n#1=#1+1\nEND2\nEND1", NEXT, 0),  # the outer one
        ("WHILE[1 EQ 1]DO1\nM98 P100\nEND1", NEXT, 0),
        ("M98 P100\no1 while [1]\no1 endwhile", NEXT + 1, NEXT + 2),
        ("N5 M98 P7\nG1 X1.", NEXT, 0),
    ],
)
def test_a_loop_that_comes_back_unchanged_is_left_at_once(loop: str, line: int, last: int) -> None:
    subs = "O7\nG91 G1 X1. F9.\nM99 P5\n" if "P7" in loop else SUB if "P100" in loop else ""
    told = read(f"{START}{loop}\nM8\nG55 G0 X1.\n/M30\nM30\n{subs}")

    (found,) = find(told, "never left")
    assert found.line == line
    assert found.values == (last,) or not last
    assert not {"endless loop", "too long to follow"} & kinds(told)
    assert travel(told, "X").sure == "unknown"
    if "P7" not in loop:
        check_read_on_after(told)


@pytest.mark.parametrize(
    ("loop", "passes"),
    [
        ("#1=0\nWHILE[#1 LT 40]DO1\nG91 G1 X1. F9.\n#1=#1+1\nEND1", 40),
        ("#1=0\nN5 G91 G1 X1. F9.\n#1=#1+1\nIF[#1 LT 40]GOTO5", 40),
        ("#1=0\nWHILE[#1 LT 8]DO1\n#2=0\nWHILE[#2 LT 5]DO2\nG91 G1 X1. F9.\n#2=#2+1\nEND2\n#1=#1+1\nEND1", 40),
        ("o1 repeat [40]\nG91 G1 X1. F9.\no1 endrepeat", 40),
        ("M98 P7 L40", 40),
        ("M98 P7\n" * 40, 40),
    ],
)
def test_a_loop_that_counts_runs_to_its_end_though_each_pass_looks_the_same(loop: str, passes: int) -> None:
    told = read(f"{START}G90 G1 X0. F9.\n{loop}\nM30\nO7\nG91 G1 X1. F9.\nM99\n")
    assert not {"never left", "endless loop"} & kinds(told)
    high = travel(told, "X").high
    assert high is not None
    assert high.at == pytest.approx(passes)


@pytest.mark.parametrize(
    ("loop", "line"),
    [
        ("#1=0\nN5 G91 G1 X1. F9.\n#1=#1+1\nGOTO5", NEXT + 1),
        ("#2=0\nWHILE[1 EQ 1]DO1\n#2=#2+1\n#1=0\nWHILE[#1 LT 9]DO2\n#1=#1+1\nEND2\nEND1", NEXT + 1),  # the outer one
        ("M98 P100 L99999", NEXT + 5),
    ],
)
def test_a_loop_without_end_is_told_by_its_first_line(monkeypatch: pytest.MonkeyPatch, loop: str, line: int) -> None:
    """What changes with each pass may end it some day, for all that anybody can tell."""
    monkeypatch.setattr(follower, "MOST_STEPS", 2000)
    told = read(f"{START}{loop}\nM8\nG55 G0 X1.\n/M30\nM30\n" + (SUB if "P100" in loop else ""))

    assert [(one.line, one.values) for one in find(told, "endless loop")] == [(line, (2000,))]
    check_read_on_after(told)


def test_calls_that_branch_without_end_are_left(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(follower, "MOST_STEPS", 2000)
    subs = "".join(f"O{n}\n" + f"M98 P{n + 1}\n" * 9 + "M99\n" for n in range(2, 30))
    told = read(f"{START}M98 P2\nM30\n{subs}O30\nM99\n")
    assert "too long to follow" in kinds(told)


def test_progress_is_in_bytes() -> None:
    told: list[int] = []
    reader.read_program(lambda: [b"G1 X1.\n"] * 3, progress=told.append)
    assert told == [7, 14, 21]


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("O420\n" + START + "M98 P420\nM30\n", NEXT + 1),
        ("O420\n" + START + "M98 P421\nM30\nO421\nM98 P422\nM99\nO422\nM98 P421\nM99\n", NEXT + 7),
        ("O420\n" + START + "#1=0\nM98 P421\nM30\nO421\n#1=#1+1\nM98 P421\nM99\n", NEXT + 6),
    ],
)
def test_a_program_that_calls_itself_is_named(text: str, line: int) -> None:
    """By itself, through another, and without end though it counts."""
    told = read(text)
    assert [(one.kind, one.line) for one in told.findings] == [("calls itself", line)]
    assert told.cycle_time.tool_changes == 1


def test_a_subprogram_that_calls_itself_until_a_variable_says_enough_is_followed() -> None:
    sub = "O421\n#1=#1-1\nG91 G0 X1.\nG90\nIF[#1 LE 0] GOTO 9\nM98 P421\nN9 M99\n"
    told = read(f"{START}#1=3\nM98 P421\nM30\n{sub}")
    assert "calls itself" not in kinds(told)
    assert ends(travel(told, "X")) == ("known", 1, 3)


def test_comments_of_a_subprogram_count_once() -> None:
    told = read(f"(TOP)\n{START}M98 P100 L3\nM98 P100\nM30\nO100\n(HOLES)\nG1 X5. F9. (FIRST)\nG0 X0. (BACK)\nM99\n")
    assert [one.text for one in told.comments] == ["TOP", "HOLES", "FIRST", "BACK"]
    assert told.comment_count == 4
