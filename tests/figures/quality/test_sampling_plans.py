"""MIL-STD-105E: rows that were read, laws of the tables, acceptance chances, switching."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from floor.figures.errors import ImpossibleFigure
from floor.figures.quality.sampling_plans import (
    AQLS,
    LETTERS,
    InspectionLevel,
    InspectionState,
    LotResult,
    SamplingPlan,
    Severity,
    compute_acceptance_chance,
    compute_lot_acceptance_chance,
    find_code_letter,
    find_inspection_state,
    find_sampling_plan,
)

LOTS = {
    "A": 8, "B": 15, "C": 25, "D": 50, "E": 90, "F": 150, "G": 280, "H": 500, "J": 1200, "K": 3200, "L": 10_000,
    "M": 35_000, "N": 150_000, "P": 500_000, "Q": 500_001,
}  # fmt: skip
"""Largest lot of each letter at level II."""


def written(plan: SamplingPlan) -> str:
    return f"{plan.size}/{plan.accept}/{plan.reject}"


@pytest.mark.parametrize(("level", "letters"), [
    (InspectionLevel.I, "CCDEFG"), (InspectionLevel.II, "DEFGHJ"), (InspectionLevel.III, "EFGHJK"),
])  # fmt: skip
def test_code_letters_of_small_lots(level: InspectionLevel, letters: str) -> None:
    """MIL-STD-105E, Table I, as carried by the R package AQLSchemes; level II also in a federal maintenance guide."""
    ends = [(26, 50), (51, 90), (91, 150), (151, 280), (281, 500), (501, 1200)]
    for (least, most), letter in zip(ends, letters, strict=True):
        assert find_code_letter(least, level) == find_code_letter(most, level) == letter


@pytest.mark.parametrize(("lot", "letters"), [
    (1, "AAAAAAB"), (8, "AAAAAAB"), (9, "AAAAABC"), (16, "AABBBCD"), (3200, "CDEGHKL"), (10_000, "CDFGJLM"),
    (35_000, "CDFHKMN"), (150_000, "DEGJLNP"), (500_000, "DEGJMPQ"), (500_001, "DEHKNQR"),
])  # fmt: skip
def test_code_letters_of_the_other_lots(lot: int, letters: str) -> None:
    """Table I across levels S-1 to S-4, I, II, III (from memory)."""
    levels = [f"S-{n}" for n in range(1, 5)] + ["I", "II", "III"]

    assert "".join(find_code_letter(lot, InspectionLevel(level)) for level in levels) == letters


NORMAL = {
    (26, 50): "20/0/1 13/0/1 8/0/1 5/0/1 13/1/2",
    (51, 90): "20/0/1 13/0/1 8/0/1 20/1/2 13/1/2",
    (91, 150): "20/0/1 13/0/1 32/1/2 20/1/2 20/2/3",
    (151, 280): "20/0/1 50/1/2 32/1/2 32/2/3 32/3/4",
    (281, 500): "80/1/2 50/1/2 50/2/3 50/3/4 50/5/6",
    (501, 1200): "80/1/2 80/2/3 80/3/4 80/5/6 80/7/8",
}


@pytest.mark.parametrize("lots", NORMAL)
def test_normal_plans_of_level_2(lots: tuple[int, int]) -> None:
    """Table II-A at AQL 0.65 to 4.0, arrows followed: the same two texts, which agree in each cell."""
    for lot in lots:
        found = [find_sampling_plan(lot, aql) for aql in (0.65, 1.0, 1.5, 2.5, 4.0)]
        assert " ".join(written(plan) for plan in found) == NORMAL[lots]


@pytest.mark.parametrize(("severity", "plans"), [
    (Severity.TIGHTENED, "32/0/1 20/0/1 50/1/2 32/1/2 20/1/2"),
    (Severity.REDUCED, "8/0/1 5/0/1 13/0/2 8/0/2 8/1/3"),
])  # fmt: skip
def test_tightened_and_reduced_plans_of_letter_f(severity: Severity, plans: str) -> None:
    """Tables II-B and II-C, lot of 91 to 150: the R package AQLSchemes."""
    found = [find_sampling_plan(120, aql, severity=severity) for aql in (0.65, 1.0, 1.5, 2.5, 4.0)]

    assert " ".join(written(plan) for plan in found) == plans


@pytest.mark.parametrize(("lot", "aql", "severity", "plan"), [
    (3200, 10.0, Severity.NORMAL, "125/21/22"),
    (10_000, 10.0, Severity.NORMAL, "125/21/22"),
    (3200, 10.0, Severity.TIGHTENED, "125/18/19"),
    (3200, 10.0, Severity.REDUCED, "50/10/13"),
    (10_000, 0.010, Severity.NORMAL, "1250/0/1"),
    (600_000, 0.010, Severity.TIGHTENED, "2000/0/1"),
    (600_000, 0.010, Severity.REDUCED, "500/0/1"),
    (15, 10.0, Severity.NORMAL, "5/1/2"),
    (8, 10.0, Severity.NORMAL, "5/1/2"),
])  # fmt: skip
def test_the_corners_of_the_tables(lot: int, aql: float, severity: Severity, plan: str) -> None:
    """Tables II-A to II-C (from memory)."""
    assert written(find_sampling_plan(lot, aql, severity=severity)) == plan


@pytest.mark.parametrize(("aql", "severity", "plan"), [
    (0.010, Severity.NORMAL, "1250/0/1"), (0.015, Severity.NORMAL, "800/0/1"), (0.025, Severity.NORMAL, "2000/1/2"),
    (0.010, Severity.TIGHTENED, "2000/0/1"), (0.015, Severity.TIGHTENED, "1250/0/1"),
    (0.025, Severity.TIGHTENED, "3150/1/2"), (0.040, Severity.TIGHTENED, "2000/1/2"),
    (0.015, Severity.REDUCED, "315/0/1"),
])  # fmt: skip
def test_the_last_letter(aql: float, severity: Severity, plan: str) -> None:
    """Letter R, where arrows have nowhere to go but back, and the one plan of letter S (from memory)."""
    found = find_sampling_plan(10**6, aql, InspectionLevel.III, severity)

    assert (found.letter, written(found)) == ("R", plan)


@pytest.mark.parametrize(("severity", "sizes"), [
    (Severity.NORMAL, "2 3 5 8 13 20 32 50 80 125 200 315 500 800 1250 2000"),
    (Severity.TIGHTENED, "2 3 5 8 13 20 32 50 80 125 200 315 500 800 1250 2000 3150"),
    (Severity.REDUCED, "2 3 5 8 13 20 32 50 80 125 200 315 500 800"),
])  # fmt: skip
def test_sample_sizes(severity: Severity, sizes: str) -> None:
    """All sizes of the tables (from memory): the preferred numbers R5, each about 10^(1/5) times the one before, by
    lots too large to be inspected whole; reduced inspection has none for a letter below C but 2."""
    found = {
        find_sampling_plan(lot, aql, InspectionLevel.III, severity).size
        for lot in (10**6, *LOTS.values())
        for aql in AQLS
        if not find_sampling_plan(lot, aql, InspectionLevel.III, severity).every_piece
    }
    wanted = [int(size) for size in sizes.split()]
    assert {size for size in found if size > 3} == {size for size in wanted if size > 3}
    assert found <= set(wanted)


@pytest.mark.parametrize("severity", Severity)
def test_laws_of_the_tables(severity: Severity) -> None:
    """Of the whole of each table: larger lots are never sampled less at the same acceptance number, a looser AQL never
    takes a smaller one, and only reduced inspection leaves a gap between the numbers."""
    rows = {letter: [find_sampling_plan(LOTS[letter], aql, severity=severity) for aql in AQLS] for letter in LOTS}
    for letter, plans in rows.items():
        assert {plan.letter for plan in plans} == {letter}
        for plan in plans:
            gap = plan.reject - plan.accept
            assert gap == 1 or (severity is Severity.REDUCED and 1 < gap <= 3)
    for column in range(len(AQLS)):
        plans = [rows[letter][column] for letter in LOTS]
        for smaller, larger in itertools.pairwise(plans):
            assert smaller.accept <= larger.accept
            if smaller.accept == larger.accept and not smaller.every_piece:
                assert smaller.size <= larger.size
    for plans in rows.values():
        for strict, loose in itertools.pairwise(plans):
            assert strict.accept <= loose.accept


@given(st.integers(1, 2_000_000), st.sampled_from(AQLS), st.sampled_from(InspectionLevel))
def test_severities_in_order(lot: int, aql: float, level: InspectionLevel) -> None:
    """At any share bad, tightened accepts no more than normal, and normal no more than reduced; samples of reduced
    inspection are smaller. Of the plans themselves, before a small lot cuts them."""
    plans = {severity: find_sampling_plan(10**9, aql, level, severity) for severity in Severity}
    for share in (aql / 100, aql / 50, aql / 25):
        chances = [compute_acceptance_chance(plans[severity], share) for severity in Severity]
        assert chances[1] <= chances[0] + 1e-12 <= chances[2] + 2e-12
    assert plans[Severity.REDUCED].size < plans[Severity.NORMAL].size
    small = find_sampling_plan(lot, aql, level)
    assert small.size <= lot
    assert small.every_piece == (small.size == lot)


def test_every_aql_accepts_most_lots_at_it() -> None:
    """MIL-STD-105 accepts about 88 % or more of lots at the AQL by normal inspection (from memory)."""
    for letter, aql in itertools.product(LOTS, AQLS):
        plan = find_sampling_plan(LOTS[letter], aql)
        if not plan.every_piece:
            assert compute_acceptance_chance(plan, aql / 100) > 0.865


def test_a_sample_as_large_as_the_lot_is_every_piece() -> None:
    """MIL-STD-105E, note to Table II-A."""
    assert find_sampling_plan(20, 0.65) == SamplingPlan("C", 20, 0, 1, True)
    assert find_sampling_plan(16, 0.65) == SamplingPlan("C", 16, 0, 1, True)
    assert find_sampling_plan(21, 0.65) == SamplingPlan("C", 20, 0, 1, False)
    assert find_sampling_plan(1, 6.5) == SamplingPlan("A", 1, 0, 1, True)


def test_chance_to_accept_52_with_3() -> None:
    """The plan n = 52, c = 3 of NIST/SEMATECH e-Handbook 6.2.3.2, at 1 to 12 % bad, by scipy's binomial."""
    printed = [.9982, .9798, .9295, .8460, .7383, .6196, .5018, .3938, .3003, .2232, .1621, .1152]  # fmt: skip
    plan = SamplingPlan("", 52, 3, 4, False)

    assert [compute_acceptance_chance(plan, n / 100) for n in range(1, 13)] == pytest.approx(printed, abs=6e-5)


