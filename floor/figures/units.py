"""Sizes of units that more than one room works with, all exact by definition."""

from __future__ import annotations

from typing import Final

MM_PER_INCH: Final = 25.4
M_PER_FOOT: Final = 0.3048
"""International yard and pound agreement of 1959 (from memory): one inch is 25.4 mm, a foot twelve of them."""
MM_PER_M: Final = 1000.0
