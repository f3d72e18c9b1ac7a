"""What all kinds of gate state."""

from typing import Annotated, Literal

from floor.checklist.field_types import Id, Limits, Strict, Text
from floor.checklist.gate_forms import FormField

Phase = Literal["arrive", "setup", "load", "cycle", "after"]
"""When in the run: on arrival, once per set-up, per load before the start, during the cycle, after it."""


Disturbance = Literal["lifted", "tool changed", "rezeroed", "refixtured", "power lost"]
"""What can void a proof at a station: carrier lifted or re-seated, tool changed, re-zeroed, workholding changed, power
lost.
"""

Lapse = Disturbance | Literal["cycle stopped"]
"""What can make a step be done again."""


class GateBase(Strict):
    id: Id = ""
    """Stable name within the operation; by default made from its kind and place."""
    at: Phase = "load"
    """When in the run: arrive, setup, load, cycle, after."""
    cautions: tuple[Id, ...] = ()
    """Cautions read at this gate."""
    detail: Text = ""
    """A further line of text, shown at the gate."""
    more: Annotated[tuple[Text, ...], Limits(max_length=9)] = ()
    """How and why it is done, in paragraphs: for who asks on the walk, and at the end of the traveler."""
    source: Text = ""
    """Where its limits come from."""
    waive: Literal["lead", "lead and second", "never"] = "lead"
    """Who may waive it."""

    @property
    def is_for_work(self) -> bool:
        """Whether it must hold while the work behind it is done, and no longer."""
        return False

    def asks(self) -> tuple[FormField, ...]:
        return ()

    def hint(self) -> str:
        """How its values are entered, if the form does not show it."""
        return ""

    def title(self) -> str:
        """The line the walk shows for this gate."""
        return self.detail
