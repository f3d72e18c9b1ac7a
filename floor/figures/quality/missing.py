"""Why there is no number where one was asked for."""

from __future__ import annotations

import math
from collections.abc import Sequence
from enum import StrEnum

LARGEST = 1e100
"""Values beyond this either way are no measurement, and their squares would soon not fit a float."""


class Missing(StrEnum):
    """The reason that stands in the place of a number."""

    EMPTY = "nothing recorded"
    TOO_FEW = "too few"
    CONSTANT = "constant"
    """All values are the same, so nothing can be measured by their spread."""
    TWO_LEVELS = "two levels"
    """There are only two different values, so their spread is that of the gauge's steps."""
    NOT_A_NUMBER = "not a number"
    TOO_LARGE = "too large"
    NO_LIMIT = "no limit"
    """The limit, limits or target that it needs are not given."""


def find_missing(values: Sequence[float], fewest: int = 1) -> Missing | None:
    """Why no figure can be made of these values; None if one can. Does not look whether they are constant."""
    if not values:
        return Missing.EMPTY
    if not all(map(math.isfinite, values)):
        return Missing.NOT_A_NUMBER
    if max(map(abs, values)) > LARGEST:
        return Missing.TOO_LARGE
    return Missing.TOO_FEW if len(values) < fewest else None
