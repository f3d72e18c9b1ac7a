"""Colors, marks and signal panels: what the program looks like, in one place.

A bare steel plate: grays. The spot to be worked next is brushed with layout blue and scribed; what is wrong hangs on a
purple tag, the color of overheated steel. The four signal panels carry the only safety colors, with the letter colors
that keep their contrast (worked out by the formula of WCAG 2.2: 7.3, 8.4, 14.4 and 7.2 to 1); the hex values
approximate the safety colors of ANSI Z535.1. Nothing is told by color alone.
"""

from __future__ import annotations

from math import isfinite

from textual.content import Content
from textual.theme import Theme

from floor.batch.walk.lines import Line, LineState
from floor.checklist.model import Caution
from floor.checklist.step_references import describe_missing_guard
from floor.text import wrap_text

NIGHT = Theme(
    name="floor-night",
    primary="#7D888D",
    secondary="#BBC3C6",
    accent="#F5F3FF",
    foreground="#DDE1E1",
    background="#15181A",
    surface="#1C2023",
    panel="#2A2F33",
    success="#BBC3C6",
    warning="#FFD100",
    error="#E0A6E8",
    dark=True,
    variables={
        "blued": "#241F5A",
        "scribed": "#F5F3FF",
        "scribed-soft": "#CFCBF5",
        "scribe-line": "#8E8ABF",
        "ruled": "#9AABFF",
        "hung": "#D08ADB",
        "hung-ink": "#1A041A",
        "chalk": "#ECE6D6",
        "chalk-ink": "#111416",
        "block-cursor-background": "#A09CD0",
        "block-cursor-foreground": "#0C0A22",
        "block-cursor-text-style": "bold",
        "footer-background": "#15181A",
        "footer-foreground": "#BBC3C6",
        "footer-key-foreground": "#F5F3FF",
        "footer-description-foreground": "#BBC3C6",
        "footer-off-foreground": "#80898D",
        "input-cursor-background": "#111416",
        "input-cursor-foreground": "#ECE6D6",
        "input-selection-background": "#B9AE90",
    },
)
DAY = Theme(
    name="floor-day",
    primary="#6B767B",
    secondary="#373F43",
    accent="#100D36",
    foreground="#14181A",
    background="#EEF0EE",
    surface="#E4E8E5",
    panel="#D3D9D9",
    success="#373F43",
    warning="#6B4E00",
    error="#74106B",
    dark=False,
    variables={
        "blued": "#1E1954",
        "scribed": "#FFFFFF",
        "scribed-soft": "#D0CCF6",
        "scribe-line": "#8B87BB",
        "ruled": "#2A1FA8",
        "hung": "#981B8A",
        "hung-ink": "#FFFFFF",
        "chalk": "#FFFDF4",
        "chalk-ink": "#111416",
        "block-cursor-background": "#3A3766",
        "block-cursor-foreground": "#FFFFFF",
        "block-cursor-text-style": "bold",
        "footer-background": "#EEF0EE",
        "footer-foreground": "#373F43",
        "footer-key-foreground": "#100D36",
        "footer-description-foreground": "#373F43",
        "footer-off-foreground": "#646C70",
        "input-cursor-background": "#111416",
        "input-cursor-foreground": "#FFFDF4",
        "input-selection-background": "#C9C2A8",
    },
)

SIGNAL_PANELS: dict[str, tuple[str, str]] = {
    "DANGER": ("#FFFFFF", "#B00020"),
    "WARNING": ("#000000", "#FF8200"),
    "CAUTION": ("#000000", "#FFD100"),
    "NOTICE": ("#FFFFFF", "#0054B2"),
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

HOLD_POINT = "◊"
"""A hold point ahead: work stops there until it is proved or waived. One cell wide in every font."""

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


def find_mark(line: Line) -> str:
    """The sign of a line; what must be proved has one of its own before it is reached."""
    return HOLD_POINT if line.is_hold_point_ahead else MARKS[line.state]


def draw_signal_panel(caution: Caution, width: int) -> Content:
    """A caution as a signal panel and its lines: hazard, consequence, how to avoid it; a guard that is missing."""
    letters, panel = SIGNAL_PANELS[caution.word]
    word = f" {caution.word} " if caution.word == "NOTICE" else f" ⚠ {caution.word} "
    band = (word, f"bold {letters} on {panel}")
    beside = len(word) + 1 + len(caution.hazard) <= width
    first = (
        [Content.assemble(band, " ", (caution.hazard, "bold"))]
        if beside
        else [
            Content.assemble(band),
            *(Content.assemble((row, "bold")) for row in wrap_text(caution.hazard, "  ", "  ", width)),
        ]
    )
    rest = [text for text in (caution.consequence, caution.avoid, describe_missing_guard(caution)) if text]
    rows = [row for text in rest for row in wrap_text(text, "  ", "  ", width)]
    return Content("\n").join([*first, *(Content(row) for row in rows)])


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
