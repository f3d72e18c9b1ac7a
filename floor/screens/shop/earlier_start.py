"""What earlier batches of a part tell of an order before it is opened: read beside the keys, once."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, cast

from floor.batch.earlier import EarlierLots, EarlierTold, expect
from floor.checklist.expected_yields import TestPieces
from floor.checklist.model import Checklist
from floor.screens.frame.app_services import Program
from floor.screens.frame.run_in_thread import run_in_thread
from floor.screens.frame.screen import FloorScreen
from floor.shop.load_settings import load_settings
from floor.shop.settings import SettingsError

if TYPE_CHECKING:
    from floor.batch.quality.batch_facts import EarlierBatches
    from floor.shop.earlier_batches import Asked

COLUMNS = 76


class EarlierStart:
    """The reading of earlier batches for one order form.

    What the order was planned by goes on record with it, so the order is not asked about before they are read.
    """

    def __init__(self, screen: FloorScreen, checklist: Checklist, file: str, done: Callable[[], None]) -> None:
        """
        Args:
            file: the checklist's, as the shop knows it.
            done: is called when they have been read beside the keys.
        """
        self.screen, self.checklist, self.file, self.done = screen, checklist, file, done
        self.told: EarlierTold | None = None
        self.expected = checklist
        """The checklist with the yields that the order is planned by."""
        self.lots_before: tuple[EarlierLots, ...] = ()
        """Where the sampling plans of earlier batches stand."""
        self.left_out: list[str] = []
        """What cannot be used, as lines."""
        self.half_life = 0.0
        """Days after which a batch counts half, once the shop's settings are read."""
        self.reading = False
        self._then: Callable[[], None] | None = None

    def read(self) -> None:
        """Have them read; where time stands still, at once."""
        shop = self.screen.session.shop
        if not shop.closed() and not shop.batches:
            return
        from floor.shop.earlier_batches import ask_of_new, read_earlier

        try:
            settings = load_settings(shop.folder, self.screen.session.now().at)
        except SettingsError:  # said where the plan is made
            return
        self.half_life = settings.half_life_days
        asked = ask_of_new(shop, self.checklist, self.file, settings.calendar)
        if cast(Program, self.screen.app).ticking:
            self.reading = True
            self.screen.run_worker(self._have_read(asked), group="earlier", exclusive=True)
        else:
            self._take(read_earlier(asked), asked)

    def do_after(self, go: Callable[[], None]) -> None:
        """Do this once they are read."""
        if self.reading:
            self._then = go
            self.screen.say("Reading earlier batches of the part; it goes on by itself")
        else:
            go()

    def compare(self, order: int, pieces: int, level: float, tests: TestPieces) -> list[str]:
        """How sure a quantity is by the checklist alone, and with them; empty where there are none."""
        if self.told is None or not pieces:
            return self.left_out
        from floor.papers.earlier_batches import list_before_and_after

        compared = list_before_and_after(self.checklist, self.told, order, pieces, level, COLUMNS, tests)
        return ["", "How sure, without and with earlier batches:", *compared, *self.left_out]

    async def _have_read(self, asked: Asked) -> None:
        from floor.shop.earlier_batches import read_earlier

        try:
            self._take(await run_in_thread(read_earlier, asked, lambda: not self.screen.is_attached), asked)
        except Exception as error:  # whatever it is, the batch can be opened without
            self.left_out = [f"✕ Earlier batches cannot be read: {error}"]
        self.reading = False
        if not self.screen.is_attached:
            return
        self.done()
        then, self._then = self._then, None
        if then is not None and self.screen.is_active:
            self.screen.say("")
            then()

    def _take(self, read: EarlierBatches, asked: Asked) -> None:
        from floor.papers.earlier_batches import list_left_out
        from floor.planning.earlier_batches import study_earlier

        now = self.screen.session.now().at
        study = study_earlier(self.checklist, read.same, now, asked.in_file, self.half_life)
        self.told, self.expected = study.told, expect(self.checklist, study.told)
        self.lots_before = study.lots_before
        self.left_out = list_left_out(read, study, COLUMNS)
