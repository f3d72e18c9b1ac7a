"""One reason has one letter in the whole batch, and no two beside each other share one."""

from __future__ import annotations

import string
from dataclasses import replace

import pytest

from floor.checklist.model import Checklist
from floor.checklist.operation import Reason
from floor.checklist.reason_letters import assign_reason_letters
from tests.batch.factory import part, thermal_break


def with_reasons(*codes: str) -> Checklist:
    """The test part with these reasons, by their first letters, at its operations one after the other."""
    plain = part()
    reasons = [tuple(Reason(code=code, text=code) for code in one.split()) for one in codes]
    pairs = zip(plain.operations, [*reasons, *[()] * len(plain.operations)], strict=False)
    return replace(plain, operations=tuple(replace(one, reasons=those) for one, those in pairs))


@pytest.mark.parametrize("checklist", [part, thermal_break])
def test_no_two_reasons_of_an_operation_share_a_letter(checklist: object) -> None:
    made: Checklist = checklist()  # type: ignore[operator]
    letters = assign_reason_letters(made)
    for operation in made.operations:
        here = [letters[reason.code] for reason in operation.reasons]
        assert len(set(here)) == len(here)


def test_a_reason_keeps_its_letter_where_it_stands_in_another_order() -> None:
    letters = assign_reason_letters(with_reasons("deep bent other", "other thin bent", "cold"))

    assert letters == {"deep": "a", "bent": "b", "other": "c", "thin": "a", "cold": "a"}


def test_more_than_the_alphabet_has_no_letter() -> None:
    many = [f"r{n}" for n in range(28)]

    letters = assign_reason_letters(with_reasons(" ".join(many)))

    assert [letters.get(code) for code in many] == [*string.ascii_lowercase, None, None]
