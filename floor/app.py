"""The terminal program: one session, one stack of screens, one tick."""

from __future__ import annotations

import asyncio
import os
import signal
import traceback
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from rich.text import Text
from textual import events, work
from textual.binding import Binding, BindingType
from textual.filter import Monochrome, NoColor

from floor.batch.command import Refused
from floor.batch.worklist.due_alarms import DueAlarms
from floor.ledger import LedgerError
from floor.screens.forms.dialogs import ConfirmDialog, is_anything_typed
from floor.screens.frame.app_services import Program
from floor.screens.frame.key_reader import KeyReader
from floor.screens.frame.news_queue import NewsQueue
from floor.screens.frame.run_in_thread import run_in_thread
from floor.screens.frame.screen import FloorScreen
from floor.screens.frame.session import Session
from floor.screens.frame.terminal import LossTolerantDriver, is_served, is_terminal_lost
from floor.screens.frame.terminal_looks import (
    choose_theme,
    fit_terminal,
    keep_colors,
    name_plainly,
    read_kept_colors,
)
from floor.screens.frame.theme import DAY, NIGHT
from floor.shop import Shop
from floor.text import format_clock

if TYPE_CHECKING:
    from rich.console import RenderableType
    from textual.screen import Screen

    from floor.screens.frame.tour import Tour


LEAST_WIDTH, LEAST_HEIGHT = 40, 16
LOOK_SECONDS = 0.25
"""Seconds between checks for entries of other terminals: one read of two bytes per open batch."""
BACKUP_AFTER = 30.0
"""Seconds after the start before the day's copy of the record is made, so it is in nobody's way."""
BACKUP_LOOK = 1800.0
"""How often an open terminal checks whether a new day's copy is due."""
SHORTEST_LEFT = 60.0
"""Seconds without a key before the shop's own time is looked up."""
TICK_LOOKS = 4
MINUTE_LOOKS = 60 * TICK_LOOKS
"""Clocks on screen move once per this many checks."""


DEMO, AGAIN = "demo", "again"
"""Results of the program: leave an empty shop for the demo; reopen."""


QUIT_ANYWAY = "Some entries are not recorded yet. Quit and lose them?"
FAULT = (
    "Floor stopped on a fault of its own. Everything you entered is on the disk: start Floor again and go on. The "
    "lines above show where it failed; keep them for whoever maintains Floor."
)