def test_chance_to_accept_20_with_none() -> None:
    """scipy's binomial: at its own AQL this plan rejects 12 % of lots."""
    plan = find_sampling_plan(91, 0.65)
    found = [compute_acceptance_chance(plan, share) for share in (0.0065, 0.01, 0.05, 0.1, 0, 1)]

    assert found == pytest.approx([0.8777, 0.8179, 0.3585, 0.1216, 1, 0], abs=6e-5)


def test_chance_in_a_small_lot_is_exact() -> None:
    """Hypergeometric, by scipy: a binomial would tell 0.5438 and 0.7358."""
    none, one = SamplingPlan("", 20, 0, 1, False), SamplingPlan("", 20, 1, 2, False)

    assert compute_lot_acceptance_chance(none, 100, 3) == pytest.approx(0.508101, abs=1e-6)
    assert compute_lot_acceptance_chance(one, 100, 5) == pytest.approx(0.739453, abs=1e-6)
    assert compute_lot_acceptance_chance(none, 100, 0) == 1
    assert compute_lot_acceptance_chance(none, 100, 81) == 0
    assert compute_lot_acceptance_chance(one, 20, 2) == 0


@given(st.data())
def test_chance_in_a_lot_equals_scipy(data: st.DataObject) -> None:
    lot = data.draw(st.integers(1, 300))
    bad, size = data.draw(st.integers(0, lot)), data.draw(st.integers(1, lot))
    reject = data.draw(st.integers(1, 5))
    plan = SamplingPlan("", size, reject - 1, reject, size == lot)

    wanted = stats.hypergeom.cdf(reject - 1, lot, bad, size)
    assert compute_lot_acceptance_chance(plan, lot, bad) == pytest.approx(wanted, abs=1e-9)


