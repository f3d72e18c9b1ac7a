"""Patterns of scrap: the counts, the exact chances behind them, what is tried and what is left out."""

import random
from collections import Counter
from dataclasses import replace
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from floor.figures.errors import ImpossibleFigure
from floor.figures.quality import exact_tests
from floor.figures.quality.detection import estimate_pieces_to_detect
from floor.figures.quality.looks import FALSE_ALARMS, Look, adjust_for_tries
from floor.figures.quality.missing import Missing
from floor.figures.quality.patterns import Pattern, find_patterns
from floor.figures.quality.suspect_tests import take_out
from floor.figures.quality.suspects import (
    ORDER_KINDS,
    LoadResult,
    OperationResult,
    Suspect,
    SuspectKind,
    list_place_groups,
)
from tests.figures.quality.simulated_batch import (
    GRID,
    GROUPS,
    NONE,
    ONE_LOT,
    ONE_PLACE,
    TOOL_AGE,
    make_loads,
    watch,
)

LOOK = Look(2, 0, 0)
TWELVE = tuple(GRID)


def load(bad: set[int], places=TWELVE, labels=None, values=None) -> LoadResult:
    return LoadResult(places, frozenset(bad), labels or {}, values or {})


def found_in(loads: list[LoadResult], groups=(), look: Look = LOOK) -> dict[tuple[SuspectKind, str, tuple], Pattern]:
    patterns = find_patterns([OperationResult("10", loads, groups)], look)
    return {(one.suspect.kind, one.suspect.factor, one.suspect.where): one for one in patterns}


def test_one_place_of_twelve() -> None:
    """9 of 18 bad at one place, one bad a load: scipy's binomial."""
    spots = [0] * 9 + [1, 2, 3, 4, 5, 6, 7, 8, 9]
    found = found_in([load({n}) for n in spots] + [load(set())] * 4)

    worst = found[SuspectKind.PLACE, "", ("A1",)]
    assert (worst.bad, worst.pieces, worst.expected) == (9, 22, pytest.approx(1.5))
    assert worst.p == pytest.approx(stats.binom.sf(8, 18, 1 / 12))
    assert found[SuspectKind.PLACE, "", ("C4",)].p == 1
    # Twelve places and both halves were tried, at the second look.
    assert worst.adjusted == pytest.approx(min(1, worst.p * 14 * 6))
    assert worst.named


def by(who: str, bad: int, labels=None) -> LoadResult:
    return LoadResult(TWELVE, frozenset(range(bad)), labels or {}, {}, who)


def test_people_are_one_suspect_without_a_name() -> None:
    """The chance of the worst, counted out over every way to deal the loads, times the three who were tried."""
    counts = [("R", 5), ("R", 4), ("R", 4), ("S", 1), ("S", 0), ("S", 2), ("T", 0), ("T", 1), ("T", 1)]
    found = found_in([by(who, bad) for who, bad in counts], look=Look(1, 0, 0))

    sums = [sum(chosen) for chosen in combinations([bad for _, bad in counts], 3)]
    worst = sum(one >= 13 for one in sums) / len(sums)
    (people,) = [one for key, one in found.items() if key[0] is SuspectKind.PEOPLE]
    assert people.p == pytest.approx(3 * worst)
    assert (people.suspect.where, people.suspect.factor) == ((), "")
    assert (people.bad, people.pieces, people.expected) == (18, 108, 18), "of all of them"
    assert not any(who in repr(one.suspect) for one in found.values() for who in ("'R'", "'S'", "'T'"))


def test_one_person_or_none_known_is_no_suspect() -> None:
    for loads in ([by("R", n % 3) for n in range(9)], [load({n}) for n in range(9)]):
        assert not any(kind is SuspectKind.PEOPLE for kind, _, _ in found_in(loads))


