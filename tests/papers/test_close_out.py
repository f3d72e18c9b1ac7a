"""The close-out report: quantities that reconcile, named as ISO 22400-2 names them."""

from __future__ import annotations

import re

from floor.batch.corrections.commands import StrikeOut
from floor.batch.counting.commands import Dispose, MarkedPieces, TakeOff
from floor.batch.counting.losses import Loss, count_losses
from floor.batch.counting.op_yields import list_op_outcomes
from floor.batch.gates.commands import Waive
from floor.batch.quality.costs import CostRates, compute_costs
from floor.batch.quality.time_elements import compute_time_elements
from floor.figures.key_figures import THROUGHPUT, TIME_FIGURES
from floor.papers.closeout import write_close_out
from floor.papers.key_figures import format_key_figure
from floor.text import WIDTH, count_cells
from tests.batch.factory import measure_again, open_bench
from tests.batch.test_soak_gate import LINE, every, in_the_oven, prove
from tests.papers.half_done import half_done
from tests.planning.planned import ONE_SHIFT, ZONE


def test_each_operation_reconciles_and_has_its_ratios() -> None:
    """ISO 22400-2: quality ratio GQ/PQ, scrap ratio SQ/PQ, rework ratio RQ/PQ; here 1, 0 and 1 of 3 at op 30."""
    bench = half_done()

    found = {one.op: one for one in list_op_outcomes(bench.state)}
    text = write_close_out(bench.state, bench.clock(), "h" * 64)

    to_come_back = {one.op: one.produced - one.good - one.scrap - one.hold for one in found.values()}
    assert to_come_back == {op: int(op == 30) for op in found}, "what is still in rework is neither good nor lost"
    assert (found[10].produced, found[10].good, found[10].scrap) == (12, 11, 1)
    assert (found[30].good, found[30].rework, found[30].hold) == (1, 1, 1)
    assert re.search(r"30  Cut free +3 +1 +0 +1 +1\n", text)
    assert re.search(r"30 +33.3 % +0.0 % +33.3 % +33.3 % +100.0 %", text)
    assert re.search(r"10 +91.7 % +8.3 % +0.0 % +91.7 % +100.0 % +8.3 %\n", text)
    assert "rolled throughput yield 30.6 % (our addition" in text, "11/12 x 7/7 x 1/3; no name of the standard"
    assert all(count_cells(line) <= WIDTH for line in text.splitlines())


def test_a_piece_reworked_to_good_is_made_once_reworked_once_and_good_once() -> None:
    """ISO 22400-2: rework quantity and good quantity; a piece is not produced twice."""
    bench = open_bench(order=4, start=4)
    load = bench.form(10)
    bench.through(load, 10)
    bench.through(load, 20)
    bench.through(load, 30, marks=(MarkedPieces("bare", ("A1",)),))
    bench.through(load, 20)
    bench.through(load, 30)

    at = {one.op: one for one in list_op_outcomes(bench.state)}[30]

    assert (at.produced, at.good, at.rework, at.first_pass, at.scrap) == (4, 4, 1, 3, 0)


def test_scrap_of_a_later_operation_is_set_against_what_was_started() -> None:
    """ISO 22400-2: fall off ratio, SQ / PQ of the first operation; here 1 of 4 started, of 2 produced at op 30."""
    bench = open_bench(order=4, start=4)
    load = bench.form(10)
    bench.through(load, 10, marks=(MarkedPieces("deep", ("A1", "A2")),))
    bench.through(load, 20)
    bench.through(load, 30, marks=(MarkedPieces("soft", ("B1",)),))
    [held] = bench.state.held()
    bench.say(Dispose((held,), "scrap", "coat comes off"), "LL")

    text = write_close_out(bench.state, bench.clock(), "h" * 64)

    assert re.search(r"30 +50.0 % +50.0 % .* 25.0 %\n", text)


def test_losses_are_kept_by_operation_found_and_caused_and_by_position() -> None:
    bench = half_done()
    bench.say(Dispose(tuple(bench.state.held()), "scrap", "coat comes off"), "LL")

    found = count_losses(bench.state)

    assert found[Loss("scrap", 10, "deep", 10, "B2")] == 1
    assert found[Loss("rework", 30, "bare", None, "A1")] == 1
    assert found[Loss("hold", 30, "soft", 20, "A2")] == 1
    assert found[Loss("scrap", 30, "soft", 20, "A2")] == 1, "decided on later, with the same cause and place"
    assert found[Loss("scrap", 20, "dropped on the floor", None, "A1")] == 1
    assert sum(many for loss, many in found.items() if loss.to == "scrap") == bench.state.total("scrap")


