"""What a gate asks to be entered: its form fields."""

from typing import Literal, NamedTuple

from floor.checklist.units import Measure


class FormField(NamedTuple):
    """One value a form asks for."""

    name: str
    label: str
    kind: Literal["number", "whole", "text", "finding", "date", "person", "readings", "look"] = "text"
    """A finding is a text that says a value or what was seen; a letter or "ok" says neither. Readings are times and
    temperatures, or the name of a logger's file. A look is answered yes or no."""
    unit: str = ""
    low: float | None = None
    high: float | None = None
    default: str = ""
    required: bool = True
    short: str = ""
    """The word before the value once proved, if the value needs one."""
    places: int = 0
    """Decimal places of the limits in the file: 7.990 mm is not 7.99 mm."""
    only: str = ""
    """The only right text; capitals do not matter."""
    longest: int = 60
    """Most characters; more are refused."""

    @property
    def band(self) -> str:
        """The limits in words; empty if there are none."""
        if self.only:
            return self.only
        unit = f" {self.unit}" if self.unit else ""
        if self.low is not None and self.low == self.high:
            return f"{self.said(self.low)}{unit}"
        if self.low is not None and self.high is not None:
            return f"{self.said(self.low)} to {self.said(self.high)}{unit}"
        if self.low is not None:
            return f"at least {self.said(self.low)}{unit}"
        if self.high is not None:
            return f"at most {self.said(self.high)}{unit}"
        return ""

    def said(self, limit: float) -> str:
        """A limit with the decimal places of the file."""
        return f"{limit:.{self.places}f}" if self.places else f"{limit:.12g}"


READINGS = "readings"
"""The field of a soak for its readings."""


STAGE = "stage"
"""The field of a cure for the stage of drying that a test showed."""


NO_STAGE = "none"
"""What is entered there if the test showed none."""


def make_number_field(name: str, label: str, low: Measure | None, high: Measure | None, short: str = "") -> FormField:
    """A number to enter, with the unit, limits and decimal places from the file."""
    limits = [one for one in (low, high) if one is not None]
    return FormField(
        name=name,
        label=label,
        kind="number",
        unit=limits[0].unit if limits else "",
        low=low.number if low else None,
        high=high.number if high else None,
        short=short,
        places=max((_places(one.text.split()[0]) for one in limits), default=0),
    )


def _places(number: str) -> int:
    return len(number.partition(".")[2]) if "e" not in number.lower() else 0
