"""Each key goes where it was meant: to a field, to a key of the screen, to a tag that is being scanned, or nowhere."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from typing import Any, Protocol

from textual import events
from textual.screen import ModalScreen
from textual.widgets import Input

from floor.batch.tag import PREFIX, is_tag, may_become_tag
from floor.screens.forms.field_rows import FormInput
from floor.screens.forms.form import Form
from floor.screens.frame.app_services import Program
from floor.screens.frame.key_guard import ACTING, AT_ONCE, BURST, GAP, HELD_KEY, READ_KEY, SLOW, KeyGuard
from floor.screens.frame.screen import FloorScreen
from floor.text import LONGEST_TEXT

TAG_PAUSE = 1.0
"""Seconds after which the rest of a tag does not come any more."""
MANY = 3
"""Keys from which on a burst is one whichever they are."""
LONGEST_TAG = 200
MOST_SHOWN = 12
"""Letters shown of what nothing took."""
MOST_AT_ONCE = LONGEST_TEXT + 100
"""Letters that come into a field without a pause before the rest is left out: more than are kept, so the field refuses
them as too many; a paste that comes as keys would stop the program for as long as it takes to type it."""


class Stoppable(Protocol):
    """What a timer is started for; tests move time themselves."""

    def stop(self) -> None: ...


class KeyReader:
    """Tells a hand from a scanner, and a held key from a pressed one, before any screen sees the key."""

    def __init__(self, program: Program, guarded: bool, deliver: Callable[[events.Key], Awaitable[None]]) -> None:
        """
        Args:
            guarded: whether keys come from a hand; those of tests come faster.
            deliver: gives a key to the screen on top.
        """
        self.program = program
        self.guard = KeyGuard(GAP if guarded else 0.0)
        self.deliver = deliver
        self.set_timer: Callable[[float, Callable[[], Any]], Stoppable] = program.set_timer
        self._read: list[events.Key] = []
        """Keys in quick succession, or the one waiting to see whether another follows."""
        self._read_ends: Stoppable | None = None
        self._poured: tuple[Input | None, int, float] = None, 0, 0.0
        """Into which field letters come without a pause, how many, and when the last one came."""
        self._tag: list[events.Key] = []
        """What a scanner has typed so far of a tag."""
        self._tag_ends: Stoppable | None = None

    async def take(self, event: events.Key) -> None:
        """A field takes every key: a scanner ends its values with Enter, and an empty field confirms nothing."""
        if await self._is_of_tag(event) or self._is_of_scan(event):
            return
        if isinstance(self.program.focused, Input):
            self.guard.ignored = ""
            if not self._is_too_many(self.program.focused, event):
                await self.deliver(event)
        elif len(self._read) >= MANY:
            self._hold_back(event)  # a burst goes on: which key it is does not matter
        elif self.guard.again(event.key, event.time, self._find_action(event.key) in ACTING):
            await self.deliver(events.Key(HELD_KEY, None))
        elif self.guard.gap and (self._read or event.is_printable):
            self._hold_back(event)
        else:
            await self._give(event)

    def note_untaken(self, event: events.Key) -> None:
        """A key came back: neither a field nor a key of the screen took it."""
        if not event.is_printable or event.character is None:
            return
        self.guard.note_ignored(event.character, event.time)
        if isinstance(self.program.screen, FloorScreen):
            self.program.screen.say(describe_ignored(self.guard.ignored), wrong=True)

    async def _give(self, event: events.Key) -> None:
        """Give a key to the screen, unless it would enter what nobody meant: what was typed before it, no field took.

        So `1204` and Enter, or the label of a lot, end in no confirmation, however slowly they are typed.
        """
        ignored, screen = self.guard.ignored, self.program.screen
        acts = self._find_action(event.key) in ACTING | AT_ONCE
        self.guard.forget_ignored(event.time, event.is_printable)
        if self.guard.gap and ignored and acts and isinstance(screen, FloorScreen):
            self.guard.ignored = ""
            screen.say(f"{describe_ignored(ignored)}, nothing entered. Press again to go on", wrong=True)
        else:
            await self.deliver(event)

    def _is_too_many(self, field: Input, event: events.Key) -> bool:
        """Whether a letter belongs to more than the field keeps, and came faster than anybody types."""
        into, count, last = self._poured
        goes_on = event.is_printable and into is field and event.time - last < SLOW
        self._poured = field, count + 1 if goes_on else 0, event.time
        return self._poured[1] > MOST_AT_ONCE

    def _hold_back(self, event: events.Key) -> None:
        """A letter waits only as long as a scanner takes to send the next one."""
        self._read.append(event)
        self.guard.note_letter(event.time)
        if len(self._read) > MANY:
            return  # the timer runs again when it sees that more has come
        if self._read_ends is not None:
            self._read_ends.stop()
        at_once = isinstance(self.program.screen, ModalScreen) or self._find_action(event.key) in AT_ONCE
        self._wait_for_more(SLOW if at_once else BURST)

    def _wait_for_more(self, seconds: float) -> None:
        many = len(self._read)
        self._read_ends = self.set_timer(seconds, lambda: self._take_read(many))

    async def _take_read(self, many: int) -> None:
        """One letter was typed; several at once were scanned or pasted.

        Args:
            many: how many there were when this wait began.
        """
        if len(self._read) > many:
            self._wait_for_more(BURST)
            return
        keys, self._read = self._read, []
        await (self._give(keys[0]) if len(keys) == 1 else self.deliver(events.Key(READ_KEY, None)))

    async def _is_of_tag(self, event: events.Key) -> bool:
        """Whether a scanner types a tag of Floor; with its Enter, the screen of it opens.

        In a field, what turns out to be no tag, or comes as slowly as from a hand, is typed there after all.
        """
        field = self.program.focused if isinstance(self.program.focused, Input) else None
        if not self._tag and (event.character != PREFIX or (field is not None and field.password)):
            return False
        if self._tag_ends is not None:
            self._tag_ends.stop()
        if event.key == "enter":
            keys, self._tag = self._tag, []
            if field is None or is_tag(_spell(keys)):
                await self._take_tag(field, keys, event)
                return True
            await self._type(keys)
            return False
        if len(self._tag) < LONGEST_TAG:
            self._tag.append(event)
        if field is not None and not (event.character and may_become_tag(_spell(self._tag))):
            keys, self._tag = self._tag, []
            await self._type(keys)
            return True
        self._tag_ends = self.set_timer(TAG_PAUSE if field is None else SLOW, self._drop_tag)
        return True

    async def _take_tag(self, field: Input | None, keys: list[events.Key], enter: events.Key) -> None:
        """A whole tag was scanned: its name goes into a field that takes it, else what it is on opens."""
        from floor.screens.frame.scan import is_replaced_by_scan, open_tagged

        program, text = self.program, _spell(keys)
        form = next((one for one in field.ancestors if isinstance(one, Form)), None) if field is not None else None
        named = self._name_for(form, field, text)
        screen = program.screen
        if field is not None and named:
            field.value = named
            field.cursor_position = len(named)
            await self.deliver(enter)
        elif is_replaced_by_scan(screen):
            screen.dismiss(None)
            below = next(one for one in reversed(program.screen_stack) if isinstance(one, FloorScreen))
            program.call_later(open_tagged, below, text)
        elif isinstance(screen, FloorScreen):
            open_tagged(screen, text)
        elif form is not None and isinstance(field, FormInput):
            form.refuse_tag(field)
        elif field is not None:
            await self._type([*keys, enter])  # it reads tags by itself
        else:
            program.bell()  # a question is answered first

    def _name_for(self, form: Form | None, field: Input | None, text: str) -> str:
        """What a tag stands for in a field; empty where it is no value of it."""
        if form is None or not isinstance(field, FormInput):
            return ""
        tool_at = form.find_tool_station(field)
        return self.program.name_tagged(text, tool_at) if tool_at or not field.number else ""

    async def _type(self, keys: list[events.Key]) -> None:
        """Give keys that were held back to where they were meant for."""
        for key in keys:
            await self.deliver(key)

    async def _drop_tag(self) -> None:
        """Its end did not come: it was no tag, or was read in part."""
        keys, self._tag = self._tag, []
        if isinstance(self.program.focused, Input):
            await self._type(keys)
        elif isinstance(self.program.screen, FloorScreen):
            self.program.screen.action_read()

    def _is_of_scan(self, event: events.Key) -> bool:
        """Whether a slow scanner goes on after a letter: a question that the letter opened goes away unanswered."""
        if self._read or not (event.is_printable or event.key == "enter") or not self.guard.goes_on(event.time):
            return False
        screen = self.program.screen
        asked = isinstance(screen, ModalScreen)
        confirms = event.key == "enter" and self._find_action(event.key) in ACTING
        if not (asked or confirms or self.guard.scanning):
            return False
        self.guard.note_letter(event.time)
        self.guard.scanning, self.guard.ignored = True, ""
        if asked and screen.is_active:
            screen.dismiss(None)
        below = next((one for one in reversed(self.program.screen_stack) if isinstance(one, FloorScreen)), None)
        if below is not None:
            below.action_read()
        return True

    def _find_action(self, key: str) -> str:
        """The action of a key on the top screen, whichever key the shop's file assigns."""
        found = self.program.screen.active_bindings.get(key)
        return "" if found is None else found.binding.action.partition("(")[0].removeprefix("screen.")


def describe_ignored(letters: str) -> str:
    """What was typed where no field takes it; of much the end."""
    return f'"{letters[-MOST_SHOWN:]}" ignored: no field open'


def _spell(keys: list[events.Key]) -> str:
    return "".join(key.character or "" for key in keys)
