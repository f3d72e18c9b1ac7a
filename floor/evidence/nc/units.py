"""The units of lengths in programs and on screen."""

from __future__ import annotations

from typing import Final, Literal

MM_PER_INCH: Final = 25.4
Units = Literal["mm", "inch"]
