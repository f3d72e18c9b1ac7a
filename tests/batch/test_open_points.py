"""What keeps a batch open is known by its kind, whatever a person wrote about it."""

from __future__ import annotations

from typing import get_args

from floor.batch.lifecycle.commands import OpenPoint, PointKind, open_points
from tests.batch.factory import open_bench


def test_every_kind_has_words_of_its_own() -> None:
    said = [str(OpenPoint(kind, "this")) for kind in get_args(PointKind)]

    assert len(set(said)) == len(said)
    assert all("this" in words for kind, words in zip(get_args(PointKind), said, strict=True) if kind != "handover")


def test_a_subject_is_shown_as_written() -> None:
    assert str(OpenPoint("question", "is {} right: waiver open?")) == "question open: is {} right: waiver open?"


def test_pieces_that_wait_keep_a_batch_open() -> None:
    assert [(point.kind, point.subject) for point in open_points(open_bench().state)] == [("waiting", "8")]
