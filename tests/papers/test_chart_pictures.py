"""Charts as pictures: valid SVG, in black and gray, and every mark where its value is on the axis beside it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path
from xml.etree.ElementTree import Element, fromstring

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from floor.batch.counting.commands import MarkedPieces
from floor.batch.quality.drifts import list_wear
from floor.batch.quality.measured_values import MeasuredCharacteristic
from floor.batch.state import Batch
from floor.cli.main import Exit, main
from floor.papers.catalog import PaperSource, make_offer
from floor.papers.chart_frame import WIDTH
from floor.papers.chart_pictures import list_chart_pictures
from floor.papers.control_chart_pictures import draw_values_picture
from floor.papers.curve_pictures import draw_wear_picture
from floor.papers.drifts import list_wear_lines
from floor.papers.measured_values import study_values
from floor.papers.save import save_offer
from floor.papers.svg import SMALL, Drawing
from floor.shop.simulation import ManualClock
from tests.batch.factory import MORNING, edited, open_bench
from tests.batch.test_drifts import LONG_LIFE, PALLETS, cut
from tests.batch.test_samples import with_sample
from tests.papers.test_figures_export import folder, printed  # noqa: F401 - a fixture
from tests.papers.test_measured_lines import DEPTH, measured

GRAY = re.compile(r"none|#([0-9a-f])\1\1|#([0-9a-f]{2})\2\2")


@cache
def scrapped() -> Batch:
    """Six pallets of four through the mill, A1 scrapped on five of them."""
    bench = open_bench(lambda: edited(PALLETS, LONG_LIFE), start=28)
    for n in range(6):
        bench.through(bench.form(10), marks=(MarkedPieces("deep", ("A1",)),) if n else ())
    return bench.state


def read(svg: str) -> Element:
    return fromstring(svg)


def parts(root: Element, kind: str) -> list[Element]:
    return [one for one in root if one.get("class") == kind]


def line_of(one: Element) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in (pair.split(",") for pair in (one.get("points") or "").split())]


def middles(root: Element, kind: str = "value") -> list[tuple[float, float]]:
    """Where the points lie, circles and squares."""
    return [
        (float(one.get("cx", "nan")), float(one.get("cy", "nan"))) if one.tag.endswith("circle")
        else (float(one.get("x", "nan")) + 1.1, float(one.get("y", "nan")) + 1.1)
        for one in parts(root, kind)
    ]  # fmt: skip


def words(root: Element) -> list[str]:
    return [one.text or "" for one in root if one.tag.endswith("text")]


VALUES = st.lists(st.integers(0, 40), min_size=1, max_size=60)


@settings(max_examples=60, deadline=None)
@given(VALUES)
def test_a_value_is_between_the_limits_on_paper_just_if_it_is(ticks: list[int]) -> None:
    """Hundredths of a millimeter around 3, limits 2.895 to 3.105: nothing lies on one."""
    shape = replace(DEPTH, low=2.895, high=3.105)
    study = study_values(shape, measured(*[2.8 + tick / 100 for tick in ticks]))
    root = read(draw_values_picture(open_bench().state, study))
    high, low = (line_of(one)[0][1] for one in parts(root, "limit"))
    drawn = middles(root)[: len(ticks)]  # the others are those of the spread
    assert [high < y < low for _, y in drawn] == [not shape.is_out(one.value) for one in study.values]

    uppers, lowers = parts(root, "upper"), parts(root, "lower")
    limits = study.charts.location.points[0].limits
    assert bool(uppers) == (limits is not None)
    if limits is not None:
        top, bottom = line_of(uppers[0])[0][1], line_of(lowers[0])[0][1]
        inside = [limits.lower <= one.value <= limits.upper for one in study.values]
        assert [top - 1e-3 <= y <= bottom + 1e-3 for _, y in drawn] == inside


@settings(max_examples=30, deadline=None)
@given(st.lists(st.lists(st.integers(0, 40), min_size=2, max_size=6), min_size=5, max_size=12))
def test_means_and_spreads_of_loads_lie_in_proportion_between_their_own_limits(loads: list[list[int]]) -> None:
    values = [
        replace(one, value=3 + tick / 100, run=n, load=n)
        for n, ticks in enumerate(loads, 1)
        for one, tick in zip(measured(*[0.0] * len(ticks)), ticks, strict=True)
    ]
    study = study_values(DEPTH, values)
    root = read(draw_values_picture(open_bench().state, study))
    drawn = middles(root)
    means = [point.value for point in study.charts.location.points]
    ys = [y for _, y in drawn[: len(means)]]
    for (above, mean), (other, least) in pairwise(zip(ys, means, strict=True)):
        assert mean is not None
        assert least is not None
        assert (above < other) == (mean > least) or abs(above - other) < 1e-3
    if study.charts.location.missing is None:
        steps = line_of(parts(root, "upper")[0])
        assert len(steps) == 2 * len(means), "a step for each load, as wide as its point"
        for n, point in enumerate(study.charts.location.points):
            assert (ys[n] < steps[2 * n][1] - 1e-3) <= point.out
    assert not parts(root, "limit"), "a mean lies within the drawing's limits long after its pieces do not"


def test_the_picture_says_which_reading_it_uses_of_a_piece_measured_again() -> None:
    values = measured(3.0, 3.01, 2.99)
    values[1] = replace(values[1], first="3.2")
    root = read(draw_values_picture(open_bench().state, study_values(DEPTH, values)))
    assert "1 measured again, the last reading counts: load 2 3.01 (first 3.2)" in words(root)


def test_numbers_and_unit_are_on_the_axis() -> None:
    root = read(draw_values_picture(open_bench().state, study_values(DEPTH, measured(3.0, 3.01, 2.99))))
    said = words(root)
    assert {"2.90", "2.95", "3.00", "3.05", "3.10", "groove depth (mm)", "high 3.1", "low 2.9", "1", "2", "3"} <= {
        *said
    }
    grid = {text: line_of(one)[0][1] for text, one in zip(said_ticks(root), parts(root, "grid"), strict=False)}
    (_, first), *_ = middles(root)
    assert first == pytest.approx(grid["3.00"], abs=1e-3), "3.0 lies on the line of 3.00"


def said_ticks(root: Element) -> Iterator[str]:
    return (text for text in words(root) if re.fullmatch(r"\d+\.\d\d", text))


def test_the_share_lost_by_load_is_drawn_with_limits_for_each() -> None:
    batch = scrapped()
    (one,) = [one for one in list_chart_pictures(batch) if one.title.startswith("lost by load")]
    root = read(one.draw())
    (_, none), *rest = middles(root)
    assert {round(y, 3) for _, y in rest} == {round(rest[0][1], 3)}, "1 of 4 each"
    assert rest[0][1] < none
    assert "percent lost" in words(root)
    zero, *_ = [line_of(grid)[0][1] for grid in parts(root, "grid")]
    assert none == pytest.approx(zero, abs=1e-3)


def test_what_happened_between_two_loads_is_marked_once_with_all_its_letters() -> None:
    batch = open_bench().state
    values = [replace(one, setup=n // 2, station="mill") for n, one in enumerate(measured(3.0, 3.01, 3.02, 2.99))]
    root = read(draw_values_picture(batch, study_values(DEPTH, values)))
    assert len(parts(root, "happening")) == 1
    assert words(root).count("S") == 1


def test_the_axis_of_a_share_begins_at_none_and_of_few_spreads_at_them() -> None:
    shares = read(next(one.draw() for one in list_chart_pictures(scrapped()) if one.title.startswith("lost by load")))
    frame = next(one for one in shares if one.get("fill") == "none" and one.tag.endswith("rect"))
    bottom = float(frame.get("y", "nan")) + float(frame.get("height", "nan"))
    assert line_of(parts(shares, "grid")[0])[0][1] == pytest.approx(bottom, abs=1e-3), "no share is below 0"

    ranges = read(draw_values_picture(open_bench().state, study_values(DEPTH, measured(3.0, 3.01, 3.021, 3.03))))
    *_, least = sorted(y for _, y in middles(ranges)[4:])
    *_, frame = [one for one in ranges if one.get("fill") == "none" and one.tag.endswith("rect")]
    top, height = (float(frame.get(name, "nan")) for name in ("y", "height"))
    assert least > top + 0.9 * height, "they fill it, though they are far from 0"


def test_names_of_limits_stand_beside_them_and_never_on_each_other() -> None:
    for values in ([3.0, 3.0001] * 10, [2.9, 3.1] * 10):
        root = read(draw_values_picture(open_bench().state, study_values(DEPTH, measured(*values))))
        names = [one for one in root if re.match(r"(high|UCL|mean|LCL|low) ", one.text or "")]
        first = [float(one.get("y", "nan")) for one in names[:5]]
        assert all(below - above > 3.39 for above, below in pairwise(first))
        beside = {(one.text or "").split()[0]: y for one, y in zip(names[:5], first, strict=True)}
        highest = "UCL" if list(beside)[0] == "UCL" else "high"
        line = parts(root, "upper")[0] if highest == "UCL" else parts(root, "limit")[0]
        assert beside[highest] == pytest.approx(line_of(line)[0][1] + 1, abs=1e-3)
    wide = read(draw_values_picture(open_bench().state, study_values(DEPTH, measured(*[3.0, 3.01] * 10))))
    low = next(float(one.get("y", "nan")) for one in wide if (one.text or "").startswith("low "))
    assert low == pytest.approx(line_of(parts(wide, "limit")[1])[0][1] + 1, abs=1e-3), "moved only where it must be"


def test_a_bar_is_as_long_as_its_pieces_and_the_share_ends_at_all() -> None:
    batch = scrapped()
    root = read(next(one.draw() for one in list_chart_pictures(batch) if one.title == "reasons"))
    (bar,) = parts(root, "bar")
    ((end, _),) = middles(root, "share")
    whole = line_of(parts(root, "grid")[-1])[0][0] - line_of(parts(root, "grid")[0])[0][0]
    assert float(bar.get("width", "0")) == pytest.approx(whole, abs=1e-3), "one reason only: all of them"
    assert end == pytest.approx(line_of(parts(root, "grid")[-1])[0][0], abs=1e-3)
    assert {"100 %", "pieces", "5, 100 %"} <= {*words(root)}


def test_each_place_says_what_was_lost_of_what_was_made_there() -> None:
    batch = scrapped()
    root = read(next(one.draw() for one in list_chart_pictures(batch) if one.title.startswith("places")))
    cells = {(one.get("x"), one.get("y")): one.get("fill") for one in parts(root, "place")}
    said = words(root)
    assert said[said.index("A1") + 1] == "5 of 6"
    assert said[said.index("B1") + 1] == "0 of 6"
    assert {one.get("width") for one in parts(root, "place")} == {"34"}, "two of them do not fill the page"
    assert list(cells.values()) == ["#969696", "#ffffff", "#ffffff", "#ffffff"], "A1 is the darkest, still readable"


def test_wear_is_drawn_by_the_pieces_cut_with_its_line_in_its_band() -> None:
    batch = cut(14, 0.002).state
    (wear,) = list_wear(batch)
    root = read(draw_wear_picture(batch, wear))
    trend = line_of(parts(root, "trend")[0])
    upper, lower = (line_of(one) for one in parts(root, "band"))
    assert trend[0][1] > trend[-1][1], "rising on paper is rising"
    assert all(above < middle < below for (_, above), (_, middle), (_, below) in zip(upper, trend, lower, strict=True))
    high, low = (line_of(one)[0][1] for one in parts(root, "limit"))
    scale = (low - high) / 0.2
    for (_, y), value in zip(middles(root), [one.value for life in wear.lives for one in life], strict=True):
        assert y == pytest.approx(high + (3.1 - value) * scale, abs=0.01)


def test_a_low_screen_still_shows_the_wear() -> None:
    (wear,) = list_wear(cut(14, 0.002).state)
    assert len(list_wear_lines(wear, 80, 3)) > 8, "what is said of it, and five rows at least"


def test_the_chance_of_acceptance_is_drawn_for_every_number_of_bad_pieces() -> None:
    """5 of 20, none out (MIL-STD-105E at AQL 2.5), against scipy's hypergeometric distribution."""
    batch = open_bench(lambda: with_sample("{ aql = 2.5 }"), start=20).state
    root = read(next(one.draw() for one in list_chart_pictures(batch) if one.title.startswith("sampling")))
    at = middles(root)
    hundred, zero = at[0][1], at[-1][1]
    shares = [(zero - y) / (zero - hundred) for _, y in at]
    assert shares == pytest.approx([stats.hypergeom.cdf(0, 20, bad, 5) for bad in range(21)], abs=1e-4)
    assert "bad pieces in the load" in words(root)