def test_what_was_regraded_is_named_and_is_neither_scrap_nor_good() -> None:
    """REC-16: who decided what on which piece. ISO 22400-2: scrap is scrapped or recycled; the report says so."""
    bench = half_done()
    assert "Repaired, regraded, returned" not in write_close_out(bench.state, bench.clock(), "h" * 64)
    bench.say(TakeOff(tuple(bench.state.held())))
    bench.say(Dispose(tuple(bench.state.held()), "regrade", "coat comes off", to="B stock"), "LL")

    text = " ".join(write_close_out(bench.state, bench.clock(), "h" * 64).split())

    assert "1 held piece: regrade B stock, coat comes off" in text
    assert "1 regraded" in text
    assert "pieces regraded or returned are neither scrap nor good" in text
    lost = bench.state.total("scrap") + 1
    assert f"{lost} scrapped or regraded and" in text


def test_it_names_waivers_lots_people_and_the_head_of_the_record() -> None:
    bench = half_done()

    text = write_close_out(bench.state, bench.clock(), "f" * 64, {"AA": "Arne Aas"})

    assert "f" * 64 in text
    assert "waived 2026-03-02 20:26 by LL" in " ".join(text.split())
    assert "bar stock: lot 10-01A, in 12 pieces" in text
    assert "AA Arne Aas: op 10, 20, 30" in text
    assert "NOT CLOSED" in text
    assert "by position: A1 1, B2 1" in text


def test_a_second_measurement_is_named_though_its_chart_tells_nothing() -> None:
    bench = open_bench()
    load = bench.form(10)
    bench.until(load, "measured 1")
    seq = bench.prove(load, "measured 1", value=[3.2, 3.0]).seq
    bench.say(measure_again(bench.state, seq, "3.05", "burr"))
    text = " ".join(write_close_out(bench.state, bench.clock(), "h" * 64).split())
    assert "op 10 groove depth: 1 measured again, the last reading counts: load 1 A1 3.05 (first 3.2)" in text


def test_without_data_there_is_no_figure() -> None:
    bench = open_bench()

    text = write_close_out(bench.state, bench.clock(), "h" * 64)

    assert "0.0 %" not in text
    assert "none recorded" in text


def test_every_figure_has_its_name_formula_inputs_and_period() -> None:
    """ISO 22400-2, structure of a key figure; the inputs are the quantities of the table above it."""
    bench = half_done()

    text = " ".join(write_close_out(bench.state, bench.clock(), "h" * 64).split())

    figures = ("quality ratio GQ/PQ", "scrap ratio SQ/PQ", "rework ratio RQ/PQ", "first pass yield GP/IP")
    for figure in (*figures, "fall off ratio SQ/PQ, with PQ of the first operation", "throughput rate PQ/AOET"):
        assert figure in text, figure
    assert "op operation produced good scrap rework hold" in text
    assert re.search(r"Opened 2026-03-02 \d\d:\d\d .* NOT CLOSED: the batch as it stands", text)
    assert re.search(r"\d+ finished in [\d.]+ h from opening", text)


def test_throughput_is_that_of_the_key_figures_page() -> None:
    """PQ of ISO 22400-2 is what was produced, scrap too: one of four lost, so all four over the time."""
    bench = open_bench(order=3, start=4)
    bench.through(bench.form(10), 10, marks=(MarkedPieces("deep", count=1),))
    now = bench.clock()
    whole = compute_time_elements(bench.state, ONE_SHIFT.calendar, now.at).whole

    text = " ".join(write_close_out(bench.state, now, "h" * 64).split())
    said = format_key_figure(THROUGHPUT, whole.amounts)
    assert f"throughput rate PQ/AOET {said.removesuffix('/h')} pieces an hour: 1 scrapped and 0 finished in" in text


def test_a_clock_set_back_past_the_opening_leaves_the_report_whole() -> None:
    """No time has passed then, so nothing is known per hour."""
    bench = open_bench()
    bench.form(10)
    bench.clock.step(-7200)
    text = write_close_out(bench.state, bench.clock(), "0" * 64)
    assert "throughput rate PQ/AOET n/a: 0 finished in 0.0 h from opening" in text


