"""Reading a file for a screen: at once where it is small and quick, else behind a dialog that loses no answer."""

from __future__ import annotations

from collections.abc import Callable
from threading import Event

from floor.batch.command import Refused
from floor.screens.forms.dialogs import ConfirmDialog
from floor.screens.frame import file_reading
from floor.screens.frame.file_reading import ReadingDialog, read_at_once, read_file
from tests.screens.operator import Place, said
from tests.screens.test_walk_screen import on_walk

Progress = Callable[[float], None]


def test_a_large_file_is_not_tried_at_once() -> None:
    """Its first look alone may take longer than a key may wait."""
    tried: list[int] = []
    assert read_at_once(file_reading.SMALL + 1, lambda progress: tried.append(1)) is None
    assert tried == []
    assert read_at_once(file_reading.SMALL, lambda progress: "read") == "read"


def test_what_takes_longer_is_left_at_the_next_sign_of_life() -> None:
    def slow(progress: Progress) -> str:
        while True:
            progress(0.5)

    assert read_at_once(1, slow) is None


async def test_an_answer_that_comes_behind_another_question_is_kept(place: Place) -> None:
    run, go_on, told = place.at(place.load(), "Probe G54 X Z"), Event(), []

    def read(progress: Progress) -> str:
        go_on.wait(10)
        return "read"

    async with on_walk(place, run) as (app, keys, pilot):
        read_file(app.screen, "big.csv", file_reading.SMALL + 1, read, told.append)
        await keys.until(lambda: isinstance(app.screen, ReadingDialog), "the dialog")
        app.push_screen(ConfirmDialog("Quit?"))
        go_on.set()
        await pilot.pause(0.3)
        assert told == []
        await pilot.press("escape")
        await keys.until(lambda: told == ["read"], "the answer")


async def test_a_fault_of_the_reader_is_a_refusal_and_ends_nothing(place: Place) -> None:
    run = place.at(place.load(), "Probe G54 X Z")

    def read(progress: Progress) -> str:
        raise ZeroDivisionError

    async with on_walk(place, run) as (app, keys, pilot):
        read_file(app.screen, "big.csv", file_reading.SMALL + 1, read, lambda _: None)
        await keys.until(lambda: "cannot be read (ZeroDivisionError)" in said(app), "the refusal")
        assert app.is_running


async def test_escape_stops_the_thread_that_reads(place: Place) -> None:
    run, stopped, told = place.at(place.load(), "Probe G54 X Z"), Event(), []

    def read(progress: Progress) -> str:
        try:
            while True:
                progress(0.1)
        except file_reading.ReadingStopped:
            stopped.set()
            raise

    async with on_walk(place, run) as (app, keys, pilot):
        read_file(app.screen, "big.csv", file_reading.SMALL + 1, read, told.append)
        await keys.until(lambda: isinstance(app.screen, ReadingDialog), "the dialog")
        await pilot.press("escape")
        await keys.until(stopped.is_set, "the thread to end")
        assert told == []


async def test_a_refusal_is_said_or_given_to_who_asked(place: Place) -> None:
    run, refused = place.at(place.load(), "Probe G54 X Z"), []

    def read(progress: Progress) -> str:
        raise Refused("gate", "it is torn", "copy it again")

    async with on_walk(place, run) as (app, keys, pilot):
        read_file(app.screen, "a.csv", 1, read, lambda _: None)
        assert said(app) == "✕ It is torn. Copy it again."
        read_file(app.screen, "a.csv", 1, read, lambda _: None, refused.append)
        assert [one.wrong for one in refused] == ["it is torn"]