def test_bad_pieces_of_a_small_load_are_whole_ones() -> None:
    """2 of 4 (MIL-STD-105E, code letter A at AQL 6.5, from memory): the axis once had half a bad piece."""
    four = ("capacity = 20\nrows = 4\ncolumns = 5", "capacity = 4\nrows = 2\ncolumns = 2")
    batch = open_bench(lambda: with_sample("{ aql = 6.5 }", four), start=4).state
    root = read(next(one.draw() for one in list_chart_pictures(batch) if one.title.startswith("sampling")))
    said = words(root)
    below = [text for text in said if re.fullmatch(r"[\d.]+", text)][-5:]
    assert below == ["0", "1", "2", "3", "4"]


@pytest.mark.parametrize("make", [scrapped, lambda: cut(14, 0.002).state], ids=["scrapped", "worn"])
def test_every_picture_is_black_and_gray_large_enough_and_within_its_page(make: object) -> None:
    assert callable(make)
    charts = list_chart_pictures(make())
    assert charts
    assert len({one.stem for one in charts}) == len(charts)
    for chart in charts:
        assert re.fullmatch(r"chart-\d\d-[a-z0-9-]+", chart.stem)
        root = read(chart.draw())
        assert root.get("width") == f"{WIDTH:g}mm"
        height = float((root.get("height") or "").removesuffix("mm"))
        for one in root.iter():
            for name in ("fill", "stroke"):
                assert GRAY.fullmatch(one.get(name, "none")), one.attrib
            for name, most in (("x", WIDTH), ("cx", WIDTH), ("y", height), ("cy", height)):
                assert 0 <= float(one.get(name, "0")) <= most
            if one.tag.endswith("text"):
                assert float(one.get("font-size", "0")) >= SMALL
            if one.tag.endswith("polyline"):
                assert all(0 <= x <= WIDTH and 0 <= y <= height for x, y in line_of(one))


