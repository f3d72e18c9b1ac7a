"""Sentences for findings, and words for why a value is unknown. Nothing else in this room makes sentences."""

from __future__ import annotations

from collections.abc import Sequence

from floor.evidence.nc.finding_kinds import ANYWHERE, Finding, Kind, Value
from floor.evidence.nc.units import Units
from floor.figures.units import MM_PER_INCH

_SENTENCES: dict[Kind, str] = {
    "empty file": "the file is empty",
    "not text": "the file is not text, so not an NC program; choose another",
    "byte order mark": "the file starts with a byte order mark; save it without one",
    "other encoding": "the file is {subject}, not plain text; save it as plain text",
    "control character": "a control character was skipped; delete it",
    "long line": "the line is too long; its end was not read",
    "open comment": "a comment is not closed; controls may skip lines after it",
    "nested comment": "a comment inside a comment: controls differ on where it ends",
    "nested words": 'a comment in a comment: some controls run "{subject}" as code; reword it',
    "slash inside": "a slash inside the block: controls differ on what it skips",
    "bad word": '"{subject}" cannot be read; correct the program',
    "word repeated": "{subject} is in the block twice; correct it",
    "word without use": "no code in the block uses {subject}; check the block",
    "dot in code": "{subject} is written with a dot; read as the code without it",
    "group clash": "{subject} are in the same group; a control alarms or takes the last",
    "unknown code": "{subject} is not known here; check what it does on this control",
    "unread lines": "{lines} after the program end: not read",
    "no end": "the program has no M30, M2 or closing %; is the file whole?",
    "main loops": "M99 ends the main program: it starts over by itself",
    "lathe": "{subject} is a lathe word; the rest is read as for a mill",
    "no units": "no G20 or G21: the control decides inch or metric; add one",
    "units changed": "{subject} switches between inches and millimeters",
    "offset assumed": "moves before any work offset; G54 assumed, call the offset first",
    "tool unknown": "the tool in the spindle is not known; check it",
    "no feed mode": "no G94 or G95 before the cut: the control keeps the last one used; add G94",
    "no speed": "the spindle starts {by}without S; add S",
    "no feed": "a feed move {by}without F; add F",
    "spindle off": "a feed move {by}with the spindle off; add M3 or M4 before it",
    "feed zero": "a feed move {by}with F0; add F",
    "no motion": "{subject} with no G0 or G1 active: some controls still move; add one",
    "no length offset": "a Z move {by}before G43: no length, or the last tool's; add G43",
    "H not T": "{subject} has H{v0}, the length offset of another tool; correct H",
    "D not T": "{subject} has D{v0}, the radius of another tool; correct D",
    "H zero": "H0 {by}gives no length, or the spindle tool's; use its own H",
    "H left out": "G43 {by}without H; controls differ on which they take: add H",
    "length from program": "the program sets the tool length itself (G43.1); check it",
    "length subtracted": "G44 subtracts the tool length; check that this is meant",
    "radius compensation": "{subject}: the control shifts the path by the radius; travel is as written",
    "D left out": "radius compensation {by}without D; add its D",
    "offset written": "{subject} overwrites a work offset; probe again after it",
    "tool table written": "{subject} overwrites the tool table; check the lengths",
    "system variable": "{subject} is a system variable (offset, output); check what it sets",
    "local shift": "G52 shifts the zero of the offset; travel is given from the unshifted zero",
    "shift": "{subject} shifts the zero of all offsets, maybe beyond this program",
    "axes changed": "{subject} rotates, scales or bends the path; travel is not known",
    "home through zero": "{subject} with Z0 in G90 goes home through Z0 of the part; use G91",
    "G53 in G91": "G53 in G91: some controls alarm, some move by its numbers; put G90 before it",
    "bad arc": "an arc does not fit its end points ({arc}); a control alarms here",
    "cycle word left out": "{subject} has no {v0}; add it",
    "no peck": "{subject} has Q {l0}: the control alarms or drills without pecking; correct Q",
    "R below Z": "{subject} has R below Z; a control alarms or drills up",
    "tap direction": "{subject} cuts a {v1} thread, the spindle runs {v0}; check the direction",
    "left on": "{subject} is still on at the end of the program; cancel it with {v0}",
    "rapid down": "{subject} rapids down to Z {l0}; no rapid below {l1}: use G1 or retract",
    "rapid across": "{subject} rapids across at Z {l0}; no rapid below {l1}: retract first",
    "low in machine": "G53 goes to machine Z {l0}: it may not clear the work; use G53 Z0",
    "R too low": "{subject} has R at Z {l0}; no rapid below {l1}: raise R",
    "not retracted": "{subject} is at Z {l0} at the tool change; retract it to {l1} or home",
    "low at end": "{subject} is at Z {l0} at the program end; retract it to {l1} or home",
    "cycle varies": "{subject} differs between controls; check what it does here",
    "probe": "a probing move: where it ends is not known",
    "probe turning": "a probing move with the spindle on; add M5 before it",
    "call missing": "{subject} is not in this file; what it does is not known",
    "calls itself": "{subject} calls itself: it never ends, or a control alarms; correct the call",
    "macro call": "a macro ({subject}) is called; what it does is not known",
    "jump not known": "next block not known: it depends on an unknown value or switch",
    "label not found": "{subject} is missing or there twice: jump target not known",
    "no return": "the subprogram {subject} ends without M99; add it",
    "endless loop": "an endless loop from here, or over {v0} blocks; check its exit",
    "never left": "endless loop from here to line {v0}: nothing in it ever ends it; correct it",
    "too long to follow": "too many blocks to follow; travel is not known from here",
    "wrong offset": "the program uses {subject}; the parts are in {v0}",
    "offset not called": "the program never uses {subject}, where {v0} is",
    "offset not known": "the work offset depends on the block delete switch; call it without /",
    "tool not on card": "{subject} is not on the tool list; another job's program?",
    "tool not called": "{subject} is on the tool list; the program never loads it",
    "spindle reversed": "{subject} runs {v0}; this tool needs {v1}",
    "spindle not known": "{subject}: not known whether the spindle turns by {v0}; call it again",
    "speed off card": "{subject} S{v0}; the card allows {v1} to {v2} rpm",
    "feed off card": "{subject} F {f0}; the card allows {f1} to {f2}",
    "sideways feed off card": "{subject} F {f0} sideways; the card allows {f1} to {f2}",
    "rubbing": "{subject} feeds {l0} per turn; below {l1} it rubs: more feed or less speed",
    "pass too light": "{subject} cuts {l0} deep; below {l1} it rubs: cut deeper",
    "speed not known": "{subject} cuts at an unknown speed; check S",
    "feed not known": "{subject} cuts at an unknown feed; check F",
    "coolant on dry": "{subject} ({v0}) wets a hold-down that must stay dry; take it out",
    "coolant off card": "{subject} turns on {v0}; the operation calls for {v1}",
    "coolant missing": "{subject} cuts without {v0}; turn it on before the cut",
    "coolant not known": "{subject}: not known whether {v0} is on at the cut; check it",
    "plunge off card": "{subject} feeds down at {f0}; the card allows {f1} straight down",
    "pass too deep": "{subject} cuts {l0} deep in one pass; the card allows {l1}",
    "peck too deep": "{subject} pecks {l0}; the card allows {l1}",
    "stroke too deep": "{subject} drills {l0} without a peck; the card allows {l1}: use G83",
    "bored too deep": "{subject} goes {l0} deep in one stroke of {v2}; the card allows {l1}",
    "cuts sideways": "{subject} is a {v0} and moves sideways in the work at Z {l1}",
    "tap without cycle": "{subject} is a tap, and {v0} does not reverse it; use {v1}",
    "tap cycle": "{subject} is a {v0} tap; {v1} cuts the other hand: use {v2}",
    "tap pitch": "{subject} advances {l0} per rev; its pitch is {l1}",
    "not a tap": "{subject} is a {v0}; {v1} is for taps",
    "holder too low": "{subject}: a hole {l0} deep; it sticks out {l1}, so the holder hits the work",
    "past flutes": "{subject}: a hole {l0} deep; its flutes are {l1} long, so chips pack",
    "speed over limit": "{subject} S{v0}; the spindle of the station allows {v1} rpm",
    "unlisted M-code": "{subject} is not known; look it up, then list it in the station's `control`",
    "wrong units": "the program is in {subject}, the checklist in {v0}",
    "Z too deep": "{subject} goes to Z {l0}; the lowest allowed is {l1}",
    "Z not known": "{subject} is not known: {gap}",
    "outside carrier": "{subject} goes to {l0}; allowed is {limits}",
    "part turned": "the part is turned to {subject}; the limits hold at 0 only: check from here by hand",
    "pallet exchanged": "M60 may change the pallet: nobody knows what is cut next; end the program there",
    "travel not known": "{subject} is not known: {gap}",
    "travel assumed": "{subject} is assumed: {gap}",
    "file changed": "the file has changed since its first piece was accepted",
    "file not read": "the file cannot be read: {subject}",
    "no number": "the program has no number; cannot tell whether it is {v0}: add its O word",
    "number differs": "number {v0} in the {subject}, {v2} in the {v1}; right file?",
}
_READINGS = {  # with the setting of the station's `control`, or of `--set`, that decides
    "bare_number": "{v0} has no dot: {l1} or {l2}; set `control = {{ bare-number = … }}`",
    "dwell": "a dwell without a dot: {v0} s or {v1} s; set `control = {{ dwell = … }}`",
    "tool_change": "M6 loads T{v0} or the staged T{v1}; set `control = {{ tool-change = … }}`",
    "cycle_fires": "drills a hole on some controls only; set `control = {{ cycle-fires = … }}`",
    "cycle levels": "a cycle repeats in G91: to Z {l0}, or still to {l1}",
    "repeats": "{v0} repeats the cycle on some controls; set `control = {{ repeats = … }}`",
    "arc_centers": "fits only if I, J, K are absolute; set `control = {{ arc-centers = … }}`",
    "g10_l20": "G10 L20 sets the point or an extra offset; set `control = {{ g10-l20 = … }}`",
    "extra offset without P": "G54.1 without P means P1 on some controls; add P",
    "M5 beside a cut": "M5 stops the spindle before this cut on some controls, after it on others",
    "G70 and G71": "G70 and G71 are units on some controls, lathe cycles on others",
}
_ARCS = {"R": "radius", "no center": "no center", "radii": "radii at start and end differ"}
_REASONS = {
    "no value": "a variable or word without a known value",
    "two readings": "controls read a word in two ways",
    "bad word": "a word that cannot be read",
    "unknown code": "a code that is not known",
    "unknown point": "a cut from an unknown point",
    "bad arc": "an arc that does not fit its end points",
    "shifted": "a shift of the zero",
    "axes changed": "rotated, scaled or bent axes",
    "jump not known": "a jump that is not known",
    "call missing": "a subprogram that is not in the file",
    "macro call": "a macro call",
    "probe": "a probing move",
    "cycle varies": "a cycle that differs between controls",
    "rotary": "a rotary axis that turns with the move",
    "too long to follow": "too many blocks to follow",
    "never left": "an endless loop",
    "no word": "no word gives it",
    "tool change": "no word since the tool change",
    "offset change": "no word since the offset changed",
    "home": "no word since the move home",
    "machine coordinates": "no word since a move in machine coordinates",
    "program start": "no word since the program start",
    "offset written": "the program writes the offset",
    "skipped": "it depends on the block delete switch",
    "distance mode": "no G90 or G91, G90 assumed",
    "work offset": "no work offset, G54 assumed",
    "tool length": "no length offset of this tool",
    "radius compensation": "the path is off by the tool radius",
    "local shift": "G52 shifts the zero",
    "block delete": "some blocks may be skipped",
    "cycle fires": "controls differ on whether a block drills",
    "cycle repeats": "controls differ on whether a cycle repeats",
    "units": "no G20 or G21",
    "tool": "controls differ on which tool is loaded",
    "arc plane": "no plane, G17 assumed",
}