def test_between_the_numbers_of_reduced_inspection_a_lot_is_accepted() -> None:
    plan = SamplingPlan("F", 8, 1, 3, False)

    assert compute_acceptance_chance(plan, 0.1) == pytest.approx(stats.binom.cdf(2, 8, 0.1))


@pytest.mark.parametrize(("lot", "aql"), [(0, 1.0), (-5, 1.0), (100, 0.9), (100, 15.0), (100, float("nan"))])
def test_what_the_tables_do_not_have(lot: int, aql: float) -> None:
    with pytest.raises(ImpossibleFigure):
        find_sampling_plan(lot, aql)


def test_chances_of_what_cannot_be() -> None:
    plan = find_sampling_plan(100, 1.0)
    for share in (-0.1, 1.1, float("nan")):
        with pytest.raises(ImpossibleFigure):
            compute_acceptance_chance(plan, share)
    for lot, bad in ((100, -1), (100, 101), (12, 0)):
        with pytest.raises(ImpossibleFigure):
            compute_lot_acceptance_chance(plan, lot, bad)


def after(lots: str) -> str:
    """Severity after lots: + accepted, - rejected, ~ between the numbers, ! irregular, r may reduce."""
    results = [LotResult(one != "-", one == "~", one == "r", one == "!") for one in lots]
    state = find_inspection_state(results)
    return f"{state.severity}{' stopped' if state.discontinued else ''}"


