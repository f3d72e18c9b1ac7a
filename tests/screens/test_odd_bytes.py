"""Bytes from the keyboard that are not text, as from a keyboard with another character set."""

from __future__ import annotations

import os
import signal
import sys

import pytest
from textual import events
from textual.message import Message

from floor.app import FloorApp
from floor.screens.frame.terminal import LossTolerantDriver
from tests.screens.operator import Place


async def test_a_byte_that_is_no_text_is_one_odd_character_and_the_keys_around_it_are_taken(
    place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    signals = {number: signal.getsignal(number) for number in (signal.SIGTSTP, signal.SIGCONT)}
    end, keyboard = os.pipe()
    typed: list[str | None] = []
    try:
        with os.fdopen(end) as stdin:
            monkeypatch.setattr(sys, "__stdin__", stdin)
            terminal = LossTolerantDriver(FloorApp(place.shop, ticking=False))

            def take(message: Message) -> None:
                if isinstance(message, events.Key):
                    typed.append(message.character)
                    if message.character == "x":
                        terminal.exit_event.set()

            monkeypatch.setattr(terminal, "process_message", take)
            os.write(keyboard, "aä".encode() + b"b\xe4x")
            terminal.run_input_thread()
    finally:
        os.close(keyboard)
        for number, handler in signals.items():
            signal.signal(number, handler)
    assert typed == ["a", "ä", "b", "\N{REPLACEMENT CHARACTER}", "x"]