def describe_finding(finding: Finding, units: Units = "mm") -> str:
    """A finding as a sentence: what is wrong, then what to do. Lengths and feeds in ``units``."""
    template = _READINGS[finding.subject] if finding.kind == "two readings" else _SENTENCES[finding.kind]
    told = {"subject": finding.subject, "by": f"for {finding.subject} " if finding.subject else ""}
    for n, value in enumerate(finding.values):
        told |= {f"v{n}": _format(value), f"l{n}": _format_length(value, units), f"f{n}": _format_feed(value, units)}
    told["gap"] = describe_reason(str(finding.values[0])) if finding.values else ""
    told["lines"] = "1 line" if finding.values[:1] == (1,) else f"{told.get('v0')} lines"
    if finding.kind == "outside carrier":
        told["limits"] = format_limits(finding.values[1:], units)
    told["arc"] = _ARCS.get(finding.subject, "")
    return template.format(**told)


def describe_reason(why: str) -> str:
    """Why a value is assumed or unknown."""
    return _REASONS.get(why, why)


def format_length(value: float, units: Units) -> str:
    """``12.7 mm``, ``0.5 in``: three decimals of a millimeter, four of an inch."""
    if units == "inch":
        return f"{format_number(value / MM_PER_INCH, 4)} in"
    return f"{format_number(value, 3)} mm"


def format_number(value: float, decimals: int = 6) -> str:
    """A number without an exponent, trailing zeros or a minus before zero."""
    number = f"{value:.{decimals}f}".rstrip("0").rstrip(".")
    return "0" if number == "-0" else number


def format_limits(limits: Sequence[Value], units: Units) -> str:
    """``-30 mm to 150 mm``; ``-30 mm or more`` if the other limit is not stated."""
    low, high = ("" if isinstance(one, str) or abs(one) >= ANYWHERE else format_length(one, units) for one in limits)
    if low and high:
        return f"{low} to {high}"
    return f"{low} or more" if low else f"{high} or less"


def _format(value: Value) -> str:
    return format_number(value) if isinstance(value, float) else str(value)


def _format_length(value: Value, units: Units) -> str:
    return str(value) if isinstance(value, str) else format_length(value, units)


def _format_feed(value: Value, units: Units) -> str:
    return str(value) if isinstance(value, str) else f"{format_length(value, units)}/min"
