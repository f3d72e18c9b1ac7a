"""A batch that is closed or was sent takes no more work: every command says so first."""

from __future__ import annotations

from dataclasses import MISSING, fields
from importlib import import_module
from pkgutil import walk_packages
from typing import Any, get_type_hints

import pytest

from floor import batch
from floor.batch.command import Command
from floor.batch.corrections.commands import Note, StrikeTold
from floor.batch.handover.commands import (
    AcceptHandover,
    AnswerQuestion,
    AskQuestion,
    CountSubjectPieces,
    ReadBackLine,
    ReadHandoverPage,
    ResolveDifference,
    WithdrawHandover,
)
from floor.batch.lifecycle.commands import CloseBatch, SetPiecesAside
from floor.batch.lifecycle.transfer import TakeInBatch, TransferBatch
from floor.batch.stations.commands import TakeDown, WearTools
from floor.batch.walk.commands import Release
from tests.batch.factory import MORNING, Bench, open_bench

ELSEWHERE = {TakeInBatch, TakeDown, WearTools, StrikeTold}
"""What brings it back, and what other batches tell, which skips batches that take no more work."""
SAID = {
    Note,
    WithdrawHandover,
    ReadHandoverPage,
    CountSubjectPieces,
    ReadBackLine,
    AskQuestion,
    AnswerQuestion,
    AcceptHandover,
    ResolveDifference,
}
"""What is no work at a station; for these the shop alone asks, as it does before each command."""


def all_commands() -> list[type[Command]]:
    modules = [import_module(module.name) for module in walk_packages(batch.__path__, "floor.batch.")]
    found = {one for module in modules for one in vars(module).values() if isinstance(one, type)}
    work = [one for one in found if callable(vars(one).get("decide")) and one not in {Command, *ELSEWHERE, *SAID}]
    return sorted(work, key=lambda one: one.__name__)


def made_up(command: type[Any]) -> Command:
    """The command with something in each required field."""
    some = {"int": 1, "str": "touch up", "float": 1.0, "datetime": MORNING, "Act": Release(1)}
    types = get_type_hints(command)
    given: dict[str, Any] = {}
    for field in fields(command):
        if field.default is MISSING and field.default_factory is MISSING:
            kind = types[field.name]
            given[field.name] = some.get(getattr(kind, "__name__", ""), some.get(str(field.type), ()))
    made: Command = command(**given)
    return made


@pytest.fixture
def over() -> Bench:
    """A load under way, and the batch sent away."""
    bench = open_bench()
    bench.begin(bench.form(10))
    bench.say(TransferBatch("the other shop"), "LL")
    return bench


@pytest.mark.parametrize("command", all_commands(), ids=lambda command: command.__name__)
def test_what_has_gone_over_takes_no_more_work(over: Bench, command: type[Command]) -> None:
    refused = over.refused(made_up(command), "LL")
    assert (refused.why, refused.wrong) == ("closed", "batch B0001 was transferred to the other shop")


@pytest.mark.parametrize("command", all_commands(), ids=lambda command: command.__name__)
def test_nor_does_what_is_closed(command: type[Command]) -> None:
    bench = open_bench(start=1)
    bench.say(SetPiecesAside("scrap", "cracked", op=10, count=1))
    bench.say(CloseBatch("nothing is left"), "LL")

    refused = bench.refused(made_up(command), "LL")

    assert (refused.why, refused.wrong) == ("closed", "batch B0001 is closed")
