"""Layouts against hand calculations, exact fractions, and the geometry they must obey."""

import itertools
import math
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from floor.figures.errors import ImpossibleFit
from floor.figures.layout import (
    Clamps,
    ClampZone,
    LayoutBlank,
    RectangularPiece,
    RoundPiece,
    compute_clamp_zones,
    count_pieces_in_length,
    find_best_layout,
    list_layouts,
    to_exact_fraction,
)
from tests.figures.bed_count import Bed, beds, most_found, wrong


class TestAlongOneDirection:
    """⌊(L − 2·margin + gap) / (piece + gap)⌋, worked by hand; common practice, no source."""

    def test_quotient_exactly_whole(self) -> None:
        assert count_pieces_in_length(48, 3.75, 0.25, 0.125) == 12

    def test_gap_after_the_last_piece_is_not_needed(self) -> None:
        assert count_pieces_in_length(12, 2, 0.125, 0.25) == 5

    @pytest.mark.parametrize("kind", [float, str, Decimal, Fraction])
    def test_binary_floating_point_would_lose_a_piece(self, kind: type) -> None:
        """24 in, margins 0.1, pieces 2.2, gap 0.2: ten exactly; doubles give nine."""
        assert math.floor((24 - 2 * 0.1 + 0.2) / (2.2 + 0.2)) == 9
        assert count_pieces_in_length(24, kind("2.2"), kind("0.2"), kind("0.1")) == 10

    def test_strip_either_way(self) -> None:
        assert (count_pieces_in_length(300, 90, 4, 6), count_pieces_in_length(300, 40, 4, 6)) == (3, 6)

    @settings(deadline=None)
    @given(
        length=st.decimals(1, 3000, places=3),
        piece=st.decimals("0.01", 500, places=3),
        gap=st.decimals(0, 20, places=3),
        margin=st.decimals(0, 50, places=3),
    )
    def test_as_many_as_fit_and_no_more(self, length: Decimal, piece: Decimal, gap: Decimal, margin: Decimal) -> None:
        n = count_pieces_in_length(length, piece, gap, margin)
        inside = length - 2 * margin

        assert n == 0 or n * piece + (n - 1) * gap <= inside
        assert (n + 1) * piece + n * gap > inside
        assert n == count_pieces_in_length(float(length), float(piece), float(gap), float(margin))


class TestRectangles:
    def test_pallet_both_ways(self) -> None:
        """400 × 250 mm, margin 10, gap 5, pieces 90 × 40: 4 × 5 one way, 8 × 2 turned (by hand)."""
        found = {
            (way.turned, way.along): way.pieces
            for way in list_layouts(RectangularPiece(90, 40), LayoutBlank(400, 250, 10), 5)
        }

        assert found == {(False, "x"): 20, (False, "y"): 20, (True, "x"): 16, (True, "y"): 16}
        best = find_best_layout(RectangularPiece(90, 40), LayoutBlank(400, 250, 10), 5)
        assert (best.pieces, best.turned, best.along) == (20, False, "x")
        assert (best.positions[0].x, best.positions[0].y) == (55, 30)
        assert (best.positions[-1].x, best.positions[-1].y) == (55 + 3 * 95, 30 + 4 * 45)

    def test_turned_where_that_holds_more(self) -> None:
        """90 × 60 on a strip of 300 × 102, margin 6, gap 4: three lengthwise, four turned (by hand)."""
        best = find_best_layout(RectangularPiece(90, 60), LayoutBlank(300, 102, 6), 4)

        assert (best.turned, best.pieces) == (True, 4)

    def test_clamps_across_both_ends(self) -> None:
        """Clamps of 20 mm at the ends of a 300 mm strip leave 260: ⌊(260 + 4) / 44⌋ = 6 (by hand)."""
        clamps = (ClampZone(0, 0, 20, 50), ClampZone(280, 0, 20, 50))
        best = find_best_layout(RectangularPiece(40, 40), LayoutBlank(300, 50, 0, clamps), 4)

        assert best.pieces == 6
        assert best.positions[0].x == 40

    @pytest.mark.parametrize(
        ("at", "pieces", "first"),
        [
            ("one end", 6 * 2, (40, 20)),
            ("both ends", 6 * 2, (40, 20)),
            ("both sides", 6 * 1, (20, 40)),
            ("one side", 6 * 1, (20, 40)),
            ("all round", 6 * 1, (40, 40)),
        ],
    )
    def test_clamps_where_they_sit(self, at: Clamps, pieces: int, first: tuple[int, int]) -> None:
        """300 × 84 mm, clamps of 20: 280 or 260 long give ⌊284/44⌋ = ⌊264/44⌋ = 6, 84 wide two rows, 64 or 44 one."""
        best = find_best_layout(
            RectangularPiece(40, 40), LayoutBlank(300, 84, 0, compute_clamp_zones(300, 84, 20, at)), 4
        )

        assert best.pieces == pieces
        assert (best.positions[0].x, best.positions[0].y) == first

    def test_rows_part_around_a_clamp_in_the_middle(self) -> None:
        """A 10 mm clamp across the middle of 110 mm: two rows of 50 above and below it, not one."""
        best = find_best_layout(RectangularPiece(50, 50), LayoutBlank(50, 110, 0, (ClampZone(0, 50, 50, 10),)))

        assert [at.y for at in best.positions] == [25, 85]


