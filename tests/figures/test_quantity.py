"""Start quantities against textbook answers, scipy and a count of all outcomes."""

import itertools
import math
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from floor.figures.distributions import binomial_pmf
from floor.figures.errors import Impossible, ImpossibleOrder, ImpossibleYield
from floor.figures.route_yields import OperationYield, count_pieces_tested
from floor.figures.start_at_known_yields import (
    LoadLoss,
    compute_fill_probability,
    compute_mean_based_start,
    compute_start_quantity,
)

EIGHT = [0.98, 0.985, 0.97, 0.995, 0.98, 0.99, 0.985, 0.99]


def route(*yields: float) -> list[OperationYield]:
    return [OperationYield(f"op {n}", good) for n, good in enumerate(yields, 1)]


class TestMeanBased:
    """Tompkins et al., Facilities Planning: scrap estimates, reject and rework examples."""

    def test_three_operations_in_series(self) -> None:
        """97,000 good wanted, scrap 4, 1 and 3 %: the book starts 105,219."""
        assert compute_mean_based_start(97_000, route(0.96, 0.99, 0.97)) == 105_219

    def test_rework_of_rejects(self) -> None:
        """3 % rejects reworked, 40 % of them lost, then 2 % scrap: 103,280.178.

        The worked answer prints 103,280, rounded to nearest; "at least" needs one more.
        """
        operations = [OperationYield("1", 0.97, 0.03, 0.60), OperationYield("2", 0.98)]

        assert compute_mean_based_start(100_000, operations) == 103_281

    @pytest.mark.parametrize("yields", [(0.97, 0.95, 0.93), (0.93, 0.95, 0.97)])
    def test_order_of_operations_does_not_matter(self, yields: tuple[float, ...]) -> None:
        """1,000 good wanted: 1,167 whichever operation scraps most (end-of-chapter problem, worked answer)."""
        assert compute_mean_based_start(1000, route(*yields)) == 1167

    def test_even_quotient_is_not_rounded_up(self) -> None:
        assert [compute_mean_based_start(100, route(y)) for y in (0.8, 0.5, 0.1, 1.0)] == [125, 200, 1000, 100]

    def test_it_is_no_promise(self) -> None:
        """ceil(100 / 0.9) = 112 fills an order of 100 only twice in three times (scipy)."""
        start = compute_start_quantity(100, 0.95, route(0.9))

        assert start.mean_based == 112
        assert start.mean_based_probability == pytest.approx(0.671544, abs=1e-6)
        assert start.mean_based_probability == pytest.approx(stats.binom.sf(99, 112, 0.9), abs=1e-12)


