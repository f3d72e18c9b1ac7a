"""A tour of the demo that is done, not read: one line says what to press, and the next comes once it was pressed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

from floor.batch.events import Counted, CycleEnded, Event, Released

if TYPE_CHECKING:
    from floor.batch.state import Batch


class TourStep(NamedTuple):
    """What to do next, and what shows that it was done: a screen came up, or an entry was made. The last one stays."""

    on: str
    """The screen on which its keys work, by the name of its class; empty for any."""
    text: str
    screen: str = ""
    """Name of its class."""
    entry: type[Event] | None = None
    """Its kind."""


BACK = {
    "NextScreen": "Esc, until What next is there.",
    "WalkScreen": "Enter opens the load at the cursor.",
    "CountScreen": "Enter for each line that is done, up to the count.",
    "BatchScreen": "b: the batch.",
}
"""Screen → the key that leads there from the one before it, for who is elsewhere."""
BEFORE = {"WalkScreen": "NextScreen", "CountScreen": "WalkScreen", "BatchScreen": "NextScreen"}
"""Screen → the one from which a key leads there."""
STEPS = (
    TourStep(
        "NextScreen",
        "What next lists all work, the most urgent on top. Enter opens the line at the cursor.",
        screen="WalkScreen",
    ),
    TourStep("WalkScreen", "The blue field says what to do. This cycle is over: Enter records it.", entry=CycleEnded),
    TourStep(
        "WalkScreen", "Work down the list: Enter for each line that is done, up to the count.", screen="CountScreen"
    ),
    TourStep(
        "CountScreen", "Bad piece? Arrow to its place, press a reason's digit; 0 clears. Enter counts.", entry=Counted
    ),
    TourStep("WalkScreen", "Enter once more releases the load: its good pieces go on.", entry=Released),
    TourStep("", "Esc always takes you back. Go back to What next.", screen="NextScreen"),
    TourStep("NextScreen", "b shows the batch: every load against every operation.", screen="BatchScreen"),
    TourStep("BatchScreen", "v, then 1: what is known about where scrap comes from.", screen="LossScreen"),
    TourStep("", "Esc, and once more: back to What next.", screen="NextScreen"),
    TourStep("NextScreen", "g shows the plan: when it is finished, and what is in the way.", screen="PlanScreen"),
    TourStep(
        "",
        "That is the tour. Wrong entry: u. Trouble at a machine: x on its walk. End of shift: o on the batch. Help: ?",
    ),
)


class Tour:
    """How far somebody has come."""

    def __init__(self, steps: tuple[TourStep, ...] = STEPS) -> None:
        self.steps = steps
        self.at = 0
        self.screen = ""
        """Name of the class of the screen on top, when last looked."""
        self.passed = ""
        """Which steps were done already when the present one came up."""
        self._skipped = False
        """Whether nobody has looked since a step was skipped."""
        self._since: dict[str, int] | None = None
        """Batch → the entries that it had when the present step came up; None before anybody looked."""

    @property
    def is_over(self) -> bool:
        return self.at >= len(self.steps)

    @property
    def line(self) -> str:
        """What stands on the screen; nothing once it is over."""
        if self.is_over:
            return ""
        keys = "F12: close" if self.at == len(self.steps) - 1 else "F10: skip, F12: end"
        step = self.steps[self.at]
        text = step.text if step.on in ("", self.screen) else _find_way(self.screen, step.on)
        return f"{self.at + 1}/{len(self.steps)}  {self.passed}{text}  [{keys}]"

    def look(self, screen: str, batches: Sequence[Batch]) -> None:
        """Go on where the present step was done.

        Args:
            screen: name of the class of the screen on top.
            batches: all that are open.
        """
        self.screen = screen
        if self._since is None:
            self._since = _count_entries(batches)
        if self.is_over:
            return
        made = {entry.kind for batch in batches for entry in batch.entries[self._since.get(batch.id, 0) :]}
        asked = [step.entry.KIND if step.entry is not None else "" for step in self.steps]
        ahead = [n for n, kind in enumerate(asked) if n >= self.at and kind in made]
        if ahead or screen == self.steps[self.at].screen:
            before, self.at = self.at, max(ahead, default=self.at) + 1  # who went on without it needs no step again
            self.passed = _say_done(before if self._skipped else before + 1, self.at)
            self._since = _count_entries(batches)
        self._skipped = False

    def skip(self) -> None:
        """On to the next step, done or not."""
        self.at += 1
        self.passed, self._skipped = "", True
        self._since = None

    def end(self) -> None:
        self.at = len(self.steps)


def _find_way(here: str, there: str) -> str:
    """The key that leads from one screen towards another, by way of what next where there is no shorter one."""
    before = BEFORE.get(there)
    if before is None or here == before:
        return BACK[there]
    return _find_way(here, before)


def _say_done(first: int, after: int) -> str:
    """That the steps from one to before another, counted from 0, were done already; empty for none."""
    if first >= after:
        return ""
    return f"({first + 1}{f' to {after}' if after > first + 1 else ''}: done already.) "


def _count_entries(batches: Sequence[Batch]) -> dict[str, int]:
    return {batch.id: len(batch.entries) for batch in batches}
