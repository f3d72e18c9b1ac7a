"""What a screen may ask of the program that it runs in. `floor.app` answers; so no screen needs to know it."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from textual.app import App
from textual.screen import Screen

from floor.screens.frame.news_queue import NewsQueue
from floor.screens.frame.session import Session

if TYPE_CHECKING:
    from floor.screens.frame.tour import Tour


class Program(App[str]):
    """One session, one stack of screens."""

    session: Session
    news: NewsQueue
    ticking: bool
    """Whether time moves by itself; in tests it does not."""
    tour: Tour | None = None
    """The tour of the demo, while somebody takes it."""

    @abstractmethod
    def go(self, screen: Screen[None]) -> None:
        """Show a screen before the present one."""

    @abstractmethod
    def go_batch(self, id: str) -> None:
        """Show a batch; where it is not there, say so."""

    @abstractmethod
    def go_walk(self, id: str, run: int) -> None:
        """Show the walk of a run."""

    @abstractmethod
    def leave(self, screen: Screen[None]) -> None:
        """Back to the screen before; the opening screen stays."""

    @abstractmethod
    def take_away(self, screen: Screen[None], why: str, wrong: bool = True) -> None:
        """Go back from a screen of something that is no longer there, and say so on the one before it."""

    @abstractmethod
    def reopen_if_replaced(self) -> bool:
        """Whether the record was changed for another one: then the program opens again on it, and says so."""

    @abstractmethod
    def find_anything(self, screen: Screen[None]) -> None:
        """Ask for a name, and open from this screen what goes by it."""

    @abstractmethod
    def trouble(self, text: str, title: str = "Not done") -> None:
        """Say what went wrong, in front of everything."""

    @abstractmethod
    def mention(self, news: Sequence[str]) -> None:
        """News without a bell."""

    @abstractmethod
    def name_tagged(self, text: str, tool_at: str = "") -> str:
        """What a tag scanned into a field stands for: a lot, serial number or initials, or where a tool of a station is
        asked for, its number; empty if none."""

    @abstractmethod
    def action_who(self) -> None:
        """Sign in, or out."""

    @abstractmethod
    def ask_who(self, go: Callable[[], None], initials: str = "") -> None:
        """Sign somebody in, or the person with these initials, then go on."""
