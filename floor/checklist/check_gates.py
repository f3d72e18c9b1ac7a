"""Gates that people check: measured, counted, accepted, signed, recorded, confirmed."""

from collections.abc import Iterator
from dataclasses import fields
from typing import Annotated, Literal

from floor.checklist.field_types import Limits, Shaped, Strict, Text
from floor.checklist.gate_base import Disturbance, GateBase, Phase
from floor.checklist.gate_forms import FormField, make_gauge_field, make_number_field
from floor.checklist.units import AnyMeasure, Time
from floor.text import capitalize_first


class Characteristic(Strict):
    """One value or look of a piece."""

    what: Text
    number: int | None = None
    """The balloon number on the drawing."""
    low: AnyMeasure | None = None
    high: AnyMeasure | None = None
    gauge: Text = ""
    gauge_unit: Text = ""
    """The unit that the gauge shows, if it is not that of the limits: values are entered in it."""
    serial: bool = False
    """Whether to ask for the serial number of the gauge: once, where several are measured with it."""
    accept: Text = ""
    """For a look, or a go/no-go gauge: what a good piece is like."""

    def ask(self, name: str) -> FormField:
        if self.accept:
            return FormField(name=name, label=f"{self.what}: {self.accept}?", kind="look", short=self.what, only="yes")
        return make_number_field(name, self.what, self.low, self.high, self.what, self.gauge_unit)


def ask_characteristics(characteristics: tuple[Characteristic, ...]) -> Iterator[FormField]:
    """A field for each, in the order of the drawing, then one for each gauge whose serial number is asked for."""
    yield from (one.ask(f"value {n}") for n, one in enumerate(characteristics, 1))
    gauges = dict.fromkeys(one.gauge for one in characteristics if one.serial)
    yield from (make_gauge_field(f"gauge {n}", gauge, f"Serial: {gauge}") for n, gauge in enumerate(gauges, 1))


class EveryNth(Strict):
    """A sample of every so many pieces made at the operation, counted on from load to load."""

    every: Annotated[int, Limits(ge=2)]
    """2 or more; the first one measured is the piece of this number."""

    def __str__(self) -> str:
        return f"one in every {self.every} pieces"


InspectionLevel = Literal["I", "II", "III", "S-1", "S-2", "S-3", "S-4"]


class ByPlan(Strict):
    """A sample by a plan of MIL-STD-105E, single sampling by attributes; each load is a lot.

    How many bad ones the sample may have decides on the load: one with more is not accepted, and every piece of it is
    measured. Two of five loads in a row not accepted tighten the plan, as the standard says.
    """

    aql: float
    """Acceptable quality level: percent of bad pieces that is still accepted as a rule; one of the standard's."""
    level: InspectionLevel = "II"
    """Inspection level: how much is measured for the size of the load; II is the usual one."""
    reduced: bool = False
    """Whether less is measured after ten loads in a row without a bad piece, if their samples are large enough."""

    def __str__(self) -> str:
        return f"by plan, AQL {self.aql:g} %, level {self.level}"


SampleWord = Literal["all", "first and last"]


SAMPLE_FIELDS = tuple(field.name for kind in (EveryNth, ByPlan) for field in fields(kind))
"""Of the tables that a sample may be."""


def _tag_sample(given: object) -> str:
    if isinstance(given, dict):
        from difflib import get_close_matches  # opening a batch reads no file

        meant = [get_close_matches(str(name), SAMPLE_FIELDS, n=1) for name in given]
        return "EveryNth" if "every" in given or ["every"] in meant[:1] else "ByPlan"
    return "literal[word]" if isinstance(given, str) else "int"


SAMPLES = {"int": int, "literal[word]": SampleWord, "ByPlan": ByPlan, "EveryNth": EveryNth}
Sample = Annotated[int | SampleWord | EveryNth | ByPlan, Shaped(SAMPLES, _tag_sample)]


class Measured(GateBase):
    """A characteristic, several of the same piece, or a reading at the station, is within its limits."""

    gate: Literal["measured"]
    at: Phase = "after"
    what: Text
    number: int | None = None
    """The balloon number on the drawing."""
    low: AnyMeasure | None = None
    high: AnyMeasure | None = None
    characteristics: tuple[Characteristic, ...] = ()
    """Several values and looks of each piece on one form, in the order of the drawing, in place of a limit here."""
    sample: Sample = 1
    """Which pieces of the load to measure: so many, spread over its carrier and others at each load; all; the first
    and the last one made; every so many; or as many as a sampling plan asks for."""
    per: Literal["load", "setup"] = "load"
    """Whether each load is measured, or once a set-up."""
    gauge: Text = ""
    gauge_unit: Text = ""
    """The unit that the gauge shows, if it is not that of the limits: values are entered in it."""
    serial: bool = False
    """Whether to ask for the serial number of the gauge."""
    accept: Text = ""
    """For a visual check: what a good piece looks like. The form asks how many do not."""
    do: Text = ""
    """Text of the line if "Measure …" does not fit, as for a value read off a display."""
    of: Literal["piece", "station"] | None = None
    """What is bad if the value is out of limits: a piece of the load, or the station and all that is in it. Left out:
    a piece if the value has a balloon number, is a visual check, covers several pieces, or is measured after the
    cycle; else the station."""
    lapses_on: tuple[Disturbance, ...] | None = None
    """What happens at the station that voids the proof; left out, what is usual for this kind."""

    @property
    def of_piece(self) -> bool:
        if self.of is not None:
            return self.of == "piece"
        named = self.accept or self.characteristics or self.number is not None
        return bool(named or self.sample != 1 or self.at == "after")

    def asks(self) -> tuple[FormField, ...]:
        if self.characteristics:
            return tuple(ask_characteristics(self.characteristics))
        if self.accept:
            read = FormField(
                name="faulty", label="How many fail this check", kind="whole", low=0, high=0, short="failed"
            )
        else:
            read = make_number_field("value", self.what, self.low, self.high, unit=self.gauge_unit)
        return (read, make_gauge_field("gauge", self.gauge)) if self.serial else (read,)

    def title(self) -> str:
        if self.do:
            return self.do
        return f"Check {self.what}: {self.accept}" if self.accept else f"Measure {self.what}"