def test_people_who_differ_only_by_their_shift_are_explained_by_it() -> None:
    """Four people, two on each shift; one shift loses more, whoever works."""
    who = [("RS" if n % 2 else "TU")[n // 2 % 2] for n in range(24)]
    loads = [by(one, 1 if n % 2 else 5, {"shift": n % 2}) for n, one in enumerate(who)]
    found = found_in(loads)
    shift = found[SuspectKind.LABEL, "shift", (0,)]
    people = found[SuspectKind.PEOPLE, "", ()]
    assert shift.named
    assert not shift.explained
    assert people.p > shift.p
    assert people.explained or not people.named


def test_what_is_left_without_the_worst_person() -> None:
    loads = [by("R" if n % 4 == 0 else "ST"[n % 2], 7 if n % 4 == 0 else n % 2, {"tool": n // 12}) for n in range(36)]
    people = found_in(loads)[SuspectKind.PEOPLE, "", ()]
    assert people.named
    left = take_out(OperationResult("10", loads, ()), people.suspect)
    assert {one.by for one in left.loads} == {"S", "T"}


def test_groups_of_places() -> None:
    """Two loads of 12 with 3 and 2 bad: corners by scipy's hypergeometric, convolved by hand."""
    found = found_in([load({0, 3, 5}), load({8, 6})], GROUPS)

    one, other = stats.hypergeom(12, 4, 3), stats.hypergeom(12, 4, 2)
    wanted = sum(one.pmf(a) * other.pmf(b) for a in range(4) for b in range(3) if a + b >= 3)
    corners = found[SuspectKind.CORNERS, "", ("A1", "A4", "C1", "C4")]
    assert (corners.bad, corners.pieces, corners.expected) == (3, 8, pytest.approx(5 / 3))
    assert corners.p == pytest.approx(wanted)
    row = found[SuspectKind.ROW, "", ("A1", "A2", "A3", "A4")]
    assert (row.bad, row.pieces) == (2, 8)


def test_a_load_that_went_wrong_as_a_whole_accuses_no_place() -> None:
    """Its pieces are not independent: 12 bad of 12 tell nothing about places, but are counted."""
    base = [load({0}), load({5}), load({0})]
    plain, whole = found_in(base), found_in([*base, load(set(range(12)))])

    for place in TWELVE:
        key = (SuspectKind.PLACE, "", (place,))
        assert whole[key].p == pytest.approx(plain[key].p)
        assert whole[key].bad == plain[key].bad + 1
        assert whole[key].expected == pytest.approx(plain[key].expected + 1)


def test_pieces_of_unknown_place_take_no_part_in_places() -> None:
    places = ("A1", "A2", None, None)
    found = found_in([load({0}, places), load({0, 2}, places), load({3}, places), load({0}, places)])

    worst = found[SuspectKind.PLACE, "", ("A1",)]
    assert (worst.bad, worst.pieces, worst.expected) == (3, 4, pytest.approx(1.5))
    assert worst.p == pytest.approx(1 / 8)
    assert found_in([load({0}, (None, None))] * 5).keys() == {(kind, "", ()) for kind in
                                                              (SuspectKind.EARLY, SuspectKind.LATE)}  # fmt: skip


def test_order_in_the_load() -> None:
    """Always the last of five: the chance is 1 in 5 each (scipy's mannwhitneyu for one load)."""
    loads = [load({4}, tuple("abcde"))] * 6
    found = found_in(loads)

    late, early = found[SuspectKind.LATE, "", ()], found[SuspectKind.EARLY, "", ()]
    assert late.p == pytest.approx(5.0**-6)
    assert (late.bad, late.pieces, late.expected) == (6, 12, pytest.approx(2.4))
    assert (early.bad, early.pieces, early.p) == (0, 12, pytest.approx(1))
    single = stats.mannwhitneyu([5], [1, 2, 3, 4], alternative="greater", method="exact").pvalue
    assert found_in(loads[:1])[SuspectKind.LATE, "", ()].p == pytest.approx(single)


def test_an_order_that_nobody_knows_is_no_suspect() -> None:
    """Loose pieces have numbers in some order, and that of the others still counts."""
    loose = [replace(load({4}, (None,) * 5), in_order=False)] * 6
    assert not any(kind in ORDER_KINDS for kind, _, _ in found_in(loose))
    late = found_in([*loose, load({4}, tuple("abcde"))])[SuspectKind.LATE, "", ()]
    assert (late.bad, late.pieces, late.expected, late.p) == (1, 2, pytest.approx(0.4), pytest.approx(1 / 5))


def test_order_of_very_many_pieces_goes_by_halves(monkeypatch: pytest.MonkeyPatch) -> None:
    """scipy's hypergeometric."""
    monkeypatch.setattr(exact_tests, "MOST_RANKS", 10)
    found = found_in([load({1, 9, 10, 11, 12}, tuple(range(13)))])

    assert found[SuspectKind.LATE, "", ()].p == pytest.approx(stats.hypergeom.sf(3, 13, 6, 5))
    assert found[SuspectKind.EARLY, "", ()].p == pytest.approx(stats.hypergeom.sf(0, 13, 6, 5))
    assert found[SuspectKind.LATE, "", ()].bad == 4


def test_labels() -> None:
    """One bad at most in loads of one size: Fisher's exact test over loads (scipy)."""
    loads = [load({n % 12} if n in (1, 2, 3, 4, 5, 11) else set(), labels={"lot": "L1" if n < 8 else "L2"})
             for n in range(20)]  # fmt: skip
    found = found_in(loads)

    first = found[SuspectKind.LABEL, "lot", ("L1",)]
    assert (first.bad, first.pieces, first.expected) == (5, 96, pytest.approx(6 * 8 / 20))
    assert first.p == pytest.approx(stats.fisher_exact([[5, 3], [1, 11]], "greater").pvalue)
    assert found[SuspectKind.LABEL, "lot", ("L2",)].p == pytest.approx(stats.hypergeom.sf(0, 20, 12, 6))


def test_labels_that_could_never_be_named_are_not_tried() -> None:
    """With 9 loads, one or two of them are the worst by luck in 1 of 9 or 36: above 5 % / 2 at the first look. Loads of
    unknown label and factors with one label are left out."""
    loads = [load({0}, labels={"tool": n // 2}) for n in range(8)] + [load({1, 2}, labels={"tool": 9}), load({3})]
    looked = found_in(loads, look=Look(1, 0, 0))
    assert not [key for key in looked if key[0] is SuspectKind.LABEL]

    again = [load({0}, labels={"tool": n // 3, "mill": "M1"}) for n in range(9)]
    assert {key[1:] for key in found_in(again, look=Look(1, 0, 0)) if key[0] is SuspectKind.LABEL} == {
        ("tool", (0,)), ("tool", (1,)), ("tool", (2,)),
    }  # fmt: skip


@pytest.mark.parametrize(("loads", "alike", "tried"), [(9, 2, False), (10, 2, True), (39, 1, False), (40, 1, True)])
def test_a_label_is_tried_from_as_many_loads_as_could_name_it(loads: int, alike: int, tried: bool) -> None:
    """Against 5 % / 2 at the first look: the worst two of 10 loads are so by luck in 1 of 45, one of 40 in 1 of 40."""
    found = found_in([load({0}, labels={"tool": min(n // alike, 1)}) for n in range(loads)], look=Look(1, 0, 0))
    assert ((SuspectKind.LABEL, "tool", (0,)) in found) == tried


def test_values_go_by_halves_and_quarters() -> None:
    """The six oldest of 24 loads have all the scrap: 1 in C(24, 6)."""
    loads = [load({n % 12} if n >= 18 else set(), values={"age": 10.0 * n}) for n in range(24)]
    loads.append(load(set(), values={"age": float("nan")}))
    found = found_in(loads)

    quarter = found[SuspectKind.FROM, "age", (180.0,)]
    assert (quarter.bad, quarter.pieces, quarter.expected) == (6, 72, pytest.approx(1.5))
    assert quarter.p == pytest.approx(1 / 134_596)
    assert found[SuspectKind.FROM, "age", (120.0,)].p == pytest.approx(stats.hypergeom.sf(5, 24, 12, 6))
    assert {key[2] for key in found if key[0] is SuspectKind.UP_TO} == {(50.0,), (110.0,)}


def test_tied_values_keep_together() -> None:
    loads = [load({0}, values={"age": float(n % 2)}) for n in range(16)]

    assert {key for key in found_in(loads) if key[1] == "age"} == {
        (SuspectKind.UP_TO, "age", (0.0,)), (SuspectKind.FROM, "age", (1.0,)),
    }  # fmt: skip


def test_all_suspects_of_all_operations_are_adjusted_together() -> None:
    loads = [load({0}) for _ in range(8)]
    patterns = find_patterns([OperationResult(10, loads, GROUPS), OperationResult(20, loads, [])], LOOK)

    assert len(patterns) == (12 + len(GROUPS) + 2) + (12 + 2)
    assert [one.p for one in patterns] == sorted(one.p for one in patterns)
    factor = FALSE_ALARMS / LOOK.alpha
    wanted = [min(1, factor * p) for p in adjust_for_tries([one.p for one in patterns])]
    assert [one.adjusted for one in patterns] == pytest.approx(wanted)
    assert {one.suspect.operation for one in patterns if one.named} == {10, 20}


@pytest.mark.parametrize("loads", [[], [load(set())] * 5, [load(set(), ())], [load(set(range(12)))] * 3])
def test_without_any_difference_nothing_is_named(loads: list[LoadResult]) -> None:
    assert not any(one.named for one in found_in(loads, GROUPS).values())
    assert all(one.p == 1 for one in found_in(loads, GROUPS).values())


def named_in(loads: list[LoadResult], groups=GROUPS) -> dict[tuple[SuspectKind, str, tuple], bool]:
    """What is named → whether it is explained."""
    return {key: one.explained for key, one in found_in(loads, groups).items() if one.named}


def test_groups_are_explained_by_the_place_in_them() -> None:
    """A1 is also the first place: nothing is left of its row, its neighbors or of early pieces without it."""
    named = named_in([load({0} if n % 2 else {n % 12}) for n in range(60)])

    assert {key for key, explained in named.items() if not explained} == {(SuspectKind.PLACE, "", ("A1",))}
    assert {(SuspectKind.EARLY, "", ()), (SuspectKind.ROW, "", ("A1", "A2", "A3", "A4")),
            (SuspectKind.NEIGHBORS, "", ("A1", "B1"))} <= named.keys()  # fmt: skip


def test_two_causes_are_both_told() -> None:
    """Two places apart, and a lot; the tool that made that lot, and the row of a place, are explained."""
    labels = [{"lot": n // 20, "tool": n // 22} for n in range(100)]
    bad = [{0} if n % 3 == 0 else {6} if n % 3 == 1 else set() for n in range(100)]
    for n in range(40, 60):
        bad[n] = {n % 11, (n + 3) % 11, (n + 7) % 11}
    named = named_in([load(one, labels=label) for one, label in zip(bad, labels, strict=True)])

    assert {key for key, explained in named.items() if not explained} == {
        (SuspectKind.PLACE, "", ("A1",)), (SuspectKind.PLACE, "", ("B3",)), (SuspectKind.LABEL, "lot", (2,)),
    }  # fmt: skip
    assert named[SuspectKind.LABEL, "tool", (2,)]
    assert named[SuspectKind.NEIGHBORS, "", ("A1", "A2")]


def test_early_pieces_explain_the_places_that_come_first() -> None:
    """Places in turn, so that no place is always early; and late pieces do not explain what loads have in common."""
    turned = [TWELVE[n % 12 :] + TWELVE[: n % 12] for n in range(48)]
    early = [load({n % 4}, places, {"lot": n // 12}, {"age": n}) for n, places in enumerate(turned)]
    assert [key for key, explained in named_in(early).items() if not explained] == [(SuspectKind.EARLY, "", ())]

    late = [load({11 - n % 4, 10 - n % 4} if n > 35 else {11 - n % 4} if n % 2 else set(), places, {}, {"age": n})
            for n, places in enumerate(turned)]  # fmt: skip
    named = named_in(late)
    assert not named[SuspectKind.LATE, "", ()]
    assert not named[SuspectKind.FROM, "age", (36,)]


@pytest.mark.parametrize(("suspect", "left"), [
    (Suspect("10", SuspectKind.EARLY, "", ()), ("A3", "A4", "B4")),
    (Suspect("10", SuspectKind.LATE, "", ()), ("A1", "A2", "A3")),
    (Suspect("10", SuspectKind.ROW, "", ("A1", "A2", "A3", "A4")), ("B4",)),
    (Suspect("10", SuspectKind.FROM, "age", (3,)), None),
    (Suspect("10", SuspectKind.UP_TO, "age", (3,)), None),
    (Suspect("10", SuspectKind.LABEL, "lot", ("L1",)), None),
    (Suspect("10", SuspectKind.FROM, "age", (4,)), ("A1", "A2", "A3", "A4", "B4")),
    (Suspect("10", SuspectKind.UP_TO, "time", (9,)), ("A1", "A2", "A3", "A4", "B4")),
    (Suspect("10", SuspectKind.LABEL, "mill", ("L1",)), ("A1", "A2", "A3", "A4", "B4")),
])  # fmt: skip
def test_the_pieces_of_a_suspect_are_taken_out(suspect: Suspect, left: tuple[str, ...] | None) -> None:
    """Of five in a load, two are early and two late."""
    whole = load({2, 4}, ("A1", "A2", "A3", "A4", "B4"), {"lot": "L1"}, {"age": 3.0})
    loads = take_out(OperationResult("10", [whole], []), suspect).loads

    assert [one.places for one in loads] == ([] if left is None else [left])
    for one in loads:
        assert {one.places[n] for n in one.bad} == {"A3", "B4"} & set(one.places)


@pytest.mark.parametrize(("adjusted", "named"), [(0.05, True), (0.0501, False)])
def test_named_is_at_most_five_percent(adjusted: float, named: bool) -> None:
    suspect = Suspect("10", SuspectKind.EARLY, "", ())

    assert Pattern(suspect, 1, 2, 0.5, 0.001, adjusted, False).named is named


def test_the_older_quarter_explains_the_older_half() -> None:
    loads = [load({n % 12} if n % 8 > 5 else set(), values={"age": n % 8, "time": n}) for n in range(80)]
    named = named_in(loads)

    assert named == {(SuspectKind.FROM, "age", (6,)): False, (SuspectKind.FROM, "age", (4,)): True}


def test_groups_of_a_grid() -> None:
    kinds = Counter(group.kind for group in GROUPS)

    assert kinds == {SuspectKind.ROW: 3, SuspectKind.COLUMN: 4, SuspectKind.CORNERS: 1, SuspectKind.EDGE: 1,
                     SuspectKind.NEIGHBORS: 17}  # fmt: skip
    edge = next(group.places for group in GROUPS if group.kind is SuspectKind.EDGE)
    assert edge == set(TWELVE) - {"B2", "B3"}
    assert len({group.places for group in GROUPS}) == len(GROUPS)


@pytest.mark.parametrize(("places", "kinds"), [
    ({}, []),
    ({"a": (0, 0)}, []),
    ({"a": (0, 0), "b": (0, 1)}, []),
    ({"a": (0, 0), "b": (0, 1), "c": (0, 2)}, [SuspectKind.CORNERS, SuspectKind.NEIGHBORS, SuspectKind.NEIGHBORS]),
    ({"a": (0, 0), "b": (1, 1), "c": (5, 1)}, [SuspectKind.COLUMN, SuspectKind.CORNERS]),
])  # fmt: skip
def test_groups_of_few_places(places: dict[str, tuple[int, int]], kinds: list[SuspectKind]) -> None:
    """Never one place, never all, never the same places twice."""
    assert [group.kind for group in list_place_groups(places)] == kinds


def test_bad_pieces_must_be_in_the_load() -> None:
    for wrong in ({12}, {-1}):
        with pytest.raises(ImpossibleFigure):
            load(wrong)


@settings(deadline=None, max_examples=30)
@given(st.integers(0, 10**6))
def test_places_of_equal_chance_are_named_as_rarely_as_stated(seed: int) -> None:
    """Each p value of a place is at least the chance that its count is reached when the bad ones of each load are dealt
    again: here by 200 deals, which fall below a quarter of p only if p is wrong."""
    draw = random.Random(seed)
    loads = make_loads(draw, 12, 0.2, 0.1, NONE)
    found = found_in(loads)
    worst = min((one for key, one in found.items() if key[0] is SuspectKind.PLACE), key=lambda one: one.p)
    place = TWELVE.index(worst.suspect.where[0])
    deals = [sum(place in draw.sample(range(12), len(load.bad)) for load in loads) for _ in range(200)]
    share = sum(deal >= worst.bad for deal in deals) / 200
    assert share <= worst.p + 5 * (worst.p / 200) ** 0.5 + 0.01
    assert share >= worst.p - 5 * (worst.p / 200) ** 0.5 - 0.01


@pytest.mark.parametrize(("cause", "spread"), [(ONE_PLACE, 0.05), (ONE_LOT, 0.02), (TOOL_AGE, 0.02)],
                         ids=lambda one: getattr(one, "name", ""))  # fmt: skip
def test_a_planted_cause_is_named_first(cause, spread: float) -> None:
    """One simulated batch each; how often over many batches is in tests/bench/pattern_alarms.py."""
    seen = watch(make_loads(random.Random(4), 150, 0.04, spread, cause))

    named = [patterns for _, patterns in seen if patterns]
    assert named
    assert cause.guilty(named[0][0])
    assert cause.guilty(named[-1][0])


def test_no_cause_nothing_named() -> None:
    """Ten simulated batches; the rate over many is in tests/bench/pattern_alarms.py."""
    for seed in range(10):
        assert not [named for _, named in watch(make_loads(random.Random(seed), 60, 0.03, 0.05, NONE)) if named]


def test_pieces_until_a_place_would_be_named() -> None:
    """The bad pieces needed, tried one by one with scipy's binomial at the looks to come."""
    look = Look(1, 0, 5)
    bad, alpha, number = 5, look.alpha, 1
    while True:
        needed = next(k for k in range(bad + 2) if stats.binom.sf(k - 1, bad, 1 / 12) <= alpha / 40)
        if stats.binom.sf(needed - 1, bad, 2 / 13) >= 0.8:
            break
        bad, number = max(bad + 1, -(-5 * bad // 4)), number + 1
        alpha = 0.05 / number / (number + 1)

    assert estimate_pieces_to_detect(6, 200, 12, 40, look) == -(-(bad - 6) * 200 // 6)
    assert bad > 100


def test_a_stronger_cause_takes_fewer_pieces() -> None:
    twice, four, sure = (
        estimate_pieces_to_detect(6, 200, 12, 40, None, times=times, chance=chance)
        for times, chance in ((2, 0.8), (4, 0.8), (4, 0.5))
    )
    assert sure < four < twice / 3
    assert estimate_pieces_to_detect(300, 3000, 12, 40, Look(19, 9, 290), times=8) == 0


def test_an_estimate_without_a_rate_or_beyond_all_pieces() -> None:
    assert estimate_pieces_to_detect(0, 500, 12, 40, None) is Missing.TOO_FEW
    assert estimate_pieces_to_detect(5, 500, 12, 40, None, times=1.0001) is Missing.TOO_LARGE


def test_estimates_that_cannot_be_asked_for() -> None:
    for bad, pieces, places, tries, times, chance in (
        (5, 4, 12, 40, 2, 0.8), (-1, 4, 12, 40, 2, 0.8), (1, 4, 1, 40, 2, 0.8), (1, 4, 12, 0, 2, 0.8),
        (1, 4, 12, 40, 1, 0.8), (1, 4, 12, 40, float("inf"), 0.8), (1, 4, 12, 40, 2, 0), (1, 4, 12, 40, 2, 1),
    ):  # fmt: skip
        with pytest.raises(ImpossibleFigure):
            estimate_pieces_to_detect(bad, pieces, places, tries, None, times=times, chance=chance)
