"""Colors, marks and signal panels: what the program looks like, in one place.

Normal is quiet: grays and one pale accent. The four signal panels carry the only strong colors, with the letter
colors that keep their contrast (worked out by the formula of WCAG 2.2: 7.3, 8.4, 14.4 and 6.9 to 1); the hex
values approximate the safety colors of ANSI Z535.1. Nothing is told by color alone.
"""

from __future__ import annotations

from math import isfinite

from textual.content import Content
from textual.theme import Theme

from floor.batch.walk.station_walk import LineState
from floor.checklist.model import Caution
from floor.checklist.step_references import describe_missing_guard

NIGHT = Theme(
    name="floor-night",
    primary="#9DB4BE",
    secondary="#7E8B90",
    accent="#BFD3DB",
    foreground="#D9DEDC",
    background="#121517",
    surface="#191D20",
    panel="#22282B",
    success="#9DB4BE",
    warning="#FFD100",
    error="#FF8A80",
    dark=True,
    variables={
        "block-cursor-background": "#8AA3AE",
        "block-cursor-foreground": "#000000",
        "block-cursor-text-style": "bold",
        "footer-background": "#191D20",
        "footer-key-foreground": "#BFD3DB",
        "input-selection-background": "#35464E",
    },
)
DAY = Theme(
    name="floor-day",
    primary="#2F4B57",
    secondary="#55646A",
    accent="#1D3A46",
    foreground="#14181A",
    background="#F4F5F2",
    surface="#E9ECE8",
    panel="#DCE1DD",
    success="#2F4B57",
    warning="#6B4E00",
    error="#9B1018",
    dark=False,
    variables={
        "block-cursor-background": "#3F5C69",
        "block-cursor-foreground": "#FFFFFF",
        "block-cursor-text-style": "bold",
        "footer-background": "#E9ECE8",
        "footer-key-foreground": "#1D3A46",
        "input-selection-background": "#B9CBD2",
    },
)

SIGNAL_PANELS: dict[str, tuple[str, str]] = {
    "DANGER": ("#FFFFFF", "#B00020"),
    "WARNING": ("#000000", "#FF8200"),
    "CAUTION": ("#000000", "#FFD100"),
    "NOTICE": ("#FFFFFF", "#0057B8"),
}
"""Signal word → letters and panel."""

MARKS: dict[LineState, str] = {
    "done": "✓",
    "skipped": "-",
    "waived": "W",
    "not needed": "=",
    "not known": "?",
    "now": "▶",
    "waits": "◔",
    "blocked": "✕",
    "reopened": "↺",
    "ahead": "·",
}
"""One sign for each state of a line; the word stands beside it."""

SAID: dict[LineState, str] = {
    "done": "",
    "skipped": "SKIPPED",
    "waived": "WAIVED",
    "not needed": "not needed",
    "not known": "NOT KNOWN",
    "now": "NOW",
    "waits": "WAITS",
    "blocked": "BLOCKED",
    "reopened": "AGAIN",
    "ahead": "",
}


def draw_signal_panel(caution: Caution, width: int) -> Content:
    """A caution as a signal panel and its lines: hazard, consequence, how to avoid it; a guard that is missing."""
    letters, panel = SIGNAL_PANELS[caution.word]
    word = f" {caution.word} " if caution.word == "NOTICE" else f" ⚠ {caution.word} "
    band = (word, f"bold {letters} on {panel}")
    beside = len(word) + 1 + len(caution.hazard) <= width
    first = (
        [Content.assemble(band, " ", (caution.hazard, "bold"))]
        if beside
        else [Content.assemble(band), Content.assemble(("  " + caution.hazard, "bold"))]
    )
    rest = [f"  {text}" for text in (caution.consequence, caution.avoid, describe_missing_guard(caution)) if text]
    return Content("\n").join([*first, *(Content(text) for text in rest)])


def draw_band(value: float, low: float | None, high: float | None, width: int = 11) -> str:
    """Where a value lies between its limits: ``├───●─────┤``; outside, by which side. Empty without both limits."""
    if low is None or high is None or low >= high or not isfinite(value):
        return ""
    if value < low:
        return f"◄├{'─' * width}┤ below"
    if value > high:
        return f"├{'─' * width}┤► above"
    at = round((value - low) / (high - low) * (width - 1))
    return f"├{'─' * at}●{'─' * (width - 1 - at)}┤"


def draw_bar(done: int, of: int, width: int) -> str:
    """A quiet bar of blocks: how much of a whole is done."""
    filled = 0 if of <= 0 else min(width, round(width * done / of))
    return "█" * filled + "░" * (width - filled)