class Counted(GateBase):
    """The pieces in hand match the record."""

    gate: Literal["counted"]
    at: Phase = "arrive"
    what: Text = "pieces in hand"

    def asks(self) -> tuple[FormField, ...]:
        return (FormField(name="pieces", label=f"Count the {self.what}", kind="whole", low=0),)

    def title(self) -> str:
        return f"Count the {self.what}"


class FirstPiece(GateBase):
    """A named person checked and accepted the first piece of this set-up."""

    gate: Literal["first piece accepted"]
    at: Phase = "after"
    what: Text = "first piece"
    characteristics: tuple[Characteristic, ...] = ()
    """What is measured or looked at, in the order of the drawing; left out, the form asks for it in words."""
    independent: bool = False
    """Whether somebody other than the operator must accept it; left out, the operator may accept their own work."""
    self_after: Time | None = None
    """With one person on shift: how much later the same person may check again, recorded as a self-check."""
    lapses_on: tuple[Disturbance, ...] | None = None
    """What happens at the station that voids the proof; left out, what is usual for this kind."""
    again_for: tuple[Text, ...] = ()
    """Materials of this operation, by the `what` of their `lot recorded`: a new lot of one asks for another first
    piece."""

    @property
    def of_piece(self) -> bool:
        """As of a measured gate: a value out of limits is that of one piece."""
        return True

    def asks(self) -> tuple[FormField, ...]:
        person = FormField(name="person", label="Accepted by (initials)", kind="person")
        if not self.characteristics:
            return (person, FormField(name="found", label="What was measured or seen", kind="finding"))
        return (*ask_characteristics(self.characteristics), person)

    def title(self) -> str:
        return f"Accept the {self.what}"


def list_asked_values(gate: Measured | FirstPiece) -> list[tuple[FormField, Measured | Characteristic]]:
    """Each value or look of a piece, with its form field."""
    asks = gate.asks()
    if gate.characteristics or isinstance(gate, FirstPiece):
        return list(zip(asks, gate.characteristics, strict=False))  # behind them gauges, and who accepts it
    return [(asks[0], gate)]


class Signed(GateBase):
    """A second person verified the step and signed for it."""

    gate: Literal["signed"]
    do: Text
    per: Literal["load", "setup"] = "load"
    """Whether it is signed for each load, or once a set-up."""
    self_after: Time | None = None
    """With one person on shift: how much later the same person may check again, recorded as a self-check."""
    lapses_on: tuple[Disturbance, ...] | None = None
    """What happens at the station that voids the proof; left out, what is usual for this kind."""

    def asks(self) -> tuple[FormField, ...]:
        return (FormField(name="person", label="Second person (initials)", kind="person"),)

    def title(self) -> str:
        return self.do


class LotRecorded(GateBase):
    """The lot of a material is on record and within its use-by date; or a gauge, by serial number, in calibration."""

    gate: Literal["lot recorded"]
    what: Text
    use_by: bool | None = None
    """Whether to ask for a use-by date (for a gauge: calibration due). Left out, it is asked for; what has none, as a
    bar of metal or a certificate, needs `false`."""
    serial: bool = False
    """A gauge or instrument, which has a serial number instead of a lot."""
    per: Literal["batch", "setup", "load"] = "batch"
    """What one answer covers: a can the batch, a bar the set-up, a furnace certificate its load."""

    @property
    def until(self) -> str:
        return "calibration due" if self.serial else "use by"

    @property
    def asks_date(self) -> bool:
        return self.use_by is not False

    @property
    def without_date(self) -> str:
        """What to do about a thing that has no date, behind what to do about one that has."""
        if self.waive == "never":
            return ", or open a batch from a checklist with `use_by = false` if it has none"
        return f", or have a lead waive it and name the {'gauge' if self.serial else 'lot'} if it has none"

    def asks(self) -> tuple[FormField, ...]:
        lot = FormField(name="lot", label=f"{self.what}: lot number", identity=True)
        if self.serial:
            lot = lot._replace(label=f"{self.what}: serial number", kind="gauge")
        label = f"{capitalize_first(self.until)} (YYYY-MM-DD)"
        # The shop's register knows the date of a gauge that is in it.
        date = FormField(name="use_by", label=label, kind="date", short=self.until, required=not self.serial)
        return (lot, date._replace(or_else=self.without_date)) if self.asks_date else (lot,)

    def title(self) -> str:
        return f"Record the {'serial number of the' if self.serial else 'lot of'} {self.what}"


class Confirmed(GateBase):
    """A person's word, for what no record can show. Asked again every load, set-up or shift."""

    gate: Literal["confirmed"]
    do: Text
    per: Literal["load", "setup", "shift"] = "load"
    """How long one answer holds."""
    lapses_on: tuple[Disturbance, ...] | None = None
    """What happens at the station that voids the proof; left out, what is usual for this kind."""

    def title(self) -> str:
        return self.do