def test_first_pass_yield_is_an_estimate_from_where_pieces_lie_loose() -> None:
    """ISO 22400-2: first pass yield needs pieces that are identified; in the tote of op 50 they are not."""
    bench = open_bench(order=4, start=4)
    load = bench.form(10)
    bench.through(load, 10, 20, 30)
    for op in (40, 50):
        bench.through(bench.form(op), op)

    text = write_close_out(bench.state, bench.clock(), "h" * 64)

    assert re.search(r"40 +100.0 % +0.0 % +0.0 % +100.0 %", text)
    assert re.search(r"50 +100.0 % +0.0 % +0.0 % +~100.0 %", text)
    hours = (bench.clock().at - bench.state.opened).total_seconds() / 3600
    said = f"throughput rate PQ/AOET {4 / hours:.2f} pieces an hour: 4 finished in {hours:.1f} h"
    assert said in " ".join(text.split())


def test_a_soak_that_was_too_hot_is_in_the_report_waived_or_struck() -> None:
    bench, tray = in_the_oven()
    prove(bench, tray, *every(10, 0, 30), (40, 190), *every(10, 50, 90))
    said = write_close_out(bench.state, bench.clock(), "")
    assert "highest 190 degC; not accepted" in " ".join(said.split())
    bench.say(Waive(bench.run_of(tray).number, LINE, "chart misread"), by="LL")
    said = " ".join(write_close_out(bench.state, bench.clock(), "").split())
    assert "highest 190 degC; waived by LL: chart misread" in said
    proved = next(entry for entry in bench.state.entries if entry.body.get("gate") == "soaked")
    bench.say(StrikeOut(bench.state.entries[-1].seq, "wrong line"), by="LL")
    bench.say(StrikeOut(proved.seq, "wrong chart"), by="LL")
    assert "wrong chart (LL)" in " ".join(write_close_out(bench.state, bench.clock(), "").split())


def test_key_figures_about_time_have_formula_inputs_period_and_hours() -> None:
    """ISO 22400-2: the definitions are those of the screens (`floor.figures.key_figures`)."""
    bench = half_done()

    text = " ".join(write_close_out(bench.state, bench.clock(), "h" * 64, calendar=ONE_SHIFT.calendar).split())

    assert f"The whole batch, 07:00 to 20:26, by shop hours in {ZONE}; 6 runs Left out: 1 still under way" in text
    for figure in TIME_FIGURES:
        assert re.search(rf"{figure.name} [\d.]+ % = {re.escape(figure.formula)} = ", text), figure.name
    assert "worker efficiency" not in text
    assert "about time" not in write_close_out(bench.state, bench.clock(), "h" * 64), "without the hours it has none"


def test_the_cost_is_in_it_where_the_shop_has_rates() -> None:
    bench = half_done()
    rates = CostRates("EUR", 38.0, {"mill": 45.0})
    elements = compute_time_elements(bench.state, ONE_SHIFT.calendar, bench.clock().at)
    costs = compute_costs(bench.state, elements, rates)
    assert costs is not None

    text = write_close_out(bench.state, bench.clock(), "h" * 64, calendar=ONE_SHIFT.calendar, rates=rates)

    assert f"Cost so far {costs.total:,.2f} EUR" in text
    assert "Cost so far" not in write_close_out(bench.state, bench.clock(), "h" * 64, calendar=ONE_SHIFT.calendar)


def test_it_says_what_is_sure_of_the_losses_and_charts_what_tells_something() -> None:
    bench = open_bench(order=4, start=8)
    first = bench.form(10)
    bench.until(first, "measured 1")
    quiet = write_close_out(bench.state, bench.clock(), "h" * 64)
    bench.prove(first, "measured 1", value=["3.02", "2.98"])
    bench.until(first, "count")
    calm = write_close_out(bench.state, bench.clock(), "h" * 64)
    second = bench.form(10)
    bench.through(first, 10)
    bench.until(second, "measured 1")
    bench.prove(second, "measured 1", value=["3.02", "3.45"])
    text = write_close_out(bench.state, bench.clock(), "h" * 64)

    assert "Nothing has been counted yet" in quiet
    assert "out of control: 0 of 1" in calm
    assert "out of control: 1 of 1" in text
    assert "op 10 groove depth: 4 values on 2 loads" in text
    assert "No piece lost of 4 pieces counted, each once" in text
    assert "1 of 4 out of limits" in text
    assert all(count_cells(line) <= WIDTH for line in text.splitlines())
