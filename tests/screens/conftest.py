"""The world stands still: a fixed clock in a fixed zone, a shop in the test's own folder, no blinking."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from datetime import datetime, timedelta, timezone
from pathlib import Path
from pkgutil import resolve_name
from typing import cast

import pytest
from textual._compositor import Compositor
from textual.css.model import RuleSet
from textual.css.stylesheet import Stylesheet
from textual.widgets import Input

from floor.app import FloorApp
from floor.ledger.files import Files
from floor.shop import Shop
from floor.shop.simulation import ManualClock, SimulatedOperator
from tests.batch.factory import part
from tests.papers.half_done import work_to_half
from tests.screens.kept_plans import KEPT, keep_answers
from tests.screens.operator import Place
from tests.screens.picture import FOLDER, SIZES, Run, Size, check_picture, keep_picture, see
from tests.screens.settled import wait_until_settled

MORNING = datetime(2026, 3, 2, 7, 0, tzinfo=timezone(timedelta(hours=1)))
"""A Monday."""

Open = Callable[..., FloorApp]
Picture = Callable[..., None]
OF_A_TERMINAL = ("NO_COLOR", "COLORFGBG", "FLOOR_SIGNS", "LANG", "LC_ALL", "LC_CTYPE")
"""What says how a terminal looks, beside its name: the tests have one with all colors and signs."""


LOOKS = ("NO_COLOR", "COLORFGBG", "FLOOR_SIGNS")
"""What else tells the program what its terminal shows."""


@pytest.fixture(autouse=True)
def still(monkeypatch: pytest.MonkeyPatch) -> None:
    """Pictures do not depend on who runs the tests, nor in which terminal."""
    for name in list(os.environ):
        if name in OF_A_TERMINAL or (name.startswith("TEXTUAL") and "SNAPSHOT" not in name):
            monkeypatch.delenv(name)
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.setenv("COLORTERM", "truecolor")
    mounted = Input._on_mount

    def no_blink(self: Input, event: object) -> None:
        self.cursor_blink = False
        mounted(self, event)  # type: ignore[arg-type]

    monkeypatch.setattr(Input, "_on_mount", no_blink)


PARSED: dict[tuple[object, ...], list[RuleSet]] = {}
PARSE = Stylesheet._parse_rules


def parse_once(self: Stylesheet, *given: object, **named: object) -> list[RuleSet]:
    key = (given, *sorted(named.items()), *sorted(self._variables.items()))
    if key not in PARSED:
        PARSED[key] = PARSE(self, *given, **named)  # type: ignore[arg-type]
    return PARSED[key]


@pytest.fixture(autouse=True)
def parsed_styles(monkeypatch: pytest.MonkeyPatch) -> None:
    """The styles are parsed once for all programs that tests start."""
    monkeypatch.setattr(Stylesheet, "_parse_rules", parse_once)


DRAW = Compositor.render_update


def draw_if_asked(self: Compositor, full: bool = False, *given: object, **named: object) -> object:
    if full:
        return DRAW(self, full, *given, **named)  # type: ignore[arg-type]
    self._dirty_regions.clear()
    return None


@pytest.fixture(autouse=True)
def undrawn(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without a terminal, only pictures are drawn: drawing each change was a third of what a test of a screen costs."""
    monkeypatch.setattr(Compositor, "render_update", draw_if_asked)


@pytest.fixture
def drawn(undrawn: None, monkeypatch: pytest.MonkeyPatch) -> None:
    """For a test of whether everything can be drawn."""
    monkeypatch.setattr(Compositor, "render_update", DRAW)


@pytest.fixture(autouse=True)
def unsynced(monkeypatch: pytest.MonkeyPatch) -> None:
    """No test of a screen pulls the plug, so none waits for the disk; those of the ledger do."""
    monkeypatch.setattr(Files, "sync", lambda self, fd: None)
    monkeypatch.setattr(Files, "sync_folder", lambda self, path: None)


@pytest.fixture(autouse=True)
def settled(monkeypatch: pytest.MonkeyPatch) -> None:
    """No test sleeps after each key."""
    for place in ("textual.app.wait_for_idle", "textual.pilot.wait_for_idle"):
        monkeypatch.setattr(place, wait_until_settled)


ANSWERS = {place: keep_answers(resolve_name(place)) for place in sorted(KEPT)}


@pytest.fixture(autouse=True)
def kept_plans(monkeypatch: pytest.MonkeyPatch) -> None:
    """Plans are searched for once and kept for all tests of the screens."""
    for place, answer in ANSWERS.items():
        monkeypatch.setattr(place, answer)


@pytest.fixture
def searched_anew(kept_plans: None, monkeypatch: pytest.MonkeyPatch) -> None:
    """For a test of the search itself, how far it is and what stops it."""
    for place, answer in ANSWERS.items():
        monkeypatch.setattr(place, answer.__wrapped__)


@pytest.fixture
def clock() -> ManualClock:
    return ManualClock(MORNING)


@pytest.fixture
def bare_shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, clock: ManualClock) -> Iterator[Shop]:
    """A new shop with nobody in it, under a path that is the same in every run."""
    monkeypatch.chdir(tmp_path)
    shop = Shop(Path("shop"), clock)
    yield shop
    shop.close()


@pytest.fixture
def shop(bare_shop: Shop) -> Shop:
    """A shop with a lead, LL, and two operators, AA and BB."""
    bare_shop.add_person("LL", "Lena Lindqvist", True, by="LL")
    bare_shop.add_person("AA", "Arne Aas", False, by="LL")
    bare_shop.add_person("BB", "Bea Brandt", False, by="LL")
    return bare_shop


@pytest.fixture
def batch(shop: Shop) -> str:
    """A batch of the small test part, 8 ordered and 10 started."""
    from floor.batch.lifecycle.commands import OpenBatch

    return shop.open_batch(OpenBatch(shop.find_next_id(), part(), "digest", "part.toml", 8, 10), by="LL").id


@pytest.fixture
def half(shop: Shop, batch: str, clock: ManualClock) -> str:
    """The batch half done, with scrap, rework, a hold and a waiver."""
    work_to_half(
        SimulatedOperator(shop, batch, "AA", clock, second="BB"),
        SimulatedOperator(shop, batch, "LL", clock, second="BB"),
    )
    return batch


@pytest.fixture
def open_app(shop: Shop) -> Open:
    """Opens the program on the shop, by default with the lead signed in, standing still."""

    def opened(who: str = "LL") -> FloorApp:
        return FloorApp(shop, who=who, ticking=False)

    return cast(Open, opened)


@pytest.fixture
def place(shop: Shop, batch: str, clock: ManualClock) -> Place:
    """The batch, with a simulated operator who brings loads by commands to where a test starts."""
    return Place(shop, batch, clock)


@pytest.fixture
def picture(request: pytest.FixtureRequest) -> Picture:
    """Compares a state with its picture in each size and theme; with --snapshot-update it makes the picture."""

    def take(
        app: FloorApp, press: Sequence[str] = (), run_before: Run | None = None, sizes: Sequence[Size] = SIZES
    ) -> None:
        file = FOLDER / request.path.stem / f"{request.node.name}.txt"
        seen = see(app, press, run_before, sizes)
        (keep_picture if request.config.option.update_snapshots else check_picture)(file, seen)

    return take