class TestStartQuantity:
    def test_three_in_a_hundred_out_of_tolerance(self) -> None:
        """Public mathematics problem (custom widgets, 3 % out of tolerance); probabilities by scipy."""
        assert compute_fill_probability(100, 100, route(0.97)) == pytest.approx(0.047553, abs=1e-6)
        assert compute_fill_probability(105, 100, route(0.97)) == pytest.approx(0.903347, abs=1e-6)
        start = compute_start_quantity(100, 0.95, route(0.97))
        assert (start.pieces, start.probability) == (106, pytest.approx(0.959136, abs=1e-6))

    @pytest.mark.parametrize(
        ("confidence", "pieces", "achieved"),
        [
            (0.5, 111, 0.566795),
            (0.8, 114, 0.834631),
            (0.9, 116, 0.929779),
            (0.95, 117, 0.956930),
            (0.99, 120, 0.992059),
        ],
    )
    def test_confidence_ladder_by_both_distributions(self, confidence: float, pieces: int, achieved: float) -> None:
        """Binomial tail and negative binomial quantile (scipy) name the same number."""
        start = compute_start_quantity(100, confidence, route(0.9))

        assert (start.pieces, start.probability) == (pieces, pytest.approx(achieved, abs=1e-6))
        assert start.pieces == 100 + stats.nbinom.ppf(confidence, 100, 0.9)

    @pytest.mark.parametrize("good", [Fraction(1, 2), Fraction(3, 4), Fraction(4, 5), Fraction(9, 10)])
    def test_a_confidence_just_reached_is_reached(self, good: Fraction) -> None:
        """Two pieces of a yield of a half: one good with 3/4, and a third need not be started. By exact fractions."""
        for ordered, spare in itertools.product(range(1, 6), range(8)):
            pieces = ordered + spare
            chance = sum(
                math.comb(pieces, n) * good**n * (1 - good) ** (pieces - n) for n in range(ordered, pieces + 1)
            )
            if chance < 1 and Fraction(str(float(chance))) == chance:
                assert compute_start_quantity(ordered, float(chance), route(float(good))).pieces == pieces
        assert compute_start_quantity(1, 0.75, route(0.5)).pieces == 2
        assert compute_start_quantity(1, 0.75, route(0.5), lot=2).lots == 1

    def test_pieces_until_the_order_is_full(self) -> None:
        """One piece at a time until 100 are good: mean 111.1111, s.d. 3.513642 (negative binomial)."""
        filled = [compute_fill_probability(n, 100, route(0.9)) for n in range(99, 180)]
        chance = {n: b - a for n, (a, b) in enumerate(itertools.pairwise(filled), 100)}
        mean = sum(n * p for n, p in chance.items())

        assert mean == pytest.approx(111.1111, abs=1e-4)
        assert math.sqrt(sum((n - mean) ** 2 * p for n, p in chance.items())) == pytest.approx(3.513642, abs=1e-4)

    def test_castings_with_flash(self) -> None:
        """10 % scrapped: the 4th scrapped is the 20th made, the 1st the 10th (worked textbook exercise)."""
        scrap = route(0.1)
        fourth = compute_fill_probability(20, 4, scrap) - compute_fill_probability(19, 4, scrap)
        first = compute_fill_probability(10, 1, scrap) - compute_fill_probability(9, 1, scrap)

        assert fourth == pytest.approx(0.017955766, abs=1e-9)
        assert first == pytest.approx(0.038742049, abs=1e-9)

    def test_reject_allowance(self) -> None:
        """Four castings at yield 0.9, $15,000 each, $120,000 if filled: Tompkins et al., worked solution for Q = 4.

        The profits for Q = 5 to 8 follow by the same sum (scipy); five are best.
        """
        assert [binomial_pmf(k, 4, 0.9) for k in range(5)] == pytest.approx([0.0001, 0.0036, 0.0486, 0.2916, 0.6561])
        profit = {q: 120_000 * compute_fill_probability(q, 4, route(0.9)) - 15_000 * q for q in range(4, 9)}
        assert profit == pytest.approx({4: 18_732, 5: 35_224.80, 6: 28_098, 7: 14_672.64, 8: -51.80}, abs=0.01)
        assert max(profit, key=profit.__getitem__) == 5
        assert 1 - compute_fill_probability(5, 4, route(0.9)) == pytest.approx(0.08146, abs=1e-9)

    def test_eight_operations(self) -> None:
        """Eight operations (yields: common practice, no source); quantities by scipy on their product."""
        starts = {c: compute_start_quantity(100, c, route(*EIGHT)) for c in (0.5, 0.9, 0.95, 0.99)}

        assert starts[0.5].piece_yield == pytest.approx(0.881434, abs=1e-6)
        assert starts[0.5].mean_based == 114
        assert {c: start.pieces for c, start in starts.items()} == {0.5: 113, 0.9: 119, 0.95: 120, 0.99: 123}

    def test_whole_strips_of_seven(self) -> None:
        """Both numbers side by side: 120 pieces are enough, 18 strips make 126 (scipy)."""
        start = compute_start_quantity(100, 0.95, route(*EIGHT), lot=7)

        assert (start.pieces, start.rounded, start.lots) == (120, 126, 18)
        assert start.rounded_probability == pytest.approx(0.998393, abs=1e-6)
        assert start.probability == pytest.approx(stats.binom.sf(99, 120, math.prod(EIGHT)), abs=1e-12)

    @pytest.mark.parametrize(("hand", "chance"), [(104, 0.334407), (108, 0.870949), (110, 0.964561)])
    def test_four_operations_left(self, hand: int, chance: float) -> None:
        """Pieces in hand before the last four operations, yields known (scipy)."""
        assert compute_fill_probability(hand, 100, route(0.98, 0.99, 0.985, 0.99)) == pytest.approx(chance, abs=1e-6)

    def test_unusual_batch_sizes(self) -> None:
        assert compute_start_quantity(1, 0.5, []).pieces == 1
        assert compute_start_quantity(1, 0.999, route(0.1)).pieces == 1 + stats.nbinom.ppf(0.999, 1, 0.1)
        big = compute_start_quantity(5000, 0.99, route(*[0.995] * 40))
        assert big.pieces == 5000 + stats.nbinom.ppf(0.99, 5000, 0.995**40)