@pytest.mark.parametrize(("lots", "severity"), [
    ("", "normal"),
    ("-", "normal"),
    ("--", "tightened"),
    ("-+++-", "tightened"),
    ("-++++-", "normal"),
    ("--++++", "tightened"),
    ("--+++++", "normal"),
    ("--++++-+++", "tightened"),
    ("--+++++-", "normal"),
    ("--+++++-+-", "tightened"),
    ("+++++++++r", "reduced"),
    ("++++++++r", "normal"),
    ("+++++++++++r", "reduced"),
    ("+-++++++++r", "normal"),
    ("+++++++++r++", "reduced"),
    ("+++++++++r-", "normal"),
    ("+++++++++r~", "normal"),
    ("+++++++++r!", "normal"),
    ("+++++++++r~r", "normal"),
    ("+++++++++r--", "normal"),
    ("+++++++++r---", "tightened"),
    ("--" + "-" * 9, "tightened"),
    ("--" + "-" * 10, "tightened stopped"),
    ("--" + "-+" * 5, "tightened stopped"),
    ("--" + "-" * 5 + "+" * 5, "normal"),
    ("--" + "-" * 12 + "+" * 9, "tightened stopped"),
])  # fmt: skip
def test_switching(lots: str, severity: str) -> None:
    """MIL-STD-105E 4.7 (from memory). Lots before a switch do not count after it."""
    assert after(lots) == severity


def test_a_new_series_is_inspected_normally() -> None:
    assert find_inspection_state([]) == InspectionState(Severity.NORMAL, False)
    assert len(LETTERS) == 16
