"""The units of lengths in programs and on screen."""

from __future__ import annotations

from typing import Literal

Units = Literal["mm", "inch"]