def test_what_people_type_cannot_break_a_picture() -> None:
    nasty = MeasuredCharacteristic(10, 'a<b & "c"\x00\x1b[2J ' + "long " * 40, 1, "µm", None, None, True)
    root = read(draw_values_picture(open_bench().state, study_values(nasty, measured(1.0, 2.0))))
    assert any('a<b & "c"' in text for text in words(root))
    drawing = Drawing(10, 10, "<\ud800>")
    drawing.write_text(1, 1, "]]>\x07")
    assert words(read(drawing.write())) == ["]]>"]


def test_thousands_of_values_keep_their_signals_and_are_one_line() -> None:
    values = measured(*[3.0 + (n % 3) / 1000 for n in range(4999)], 3.5)
    root = read(draw_values_picture(open_bench().state, study_values(DEPTH, values)))
    assert len(line_of(parts(root, "values")[0])) == 5000
    assert len(middles(root)) < 500
    highest = min(y for _, y in line_of(parts(root, "values")[0]))
    assert min(y for _, y in middles(root)) == pytest.approx(highest, abs=1e-3)


def test_charts_are_saved_beside_the_report(tmp_path: Path) -> None:
    batch = scrapped()
    source = PaperSource(batch, ManualClock(MORNING)(), "h" * 64, {})
    offer = make_offer(source, "close-out")
    paper, *charts = save_offer(tmp_path, offer, offer.write(), source.now.at)
    assert len(charts) == len(list_chart_pictures(batch))
    assert {one.suffix for one in charts} == {".svg"}
    assert all(one.parent == paper.parent and one.name.startswith("B0001-close-out-chart-") for one in charts)
    for one in charts:
        fromstring(one.read_text(encoding="utf-8"))


def test_the_command_line_draws_every_chart_into_a_folder(
    capsys: pytest.CaptureFixture[str],
    folder: Path,  # noqa: F811
    tmp_path: Path,
) -> None:
    paths = printed(capsys, folder, "--svg", str(tmp_path / "new" / "charts")).splitlines()
    assert len(paths) > 3
    for path in paths:
        fromstring(Path(path).read_text(encoding="utf-8"))
    again = printed(capsys, folder, "--svg", str(tmp_path / "new" / "charts")).splitlines()
    assert again == paths, "over those of before"

    shut = tmp_path / "file"
    shut.write_text("in the way")
    assert main(["figures", "B0001", "--shop", str(folder), "--svg", str(shut)]) == Exit.CANNOT
    assert "the charts were not written" in capsys.readouterr().err
    both = ["figures", "B0001", "--shop", str(folder), "--svg", str(tmp_path), "--since", "yesterday"]
    assert main(both) == Exit.USAGE