class TestRound:
    def test_staggered_rows_beat_square_ones(self) -> None:
        """Ø 1 on 10 × 10: square 100, staggered 105 (the classic count: rows of 10 and 9, 11 of them, by hand)."""
        found = {(way.rows, way.along): way.pieces for way in list_layouts(RoundPiece(1), LayoutBlank(10, 10))}

        assert found[("square", "x")] == 100
        assert found[("staggered", "x")] == found[("staggered", "y")] == 6 * 10 + 5 * 9 == 105
        assert find_best_layout(RoundPiece(1), LayoutBlank(10, 10)).rows == "staggered"

    @pytest.mark.parametrize(
        ("length", "width", "square", "staggered"),
        [
            (5, 5, 25, 5 + 4 + 5 + 4 + 5),  # 1 + 4·0.8660 = 4.46, a fifth row fits, a sixth would need 5.33
            (8, 8, 64, 5 * 8 + 4 * 7),  # 1 + 8·0.8660 = 7.93: nine rows, 68 against 64
            (6.5, 3, 18, 6 + 6 + 6),  # 6.5 leaves the half step that the odd rows need
            (20, 2, 40, 20 + 19),  # 1 + 2·0.8660 = 2.73: two rows, and the second loses one
        ],
    )
    def test_square_against_staggered_by_hand(self, length: float, width: float, square: int, staggered: int) -> None:
        """Rows of touching circles of Ø 1 lie √3/2 apart: the plain geometry of hexagonal packing, counted by hand."""
        found = {
            way.rows: way.pieces for way in list_layouts(RoundPiece(1), LayoutBlank(length, width)) if way.along == "x"
        }

        assert found == {"square": square, "staggered": staggered}
        assert find_best_layout(RoundPiece(1), LayoutBlank(length, width)).pieces >= max(square, staggered)

    def test_a_wide_sheet_of_staggered_rows_nears_the_density_of_hexagonal_packing(self) -> None:
        """π/√12 = 0.9069 of the plane is the densest packing of circles (Thue 1910; Tóth 1942), square rows π/4."""
        best = find_best_layout(RoundPiece(1), LayoutBlank(300, 300))

        covered = best.pieces * math.pi / 4 / 300**2
        assert best.rows == "staggered"
        assert 0.99 * math.pi / math.sqrt(12) < covered < math.pi / math.sqrt(12)

    def test_square_rows_where_staggering_loses(self) -> None:
        assert find_best_layout(RoundPiece(1), LayoutBlank(4, 4)).rows == "square"
        assert find_best_layout(RoundPiece(1), LayoutBlank(4, 4)).pieces == 16

    @settings(deadline=None)
    @given(
        length=st.integers(10, 300),
        width=st.integers(10, 300),
        diameter=st.integers(8, 60),
        gap=st.integers(0, 5),
    )
    def test_staggered_row_count_by_whole_numbers(self, length: int, width: int, diameter: int, gap: int) -> None:
        """Row k fits while k·(d + g)·√3/2 ≤ W − d, that is 3·k²·(d + g)² ≤ 4·(W − d)²: no square root taken."""
        (way,) = (
            w
            for w in list_layouts(RoundPiece(diameter), LayoutBlank(length, width), gap)
            if (w.rows, w.along) == ("staggered", "x")
        )
        rows = 0
        while width >= diameter and 3 * (rows * (diameter + gap)) ** 2 <= 4 * (width - diameter) ** 2:
            rows += 1
        even = max(0, (length + gap) // (diameter + gap))
        odd = max(0, (2 * length - diameter - gap + 2 * gap) // (2 * (diameter + gap)))

        assert way.pieces == (rows + 1) // 2 * even + rows // 2 * odd


class TestRoundBesideClamps:
    def test_staggered_rows_start_at_the_clamp(self) -> None:
        """9 × 9, margin 0.4, a clamp of 0.75 at one end: 7.85 × 8.2 are free. Ø 2 and a gap of 0.2: ⌊8.05 / 2.2⌋ = 3 in
        a row, ⌊6.95 / 2.2⌋ = 3 in the next, rows 1.9053 apart, so four of them (by hand)."""
        best = find_best_layout(
            RoundPiece(2), LayoutBlank(9, 9, Decimal("0.4"), compute_clamp_zones(9, 9, 0.75, "one end")), 0.2
        )

        assert (best.pieces, best.rows) == (12, "staggered")
        assert best.positions[0].x == Fraction("1.75")

    @pytest.mark.parametrize("at", ["one end", "both ends", "one side", "both sides", "all round"])
    @pytest.mark.parametrize("along", ["x", "y"])
    def test_clamps_along_an_edge_are_a_smaller_bed(self, at: Clamps, along: str) -> None:
        """A clamp of 0.9 along an edge with a margin of 0.4 equals a bed 0.5 shorter there."""
        ends, sides = {"one end": (1, 0), "both ends": (2, 0), "one side": (0, 1), "both sides": (0, 2)}.get(at, (2, 2))
        half, margin = Fraction(1, 2), Fraction(2, 5)
        for length, width in itertools.product((9, 10, 11), (7, 8)):
            beside = list_layouts(
                RoundPiece(1), LayoutBlank(length, width, margin, compute_clamp_zones(length, width, 0.9, at)), 0.1
            )
            alone = list_layouts(RoundPiece(1), LayoutBlank(length - half * ends, width - half * sides, margin), 0.1)
            held, free = ({w.rows: w.pieces for w in ways if w.along == along} for ways in (beside, alone))
            assert held == free

    def test_a_clamp_in_the_corner_makes_the_short_row_the_first(self) -> None:
        """4 × 1.9 of Ø 1, a block of 0.3 in the lower left corner. Started at the left edge, the first piece of 4 + 3
        would hit it; started at the block, 3 + 3 are clear; half a pitch on, 3 + 4 are (by hand)."""
        ways = list_layouts(RoundPiece(1), LayoutBlank(4, 1.9, 0, (ClampZone(0, 0, 0.3, 0.3),)))
        (along_x,) = (way for way in ways if (way.rows, way.along) == ("staggered", "x"))

        assert along_x.pieces == 7
        assert min((at.y, at.x) for at in along_x.positions) == (Fraction(1, 2), 1)

    def test_square_rows_lie_where_the_clamps_leave_most(self) -> None:
        """10 × 10, pieces 5 × 3, a clamp at 3.5 to 4 on the left half: rows at 0, 4 and 7 hold two each (by hand)."""
        ways = list_layouts(RectangularPiece(5, 3), LayoutBlank(10, 10, 0, (ClampZone(0, 3.5, 5, 0.5),)))
        (way,) = (way for way in ways if (way.turned, way.along) == (False, "x"))

        assert [at.y for at in way.positions] == [Fraction(y, 2) for y in (3, 3, 11, 11, 17, 17)]

    @pytest.mark.parametrize("bed", beds(4, 11), ids=lambda bed: f"{bed.length}x{bed.width}")
    def test_no_pattern_that_is_tried_holds_more(self, bed: Bed) -> None:
        said = list_layouts(bed.piece, bed.blank, bed.gap)[0]

        assert most_found(bed, said.pieces) == said.pieces
        assert not wrong(bed, said.positions)


class TestSpreadRows:
    """Staggered rows with pieces farther apart in the row and the rows closer together."""

    def test_published_packings_are_never_outdone_and_often_reached(self) -> None:
        """Circles of Ø 1 in a square of area n: OEIS A084616, n = 1 to 73 (proven optimal to 30 and best known beyond).

        Those that are rows are reached, as 39 in 38, 52 in 50 and 68 in 64.
        """
        most = [
            1, 1, 2, 4, 4, 5, 5, 6, 9, 9, 9, 10, 12, 13, 14, 16, 16, 16, 18, 19, 20, 21, 22, 23, 25, 25, 26, 27, 28, 30,
            30, 31, 33, 33, 34, 36, 36, 39, 39, 40, 41, 42, 43, 44, 45, 46, 47, 48, 49, 52, 52, 53, 53, 55, 56, 57, 58,
            59, 59, 61, 62, 63, 65, 68, 68, 68, 69, 69, 70, 72, 73, 74, 74,
        ]  # fmt: skip
        held = {}
        for area, known in enumerate(most, 1):
            side = Fraction(math.isqrt(area * 10**24), 10**12)
            held[area] = find_best_layout(RoundPiece(1), LayoutBlank(side, side)).pieces
            assert held[area] <= known
        reached = [area for area, known in enumerate(most, 1) if held[area] == known]
        assert {3, 6, 12, 19, 28, 30, 38, 42, 48, 50, 55, 59, 62, 64} <= set(reached)

    def test_two_pieces_across_a_corner(self) -> None:
        """Ø 1 in a square of 1.75, as 1 + √½ = 1.7071 is enough for two (by hand)."""
        best = find_best_layout(RoundPiece(1), LayoutBlank(1.75, 1.75))

        assert (best.pieces, best.rows) == (2, "spread")

    def test_they_are_left_out_where_closest_or_square_rows_hold_as_many(self) -> None:
        assert {way.rows for way in list_layouts(RoundPiece(1), LayoutBlank(4, 4))} == {"square", "staggered"}
        assert {way.rows for way in list_layouts(RoundPiece(1), LayoutBlank(8, 8))} == {"square", "staggered"}


sizes = st.decimals(4, 40, places=2)
zones = st.lists(
    st.builds(ClampZone, *[st.decimals(0, 100, places=1)] * 2, *[st.decimals(1, 50, places=1)] * 2), max_size=3
)


@settings(max_examples=60, deadline=None)
@given(
    piece=st.builds(RoundPiece, st.decimals(10, 40, places=2))
    | st.builds(RectangularPiece, *[st.decimals(10, 40, places=2)] * 2),
    blank=st.builds(
        LayoutBlank,
        st.decimals(20, 120, places=1),
        st.decimals(20, 120, places=1),
        st.decimals(0, 9, places=1),
        zones.map(tuple),
    ),
    gap=st.decimals(0, 5, places=2),
)
@example(
    RectangularPiece(10, 10), LayoutBlank(21, 20, 0, (ClampZone(10, 0, 1, 1),)), Decimal("1.01")
)  # a clamp narrower than the gap
def test_no_piece_touches_an_edge_a_clamp_or_its_neighbor(
    piece: RoundPiece | RectangularPiece, blank: LayoutBlank, gap: Decimal
) -> None:
    """In every layout: inside the margins, clear of the zones, and a gap from every other piece, all exact."""
    apart = to_exact_fraction(gap)
    for way in list_layouts(piece, blank, gap):
        if isinstance(piece, RoundPiece):
            half_x = half_y = to_exact_fraction(piece.diameter) / 2
        else:
            half_x, half_y = to_exact_fraction(piece.length) / 2, to_exact_fraction(piece.width) / 2
            if way.turned:
                half_x, half_y = half_y, half_x
        low = to_exact_fraction(blank.margin)
        for at in way.positions:
            assert low <= at.x - half_x
            assert at.x + half_x <= to_exact_fraction(blank.length) - low
            assert low <= at.y - half_y
            assert at.y + half_y <= to_exact_fraction(blank.width) - low
            for zone in blank.zones:
                nearest_x = min(
                    max(at.x, to_exact_fraction(zone.x)), to_exact_fraction(zone.x) + to_exact_fraction(zone.length)
                )
                nearest_y = min(
                    max(at.y, to_exact_fraction(zone.y)), to_exact_fraction(zone.y) + to_exact_fraction(zone.width)
                )
                if isinstance(piece, RoundPiece):
                    assert (at.x - nearest_x) ** 2 + (at.y - nearest_y) ** 2 >= half_x**2
                else:
                    assert abs(at.x - nearest_x) >= half_x or abs(at.y - nearest_y) >= half_y
        for one, other in itertools.combinations(way.positions, 2):
            across, up = abs(one.x - other.x), abs(one.y - other.y)
            if isinstance(piece, RoundPiece):
                assert across**2 + up**2 >= (2 * half_x + apart) ** 2
            else:
                assert across >= 2 * half_x + apart or up >= 2 * half_y + apart


@settings(max_examples=30, deadline=None)
@given(
    diameter=st.decimals(12, 30, places=2), length=st.decimals(40, 90, places=1), width=st.decimals(40, 90, places=1),
    margin=st.decimals(0, 9, places=1), clamp=st.decimals("0.5", 12, places=2), gap=st.decimals(0, 5, places=2),
    at=st.sampled_from(["one end", "both ends", "one side", "both sides", "all round"]),
)  # fmt: skip
def test_round_pieces_lie_clear_beside_clamps(
    diameter: Decimal, length: Decimal, width: Decimal, margin: Decimal, clamp: Decimal, gap: Decimal, at: Clamps
) -> None:
    blank = LayoutBlank(length, width, margin, compute_clamp_zones(length, width, clamp, at))
    clamps = tuple(
        (
            to_exact_fraction(z.x),
            to_exact_fraction(z.y),
            to_exact_fraction(z.x) + to_exact_fraction(z.length),
            to_exact_fraction(z.y) + to_exact_fraction(z.width),
        )
        for z in blank.zones
    )
    bed = Bed(
        to_exact_fraction(length),
        to_exact_fraction(width),
        to_exact_fraction(margin),
        to_exact_fraction(diameter),
        to_exact_fraction(gap),
        clamps,
    )

    for way in list_layouts(RoundPiece(diameter), blank, gap):
        assert not wrong(bed, way.positions)


@settings(deadline=None)
@given(piece=st.builds(RectangularPiece, sizes, sizes), length=sizes, width=sizes, more=sizes)
def test_a_larger_blank_never_holds_less(
    piece: RectangularPiece, length: Decimal, width: Decimal, more: Decimal
) -> None:
    assert (
        list_layouts(piece, LayoutBlank(length + more, width))[0].pieces
        >= list_layouts(piece, LayoutBlank(length, width))[0].pieces
    )


@pytest.mark.parametrize(
    ("piece", "blank", "gap", "words"),
    [
        (RoundPiece(11), LayoutBlank(10, 10), 0, "not one piece of 11 round fits a blank of 10 × 10"),
        (RectangularPiece(9, 2), LayoutBlank(10, 10, 1), 0, "take a larger blank or carrier"),
        (RectangularPiece(5, 5), LayoutBlank(10, 10, 0, (ClampZone(4, 4, 2, 2),)), 0, "move the clamps"),
        (RectangularPiece(0, 2), LayoutBlank(10, 10), 0, "a piece of 0: give a size above 0"),
        (RoundPiece(-1), LayoutBlank(10, 10), 0, "a piece of -1"),
        (RoundPiece(1), LayoutBlank(0, 10), 0, "a blank of 0"),
        (RoundPiece(1), LayoutBlank(10, 10), -1, "a gap of -1: give 0 or more"),
        (RoundPiece(1), LayoutBlank(10, 10, -1), 0, "a margin of -1"),
        (RoundPiece(float("nan")), LayoutBlank(10, 10), 0, "a size of nan: give a finite number"),
        (RoundPiece("wide"), LayoutBlank(10, 10), 0, "a size of wide"),
        (RoundPiece(1), LayoutBlank(10, 10, 0, (ClampZone(0, 0, 0, 1),)), 0, "a clamp zone of 0 × 1"),
    ],
)
def test_impossible_layouts_are_refused_with_the_way_out(
    piece: RoundPiece | RectangularPiece, blank: LayoutBlank, gap: int, words: str
) -> None:
    with pytest.raises(ImpossibleFit, match=words):
        find_best_layout(piece, blank, gap)