class TestTestPieces:
    def by_all_outcomes(self, started: int, ordered: int, steps: list[tuple[float, int]]) -> float:
        """Forward through the route with scipy's binomial: survivors of each operation, tests taken off."""
        chances = {started: 1.0}
        for good, tests in steps:
            after: dict[int, float] = {}
            for pieces, weight in chances.items():
                for left, p in enumerate(stats.binom.pmf(range(pieces + 1), pieces, good)):
                    kept = max(0, left - tests)
                    after[kept] = after.get(kept, 0.0) + weight * p
            chances = after
        return sum(weight for pieces, weight in chances.items() if pieces >= ordered)

    @settings(max_examples=25, deadline=None)
    @given(
        started=st.integers(1, 30),
        ordered=st.integers(1, 25),
        steps=st.lists(st.tuples(st.floats(0.4, 1), st.integers(0, 3)), min_size=1, max_size=3),
    )
    def test_exact_beside_all_outcomes(self, started: int, ordered: int, steps: list[tuple[float, int]]) -> None:
        operations = [OperationYield(str(n), good, tests=tests) for n, (good, tests) in enumerate(steps)]

        expected = self.by_all_outcomes(started, ordered, steps)

        assert compute_fill_probability(started, ordered, operations) == pytest.approx(expected, abs=1e-11)

    def test_many_tests_do_not_underflow(self) -> None:
        """300 tests at a yield of 0.07: only the sum of two negative binomials gives it; scipy convolves them."""
        operations = [OperationYield("coupon", 0.07, tests=300), OperationYield("finish", 0.5)]
        started = 6500
        waits = stats.nbinom.pmf(range(started), 300, 0.07)
        left = stats.binom.sf(4, [started - 300 - w for w in range(started - 300)], 0.035)

        assert compute_fill_probability(started, 5, operations) == pytest.approx(
            float((waits[: started - 300] * left).sum()), abs=1e-10
        )

    def test_scrap_too_rare_to_count_is_none(self) -> None:
        """A yield of one less a rounding error, as a mean of many yields may be: two cut up, five are left of seven."""
        coupon = OperationYield("coupon", 1 - 2**-53, tests=2)
        assert compute_fill_probability(7, 5, [coupon]) == pytest.approx(1)
        assert compute_fill_probability(6, 5, [coupon]) == pytest.approx(0, abs=1e-12)

    def test_tests_by_the_load_grow_with_the_loads(self) -> None:
        """At a yield of one, 100 good and one cut up of each load of 12 need the least n with n − ⌈n/12⌉ ≥ 100."""
        bond = OperationYield("bond", tests_per_load=1, load=12)
        start = compute_start_quantity(100, 0.95, [bond], lot=5)

        assert start.pieces == min(n for n in range(100, 200) if n - math.ceil(n / 12) >= 100) == 110
        assert (start.tests, start.rounded) == (10, 110)

    @settings(max_examples=20, deadline=None)
    @given(
        ordered=st.integers(1, 30),
        good=st.floats(0.5, 1),
        load=st.integers(3, 12),
        confidence=st.floats(0.3, 0.99),
        lot=st.integers(1, 9),
    )
    def test_least_although_the_chance_saws(
        self, ordered: int, good: float, load: int, confidence: float, lot: int
    ) -> None:
        """One more piece can open a load and cost a test: trying every number finds the same least one."""
        operations = [OperationYield("bond", good, tests_per_load=1, load=load)]
        start = compute_start_quantity(ordered, confidence, operations, lot=lot)

        just = confidence - 1e-12  # one good of one at a half is enough for a half
        enough = (n for n in range(1, start.pieces + 1) if compute_fill_probability(n, ordered, operations) >= just)
        assert next(enough) == start.pieces
        lots = (
            n for n in range(lot, start.rounded + 1, lot) if compute_fill_probability(n, ordered, operations) >= just
        )
        assert next(lots) == start.rounded
        assert start.tests == sum(count_pieces_tested(start.pieces, operations))

    def test_a_load_used_up_by_its_tests_is_refused(self) -> None:
        with pytest.raises(ImpossibleYield, match="tests at bond use up every piece of a load of 4"):
            compute_start_quantity(10, 0.9, [OperationYield("bond", 0.5, tests_per_load=2, load=4)])


class TestLostLoads:
    def test_mixture_over_surviving_loads(self) -> None:
        """Five loads of four, the last with two; every load survives nine times in ten: all 32 cases (scipy)."""
        sizes = [4, 4, 4, 4, 2]
        expected = 0.0
        for kept in itertools.product([0, 1], repeat=5):
            chance = math.prod(0.9 if k else 0.1 for k in kept)
            pieces = sum(size for size, k in zip(sizes, kept, strict=True) if k)
            expected += chance * stats.binom.sf(11, pieces, 0.95)

        assert compute_fill_probability(18, 12, route(0.95), LoadLoss(4, 0.9)) == pytest.approx(expected, abs=1e-12)

    def test_loads_that_may_be_lost_need_more_pieces(self) -> None:
        plain = compute_start_quantity(100, 0.95, route(0.95))
        risky = compute_start_quantity(100, 0.95, route(0.95), load_loss=LoadLoss(12, 0.97), lot=12)

        assert risky.pieces > plain.pieces
        assert risky.rounded % 12 == 0

    @pytest.mark.parametrize(("pieces", "survives"), [(0, 0.9), (4, 0.0), (4, 1.1)])
    def test_impossible_loads(self, pieces: int, survives: float) -> None:
        with pytest.raises(ImpossibleYield, match="a load holds at least one piece"):
            LoadLoss(pieces, survives)