class FloorApp(Program):
    """Floor, open on one shop."""

    TITLE = "Floor"
    CSS_PATH = "screens/floor.tcss"
    ENABLE_COMMAND_PALETTE = False
    HORIZONTAL_BREAKPOINTS = FloorScreen.HORIZONTAL_BREAKPOINTS
    """Of dialogs too."""
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("ctrl+q", "quit", "Quit", show=False, priority=True, id="quit"),
        Binding("ctrl+l", "who", "Sign in", show=False, id="who", tooltip="sign in or out"),
        Binding("ctrl+t", "toggle_day", "Light, dark", show=False, id="day", tooltip="other colors"),
    ]

    def __init__(
        self,
        shop: Shop,
        who: str = "",
        ticking: bool = True,
        colors_file: Path | None = None,
        wall: bool = False,
        tour: Tour | None = None,
    ) -> None:
        """Open on a shop.

        Args:
            who: initials of the person signed in at the start, for the demo.
            ticking: tests move time themselves and switch the tick off; their keys come faster than a hand's.
            colors_file: keeps which colors this person chose last.
            wall: begin with the view for a screen on the wall.
            tour: of the demo, to be taken from the first screen on.
        """
        super().__init__(driver_class=None if is_served(os.environ) else LossTolerantDriver)
        self.session = Session(shop, who)
        self.wall = wall
        self.tour = tour
        if tour is not None:
            self.bind("f10", "skip_step", show=False)
            self.bind("f12", "end_tour", show=False)
        self.ticking = ticking
        self.going = False
        """Whether the program is about to end; no screen shows anything more."""
        self.key_reader = KeyReader(self, guarded=ticking, deliver=super().on_event)
        self.news = NewsQueue()
        self.ended_by = 0
        """Number of the signal that ended the program; 0 if a person did."""
        self._looks = 0
        self._touched = self.session.now().up
        """When a key was last pressed, in seconds by the clock that nobody can set."""
        self.alarms = DueAlarms()

        self.register_theme(NIGHT)
        self.register_theme(DAY)
        self.colors_file = colors_file
        self.theme = choose_theme(os.environ, read_kept_colors(colors_file))
        self.stylesheet.set_variables(self.get_css_variables())
        self._styled = False
        """Whether the styles have been read once, in the colors that the program starts with."""

    def _fit_terminal(self) -> None:
        """Signs and colors that the terminal has; Textual's own filter for NO_COLOR would still send grays."""
        kept = [one for one in self._filters if not isinstance(one, Monochrome | NoColor)]
        seen_by = None if self.is_headless else self.console.color_system
        self._filters = [*kept, *fit_terminal(os.environ, seen_by, self.is_headless)]

    def get_key_display(self, binding: Binding) -> str:
        return name_plainly(super().get_key_display(binding), os.environ, self.is_headless)

    def get_theme_variable_defaults(self) -> dict[str, str]:
        """The styles are read once before a theme is set; they name these."""
        return NIGHT.variables

    def get_default_screen(self) -> Screen[None]:
        """The opening screen is the bottom of the stack: no blank one is drawn before it."""
        from floor.screens.shop.what_next import NextScreen

        return NextScreen(self.session)

    def refresh_css(self, animate: bool = True) -> None:
        """Read all styles again in other colors; at the start they were read in these a moment ago."""
        if self._styled:
            super().refresh_css(animate)
        self._styled = True

    def on_mount(self) -> None:
        self._fit_terminal()
        if self.ticking:
            self.install_signal_handlers()
            self.set_interval(LOOK_SECONDS, self.look)
            self.set_timer(BACKUP_AFTER, self.back_up)
            self.set_interval(BACKUP_LOOK, self.back_up)
        self.apply_key_map()
        if self.wall:
            from floor.screens.shop.wall import WallScreen

            self.push_screen(WallScreen(self.session))
        for trouble in self.session.shop.troubles:
            self.trouble(trouble, "The record")
        self.session.shop.troubles.clear()
        self.run_worker(self._check_settings())

    async def _check_settings(self) -> None:
        """Report all that is wrong in the shop's file at once; it is read beside the first screen, as it takes time."""
        from floor.shop.settings import FILE

        shop = self.session.shop
        if not (shop.folder / FILE).exists():
            return
        from floor.shop.load_settings import describe_wrong_settings

        until_right = [one for each in shop.until_right.values() for one in each]
        wrong = await run_in_thread(describe_wrong_settings, shop.folder, self.session.now().at, until_right)
        if wrong:
            self.trouble(wrong, f"Settings in {FILE}")

    def apply_key_map(self) -> None:
        """Apply the keys in the shop's file; if they cannot be used, the usual ones stay, and that is reported."""
        from floor.shop.load_settings import load_keys
        from floor.shop.settings import SettingsError

        folder = self.session.shop.folder
        try:
            asked = load_keys(folder, self.session.now().at)
        except SettingsError:  # reported with all else that is wrong in the file
            return
        try:
            if asked:
                from floor.screens.frame.key_map import build_key_map

                self.set_keymap(build_key_map(asked, folder, self.BINDINGS))
        except SettingsError as wrong:
            self.trouble(str(wrong), "The keys")

    def on_resize(self, event: events.Resize) -> None:
        from floor.screens.frame.too_small import TooSmall

        small = event.size.width < LEAST_WIDTH or event.size.height < LEAST_HEIGHT
        if small and not any(isinstance(screen, TooSmall) for screen in self.screen_stack):
            self.push_screen(TooSmall(LEAST_WIDTH, LEAST_HEIGHT))
        elif not small and isinstance(self.screen, TooSmall):  # beneath a dialog it goes when the dialog does
            self.pop_screen()

    async def on_event(self, event: events.Event) -> None:
        """Let the reader of keys see each key first; those of fields are posted again, and come a second time."""
        if isinstance(event, events.Key | events.MouseDown | events.Paste):
            self._touched = self.session.now().up
        if not isinstance(event, events.Key):
            await super().on_event(event)
            return
        if self.focused is not None and not self.focused.is_attached:
            self.screen.set_focus(None)  # a field removed before it got the focus answers no key
        if event.is_forwarded:
            if (
                self.screen.is_mounted
            ):  # else it was for the previous screen; nobody has seen what it would do on this one
                await super().on_event(event)
            return
        if isinstance(self.screen, FloorScreen):
            self.screen.clear_reply()
        await self.key_reader.take(event)

    def on_key(self, event: events.Key) -> None:
        """A key comes here from the screen that it was given to; what is no key there, nothing took."""
        if event.key not in self.screen.active_bindings:
            self.key_reader.note_untaken(event)

    def install_signal_handlers(self) -> None:
        """Exit cleanly on a signal, and leave the terminal as it was."""
        for number in (signal.SIGTERM, signal.SIGHUP):
            asyncio.get_running_loop().add_signal_handler(number, self.exit_on_signal, number)
        if is_terminal_lost():  # before anybody listened: if the signal is ignored, as under nohup, no other comes
            self.call_after_refresh(self.exit_on_signal, signal.SIGHUP)

    async def action_quit(self) -> None:
        """Exit; where something typed or marked is not recorded yet, ask once. Pressed again, it is meant."""
        asked = isinstance(self.screen, ConfirmDialog) and self.screen.question == QUIT_ANYWAY
        if asked or not self._is_unrecorded():
            self.exit()
        else:
            self.push_screen(ConfirmDialog(QUIT_ANYWAY), lambda yes: self.exit() if yes else None)

    def action_skip_step(self) -> None:
        """On to the next step of the tour."""
        if self.tour is not None:
            self.tour.skip()
            self.update_screens()

    def action_end_tour(self) -> None:
        if self.tour is not None:
            self.tour.end()
            self.update_screens()

    def action_help_quit(self) -> None:
        """Ctrl+C, which stops other programs, says here which key does."""
        self.mention(["Ctrl+Q quits; the record is safe on the disk"])

    def _is_unrecorded(self) -> bool:
        """Whether a form or a count stands open with something that is in no record."""
        marked = (screen.is_unrecorded for screen in self.screen_stack if isinstance(screen, FloorScreen))
        return any(map(is_anything_typed, self.screen_stack)) or any(marked)

    def exit_on_signal(self, number: int) -> None:
        """Exit because the machine or service says so; nothing entered is lost, it is all on the disk."""
        self.ended_by, self.going = number, True
        self.exit()

    def _fatal_error(self) -> None:
        """Stop on a fault of the program: report it, and what is safe.

        Textual's own handler prints the value of every variable. With a whole shop and its plan that takes minutes, and
        no key works meanwhile.
        """
        self.panic(Text(traceback.format_exc()))

    def panic(self, *renderables: RenderableType) -> None:
        """Stop on a fault anywhere; the keyboard reader comes here directly, without setting a status."""
        self._return_code = 1
        super().panic(*renderables, Text(f"\n{FAULT}"))

    # --- time and other terminals ------------------------------------------------------------------------------

    def look(self) -> None:
        """Check for entries of other terminals; once a second move the clocks."""
        self._looks += 1
        news = self.session.shop.refresh()
        if self.reopen_if_replaced():
            return
        if self._looks % MINUTE_LOOKS == 0:
            self.sign_out_if_left()
        if self.session.shop.troubles:
            self.news.add(self.session.shop.troubles)
            self.session.shop.troubles.clear()
        if news:
            self.update_screens(by_others=True)
        elif self._looks % TICK_LOOKS == 0:
            self.advance_clocks()

    def sign_out_if_left(self) -> None:
        """Nobody's entry goes in the name of who left the terminal: after a while without a key they are signed out."""
        who, idle = self.session.who, self.session.now().up - self._touched
        if not who or idle < SHORTEST_LEFT:
            return
        from floor.shop.load_settings import load_settings
        from floor.shop.settings import SIGN_OUT_MINUTES, SettingsError

        try:
            minutes = load_settings(self.session.shop.folder, self.session.now().at).sign_out_minutes
        except SettingsError:  # its other readers report it
            minutes = SIGN_OUT_MINUTES
        if minutes and idle >= 60 * minutes:
            self.session.sign_out()
            self.mention([f"{who} signed out: no key pressed for {minutes} min"])

    def advance_clocks(self) -> None:
        """Move the clocks on screen, and report what has become due."""
        self.announce_due()
        self.update_screens()

    def reopen_if_replaced(self) -> bool:
        """Whether the record was swapped: then the program reopens on it, and says so.

        No screen is left showing what is no longer there.
        """
        shop = self.session.shop
        if shop.replaced:
            shop.troubles[:0] = shop.replaced
            shop.replaced.clear()
            self.going = True
            self.exit(AGAIN)
        return self.going

    def update_screens(self, by_others: bool = False) -> None:
        """Update the top screen, even behind a dialog.

        Args:
            by_others: whether other terminals made entries.
        """
        on_top = next((one for one in reversed(self.screen_stack) if isinstance(one, FloorScreen)), None)
        if on_top is not None and on_top.is_mounted:  # one that comes up shows the newest state
            if by_others:
                on_top.update_for_others()
            else:
                on_top.update_all()

    def announce_due(self) -> None:
        """Ring and report what has become ready since the last check, and which window is about to close: once each."""
        now = self.session.now()
        news = self.alarms.list_news(self.session.due(), now.at)
        if news:
            self.tell(news)

    def tell(self, news: Sequence[str]) -> None:
        """News a person must act on: one bell, and a line that takes no focus and covers nothing."""
        self.bell()
        self.mention(news)

    def mention(self, news: Sequence[str], to: str = "") -> None:
        """News without a bell, for everybody or for one person."""
        self.news.add(news, to)
        self.update_screens()

    @work(thread=True, exclusive=True, group="backup", exit_on_error=False)
    def back_up(self) -> None:
        """Make the day's verified copy of the record, if no terminal has yet; report what goes wrong."""
        from floor.shop.maintenance import is_backup_due, make_backup

        shop = self.session.shop
        try:
            if is_backup_due(shop, shop.now().at):
                make_backup(shop)
        except (LedgerError, OSError) as error:
            self.call_from_thread(self.tell, [f"Backup failed: {error}"])

    # --- getting about -----------------------------------------------------------------------------------------

    def go(self, screen: Screen[None]) -> None:
        self.push_screen(screen)

    def leave(self, screen: Screen[None]) -> None:
        """Back to the screen before; the opening screen stays."""
        if self.screen is screen and len(self.screen_stack) > 1:
            self.pop_screen()

    def take_away(self, screen: Screen[None], why: str, wrong: bool = True) -> None:
        """Leave a screen whose subject is gone, and say so on the one before.

        Dialogs in front of it have lost their subject; they go with it, unanswered.
        """
        from floor.screens.frame.too_small import TooSmall

        if screen not in self.screen_stack[1:]:
            return  # it is already leaving
        above = self.screen_stack[self.screen_stack.index(screen) + 1 :]
        if any(isinstance(one, FloorScreen | TooSmall) for one in above):
            return  # it leaves when somebody comes back to it
        while screen in self.screen_stack:
            self.pop_screen()
        if isinstance(self.screen, FloorScreen):
            self.screen.say(why, wrong)

    def go_batch(self, id: str) -> None:
        from floor.screens.batch.screen import BatchScreen

        try:
            self.push_screen(BatchScreen(self.session, id))
        except Refused as refused:
            self.trouble(str(refused))

    def go_walk(self, id: str, run: int) -> None:
        from floor.screens.walk.screen import WalkScreen

        self.push_screen(WalkScreen(self.session, id, run))

    def find_anything(self, screen: Screen[None]) -> None:
        """Anything in the shop by its name opens from this screen; what a key does there is done."""
        assert isinstance(screen, FloorScreen), "the others have no such key"
        from floor.screens.frame.find import FindDialog, Found
        from floor.screens.frame.scan import open_place

        def chosen(found: Found | None) -> None:
            if isinstance(found, str):
                screen.call_later(screen.run_action, found)
            elif found is not None:
                open_place(screen, found)

        self.push_screen(FindDialog(screen), chosen)

    def trouble(self, text: str, title: str = "Not done") -> None:
        from floor.screens.forms.dialogs import TroubleDialog

        self.push_screen(TroubleDialog(text, title))

    def name_tagged(self, text: str, tool_at: str = "") -> str:
        from floor.shop.find_tagged import name_tagged

        return name_tagged(self.session.shop, text, tool_at)

    # --- who ---------------------------------------------------------------------------------------------------

    def action_who(self) -> None:
        """Sign in, out, or the next person in; a dialog takes no key of the program, so nobody is signed out there."""
        self.ask_who(lambda: None)

    def ask_who(self, go: Callable[[], None], initials: str = "") -> None:
        """Sign somebody in, or the person with these initials, then go on."""
        from floor.screens.frame.sign_in import SignInDialog

        def answered(initials: str | None) -> None:
            if initials:
                self.session.sign_in(initials)
                self.update_screens()
                self._tell_who_set_the_pin(initials)
                go()
            elif initials is not None:
                self.session.sign_out()
                self.update_screens()

        self.push_screen(SignInDialog(self.session, initials), answered)

    def _tell_who_set_the_pin(self, initials: str) -> None:
        """Who else knows a person's PIN, until they choose one themselves: a reset never goes unnoticed."""
        person = self.session.shop.people.known[initials]
        if person.set_by and person.set_at is not None:
            when = format_clock(person.set_at, self.session.now().at)
            said = f"{person.set_by} set your PIN {when}. Choose your own: c on What next, people, Enter"
            self.mention([said], to=initials)

    def action_toggle_day(self) -> None:
        self.theme = DAY.name if self.theme == NIGHT.name else NIGHT.name
        keep_colors(self.colors_file, self.theme)
