"""An order as it was typed: read, or what is wrong with it."""

from __future__ import annotations

from datetime import date
from typing import NamedTuple

from floor.batch.lifecycle.commands import order_faults
from floor.checklist.expected_yields import NO_TESTS, TestPieces, list_operation_yields, read_test_pieces
from floor.checklist.model import Checklist
from floor.figures.errors import Impossible
from floor.screens.forms.fields import Values, parse_number
from floor.text import join_sentences


class Order(NamedTuple):
    """What a batch is opened for."""

    ordered: int
    start: int
    due: date | None
    reference: str
    tests: TestPieces = NO_TESTS


def read_order(values: Values) -> Order:
    """The order that was typed, in which no fault was found."""
    order, start, due = int(values["order"]), int(values["start"]), read_day(values["due"])
    return Order(order, start, due, values["reference"], read_test_pieces(values["tests"]))


def find_order_faults(checklist: Checklist, values: Values, today: date) -> dict[str, str]:
    """What is wrong, by the fields of the form."""
    no_date = find_date_fault(values["due"])
    order, start, due = parse_number(values["order"]), parse_number(values["start"]), read_day(values["due"])
    wrong = find_tests_fault(checklist, values["tests"])
    tests = NO_TESTS if wrong else read_test_pieces(values["tests"])
    return (
        ({"due": no_date} if no_date else {})
        | {field: str(fault) for field, fault in order_faults(order, start, due, today, tests).items()}
        | ({"tests": wrong} if wrong else {})
    )


def read_day(text: str) -> date | None:
    """The day that was typed; None for anything else."""
    try:
        return date.fromisoformat(text.strip())
    except ValueError:
        return None


def find_date_fault(text: str) -> str:
    """Why a due date cannot be read; empty where it can, or there is none."""
    text = text.strip()
    if not text or read_day(text) is not None:
        return ""
    return f"{text[:20]} is not a date. Write it like 2027-01-31, or leave it empty."


def find_tests_fault(checklist: Checklist, text: str) -> str:
    """Why what is used up in tests cannot be read or done; empty if it can."""
    try:
        list_operation_yields(checklist, read_test_pieces(text))
    except (Impossible, ValueError) as error:
        return join_sentences(str(error))
    return ""
