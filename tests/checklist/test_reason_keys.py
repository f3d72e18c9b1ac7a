"""One reason has one key in the whole batch, and no two beside each other share one."""

from __future__ import annotations

import string
from dataclasses import replace

import pytest

from floor.checklist.model import Checklist
from floor.checklist.operation import Reason
from floor.checklist.reason_keys import assign_reason_keys
from tests.batch.factory import part, thermal_break


def with_reasons(*codes: str) -> Checklist:
    """The test part with these reasons, by their first letters, at its operations one after the other."""
    plain = part()
    reasons = [tuple(Reason(code=code, text=code) for code in one.split()) for one in codes]
    pairs = zip(plain.operations, [*reasons, *[()] * len(plain.operations)], strict=False)
    return replace(plain, operations=tuple(replace(one, reasons=those) for one, those in pairs))


@pytest.mark.parametrize("checklist", [part, thermal_break])
def test_no_two_reasons_of_an_operation_share_a_key(checklist: object) -> None:
    made: Checklist = checklist()  # type: ignore[operator]
    keys = assign_reason_keys(made)
    for operation in made.operations:
        here = [keys[reason.code] for reason in operation.reasons]
        assert len(set(here)) == len(here)


def test_a_reason_keeps_its_key_where_it_stands_in_another_order() -> None:
    keys = assign_reason_keys(with_reasons("deep bent other", "other thin bent", "cold"))

    assert keys == {"deep": "1", "bent": "2", "other": "3", "thin": "1", "cold": "1"}


def test_more_than_there_are_keys_have_none() -> None:
    many = [f"r{n}" for n in range(36)]

    keys = assign_reason_keys(with_reasons(" ".join(many)))

    assert [keys.get(code) for code in many] == [*"12345678", *string.ascii_lowercase, None, None]


def test_what_has_to_be_put_in_words_has_the_same_key_everywhere() -> None:
    for checklist in (part(), thermal_break()):
        keys = assign_reason_keys(checklist)
        worded = {reason.code for one in checklist.operations for reason in one.reasons if reason.needs_note}
        assert worded
        assert "9" in {keys[code] for code in worded}
        assert all(
            keys[reason.code] != "9" for one in checklist.operations for reason in one.reasons if not reason.needs_note
        )