operations = st.lists(
    st.builds(
        lambda good, sent, mends, passes, tests: OperationYield(
            "op", good, sent * (1 - good), mends, passes, tests=tests
        ),
        st.floats(0.6, 1),
        st.floats(0, 1),
        st.floats(0, 1),
        st.integers(0, 3),
        st.integers(0, 2),
    ),
    max_size=5,
)


class TestLaws:
    @settings(deadline=None)
    @given(ordered=st.integers(1, 500), confidence=st.floats(0.01, 0.999), steps=operations, lot=st.integers(1, 30))
    def test_fewest_and_no_fewer(self, ordered: int, confidence: float, steps: list[OperationYield], lot: int) -> None:
        """The chance is reached, one piece (or lot) fewer misses it, and rounding up never lowers it."""
        start = compute_start_quantity(ordered, confidence, steps, lot=lot)

        assert start.probability >= confidence > compute_fill_probability(start.pieces - 1, ordered, steps)
        assert start.rounded_probability >= confidence > compute_fill_probability(start.rounded - lot, ordered, steps)
        assert start.rounded >= start.pieces
        assert start.rounded_probability >= start.probability - 1e-12

    @settings(deadline=None)
    @given(
        ordered=st.integers(1, 300),
        steps=operations.filter(bool),
        confidence=st.floats(0.05, 0.99),
        more=st.floats(0, 1),
    )
    def test_more_yield_never_needs_more_starts(
        self, ordered: int, steps: list[OperationYield], confidence: float, more: float
    ) -> None:
        first = steps[0]
        better = OperationYield(
            first.name,
            first.good + more * (1 - first.good - first.rework),
            first.rework,
            first.rework_yield,
            first.passes,
            tests=first.tests,
        )

        assert (
            compute_start_quantity(ordered, confidence, [better, *steps[1:]]).pieces
            <= compute_start_quantity(ordered, confidence, steps).pieces
        )

    @settings(deadline=None)
    @given(started=st.integers(0, 400), ordered=st.integers(1, 300), steps=operations)
    def test_the_chance_rises_with_pieces_and_falls_with_the_order(
        self, started: int, ordered: int, steps: list[OperationYield]
    ) -> None:
        chance = compute_fill_probability(started, ordered, steps)

        assert 0 <= chance <= compute_fill_probability(started + 1, ordered, steps) + 1e-12
        assert chance >= compute_fill_probability(started, ordered + 1, steps) - 1e-12


@pytest.mark.parametrize(
    ("ordered", "confidence", "yields", "lot", "words"),
    [
        (0, 0.9, (0.9,), None, "an order of 0 pieces: order at least one."),
        (-5, 0.9, (0.9,), None, "order at least one"),
        (10**9, 0.9, (0.9,), None, "order at most"),
        (10, 1.0, (0.9,), None, "certainty would need endless pieces"),
        (10, 1.5, (0.9,), None, "choose one above 0 and below 1"),
        (10, 0.0, (0.9,), None, "choose one above 0 and below 1"),
        (10, float("nan"), (0.9,), None, "choose one above 0 and below 1"),
        (10, 0.9, (0.9, 0.0), None, "no piece can pass op 2"),
        (10, 0.9, (1e-9,), None, "raise the yields or order fewer"),
        (1, 1 - 1e-16, (1e-6,), None, "ask for less confidence"),
        (10, 0.9, (0.9,), 0, "a blank or load holds at least one piece"),
    ],
)
def test_impossible_orders_are_refused_with_the_way_out(
    ordered: int, confidence: float, yields: tuple[float, ...], lot: int | None, words: str
) -> None:
    with pytest.raises(Impossible, match=words) as refusal:
        compute_start_quantity(ordered, confidence, route(*yields), lot=lot)
    assert refusal.value.problem
    assert refusal.value.remedy


def test_nothing_ordered_has_no_chance() -> None:
    with pytest.raises(ImpossibleOrder):
        compute_fill_probability(10, 0, route(0.9))
