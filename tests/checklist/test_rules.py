"""Every checklist rule: a valid file passes, and one edit makes it report at the line of the edit."""

import json
import math
import tomllib
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from floor.checklist.equipment import Tool
from floor.checklist.loading import read_checklist
from floor.checklist.model import Checklist
from floor.checklist.rules import ADVISED, COMPLETE, REFERENCES, Rule, cutting
from floor.checklist.schema import make_validator
from floor.checklist.units import Measure, read_measure

BED = (
    'bed = { length = "7 in", width = "5 in", piece_diameter = "1 in", gap = "0.3 in", margin = "0.5 in", '
    'clamp = "0.5 in" }\n'
)
USED_UP = """
[[consumables]]
what = "Tape"
ops = [10]
by = "length"
each = "120 mm"
package = "33 m"
waste = "5 %"
source = "Trial"

[[consumables]]
what = "Paint"
ops = [20, 30]
by = "area"
each = "12 in**2"
solids = "40 %"
film = "25 um"
source = "Data sheet"

[[consumables]]
what = "Paste"
ops = [20]
by = "amount"
each = "3 g"
mix = "40 g"
pot_life = "pot life"
package = "1 kg"
source = "Trial"

[[consumables]]
what = "Seal"
ops = [30]
by = "count"
source = "Drawing"
"""
OFFSETS = 'offsets = ["G54"]\n'
IN_ANY_ORDER = """[[operations]]
op = 26
title = "Seal"
station = "bench"
carrier = "pallet"
cycle = false
any_order = true
time = { before_piece = "1 min" }
steps = [{ do = "Brush the seal on", id = "seal" }]
clocks = [{ id = "set", starts = "step seal", windows = [{ earliest = "1 h" }], source = "Label: 1 h" }]
reasons = [{ code = "run", text = "Run" }]

[[operations]]
op = 28
title = "Engrave"
station = "bench"
carrier = "pallet"
cycle = false
any_order = true
time = { before_piece = "1 min" }
steps = [{ gate = "cured", clock = "set" }, { do = "Engrave the number" }]
reasons = [{ code = "slip", text = "Slipped" }]

"""


def own(*offsets: str) -> str:
    """The offsets of the mill, and these for its pallets."""
    return OFFSETS + f"carrier_offsets = {{ pallet = {json.dumps(offsets)} }}\n"


CARD = """diameter = "0.5 in"
flutes = 2
chip_load = "0.004 in"
feed = "64 in/min"
surface_speed = "1047 ft/min"
life = "60 min"
"""
HELD = '  { gate = "work held", by = "clamps", do = "Tighten the clamps", second = true },\n'
FIRST = (
    '  { gate = "first piece accepted", at = "cycle", '
    'characteristics = [{ what = "depth", low = "0.19 in", high = "0.21 in" }] },\n'
)
DOOR = '  { do = "Shut the door", skip = false },\n'
STILL = '  { do = "Wait until the spindle stops", at = "after", skip = false },\n'
DEPTH = '  { gate = "measured", what = "depth", low = "0.19 in", high = "0.21 in" },\n'
SOAK = f"""{FIRST}  {{ gate = "cured", clock = "soak", at = "cycle" }},
{HELD}{DOOR}]
clocks = [
  {{ id = "soak", starts = "start", windows = [{{ earliest = "10 min", latest = "30 min" }}], source = "Sheet" }},
]
reasons = [{{ code = "depth","""
BY_HAND = """[[operations]]
op = 25
title = "Fill a void by hand"
station = "bench"
carrier = "pallet"
rework_only = true
cycle = false
time = { before_piece = "2 min" }
steps = [
  { do = "Put a drop in", id = "drop" },
  { gate = "cured", clock = "drop dry", at = "after" },
]
clocks = [{ id = "drop dry", starts = "step drop", windows = [{ earliest = "1 h" }], source = "Data sheet" }]
reasons = [{ code = "over", text = "Ran over" }]

[[operations]]
op = 30
"""
LIMITS = 'temperature_limit = "65 degC"\npower_limit = "2 kW"\nsource = "Plate"\n'
INSPECTING = '[[operations]]\nop = 30\ntitle = "Inspect"\nstation = "bench"\n'
OVEN_OF_CLASS_A = """[cautions.heat]
word = "CAUTION"
hazard = "Hot pieces"
consequence = "Can burn the hand"
avoid = "Heat gloves"
about = ["burns"]
source = "ISO 13732-1"

[[stations]]
id = "oven"
name = "Oven"
kind = "oven"
oven_class = "A"
solvent_limit = "1 L"
exhaust = "30 cfm"
temperature_limit = "120 degC"

"""
ABOUT = 'about = ["eyes", "entanglement"]\n'
LATER = (
    ("back_to = 20\n", "back_to = 20\nops = [20, 25, 30]\n"),
    ("[[operations]]\nop = 30\n", BY_HAND),
    ("capacity = 6\n", f"capacity = 6\n{BED}"),
    ('offsets = ["G54"]\n', f'offsets = ["G54"]\n{LIMITS}'),
    ('life = "60 min"\n', CARD),
    (']\nreasons = [{ code = "depth",', SOAK),
    (DEPTH, STILL + DEPTH),
    ('avoid = "Door shut"\n', f'avoid = "Door shut"\n{ABOUT}'),
)
RIGHT = (Path(__file__).parent / "right.toml").read_text() + USED_UP
FILLING = RIGHT[RIGHT.index('steps = [\n  { do = "Mix 20 g') : RIGHT.index('windows = [{ latest = "1 h" }')]
"""Of op 20, what stands between its times and the window of its cure."""
for _old, _new in LATER:
    assert _old in RIGHT
    RIGHT = RIGHT.replace(_old, _new, 1)
"""With what an earlier version of the format did not know: that version's file must stay as it was frozen."""

# rule, text to replace, replacement, then the place and the words of the finding
CASES = [
    ("check_duplicate_names", 'id = "bench"', 'id = "mill"', "station mill, id", 'station "mill" is in use already'),
    (
        "check_duplicate_names",
        'id = "cure"',
        'id = "pot life"',
        "op 20, clock pot life, id",
        'clock "pot life" is in use',
    ),
    (
        "check_duplicate_names_in_operation",
        'id = "fill"',
        'id = "mix"',
        "op 20, step 3, id",
        'step "mix" is in use already',
    ),
    (
        "check_duplicate_names_in_operation",
        'code = "other"',
        'code = "void"',
        "op 30, reason void, code",
        "in use already",
    ),
    (
        "check_duplicate_names_in_operation",
        'id = "fill"',
        'id = "cured 1"',
        "op 20, step 3, id",
        "how an unnamed step is called",
    ),
    ("check_route_order", "op = 20", "op = 5", "op 5, op", "op 5 comes after op 10"),
    ("check_route_order", "op = 20", "op = 10", "op 10, op", "op 10 comes after op 10"),
    (
        "check_operation_references",
        'carrier = "tote"',
        'carrier = "toat"',
        "op 30, carrier",
        'carrier "toat" is not in the file',
    ),
    (
        "check_operation_references",
        'station = "mill"\ncarrier',
        'station = "mil"\ncarrier',
        "op 10, station",
        'did you mean "mill"?',
    ),
    (
        "check_operation_references",
        'station = "mill"\nspeed',
        'station = "lathe"\nspeed',
        "tool 1, station",
        'station "lathe"',
    ),
    (
        "check_operation_references",
        "{ tool = 1, per",
        "{ tool = 7, per",
        "op 10, tool 7, tool",
        'tool "7" is not in the file',
    ),
    (
        "check_caution_references",
        'program = "X1-10 A"\n',
        'program = "X1-10 A"\nend_cautions = ["sofd"]\n',
        "op 10, end_cautions 1",
        'did you mean "soft"?',
    ),
    ("check_caution_references", '["soft"]', '["sofd"]', "op 30, step 1 (cured), cautions 1", 'did you mean "soft"?'),
    (
        "check_tool_station",
        'station = "mill"\nspeed',
        'station = "bench"\nspeed',
        "op 10, step 2 (tool loaded), tool",
        "belongs to bench",
    ),
    (
        "check_tool_station",
        'loaded", tool = 1',
        'loaded", tool = 2',
        "op 10, step 2 (tool loaded), tool",
        'tool "2" is not in',
    ),
    (
        "check_station_offset",
        'offset = "G54"',
        'offset = "G55"',
        "op 10, step 3 (probed), offset",
        'offset "G55" is not one of mill',
    ),
    (
        "check_carrier_offsets",
        OFFSETS,
        own("G54"),
        "station mill, carrier_offsets, pallet",
        "1 given for 2 of them",
    ),
    (
        "check_carrier_offsets",
        OFFSETS,
        own("G54", "G56"),
        "station mill, carrier_offsets, pallet 2",
        'offset "G56" is not one of mill; did you mean "G54"',
    ),
    (
        "check_carrier_offsets",
        OFFSETS,
        own("G54", "G54").replace("pallet", "palet"),
        "station mill, carrier_offsets, palet",
        'carrier "palet" is not in the file; did you mean "pallet"',
    ),
    (
        "check_operation_references",
        'station = "mill"\ncarrier = "pallet"\n',
        'station = "mill"\nalso_at = ["bnch"]\ncarrier = "pallet"\n',
        "op 10, also_at 1",
        'station "bnch" is not in the file; did you mean "bench"',
    ),
    (
        "check_operation_references",
        'station = "mill"\ncarrier = "pallet"\n',
        'station = "mill"\nalso_at = ["mill"]\ncarrier = "pallet"\n',
        "op 10, also_at 1",
        'station "mill" is already named',
    ),
    (
        "check_station_offset",
        'station = "mill"\ncarrier = "pallet"\n',
        'station = "mill"\nalso_at = ["bench"]\ncarrier = "pallet"\n',
        "op 10, step 3 (probed), offset",
        'offset "G54" is not one of bench',
    ),
    (
        "check_carriers_fit_stations",
        OFFSETS,
        OFFSETS + "runs_at_once = 2\ncarrier_places = { pallet = 3 }\n",
        "station mill, carrier_places, pallet",
        "a pallet takes 3 places, but mill has 2; `runs_at_once` is the number of places: at least 3",
    ),
    (
        "check_carriers_fit_stations",
        OFFSETS,
        OFFSETS + "runs_at_once = 2\ncarrier_places = { palet = 2 }\n",
        "station mill, carrier_places, palet",
        'carrier "palet" is not in the file; did you mean "pallet"',
    ),
    (
        "check_loads_per_cycle",
        'program = "X1-10 A"\n',
        'program = "X1-10 A"\nloads_per_cycle = 2\n',
        "op 10, loads_per_cycle",
        "2 of pallet take 2 places, but mill has 1; `runs_at_once = 2` at mill, or fewer loads to a cycle",
    ),
    (
        "check_loads_per_cycle",
        "cycle = false\n",
        "cycle = false\nloads_per_cycle = 2\n",
        "op 20, loads_per_cycle",
        "2 loads in one cycle, but there is no cycle",
    ),
    (
        "check_probe_offset",
        OFFSETS,
        own("G54", "G54"),
        "op 10, step 3 (probed), offset",
        "G54 for every pallet, but at mill it belongs to one of them; leave `offset` out",
    ),
    (
        "check_probe_offset",
        'offset = "G54", ',
        "",
        "op 10, step 3 (probed)",
        "names no offset, and mill has none for a pallet",
    ),
    (
        "check_axis_offsets",
        '{ name = "Z", low',
        '{ name = "Z", offset = "G55", low',
        "op 10, step 3 (probed), axis Z, offset",
        'offset "G55" is not probed here; did you mean "G54"',
    ),
    (
        "check_axis_offsets",
        '{ name = "Z", low',
        '{ name = "Z" }, { name = "Z", offset = "G54", low',
        "op 10, step 3 (probed), axes",
        "axis Z twice for G54",
    ),
    ("check_reason_targets", ', rework = "again"', "", "op 30, reason void", "names no rework"),
    ("check_reason_targets", 'to = "rework", rework', 'to = "hold", rework', "op 30, reason void", "sends to hold"),
    (
        "check_reason_targets",
        'rework = "again"',
        'rework = "agan"',
        "op 30, reason void, rework",
        'did you mean "again"?',
    ),
    ("check_reason_targets", "caused_at = 10", "caused_at = 30", "op 10, reason depth, caused_at", "caused at op 30"),
    ("check_reason_targets", "caused_at = 10", "caused_at = 15", "op 10, reason depth, caused_at", 'op "15" is not'),
    (
        "check_reason_targets",
        'text = "Spilled"',
        'text = "Spilled", to = "rework", rework = "late"',
        "op 20, reason spill, rework",
        "starts at op 30",
    ),
    ("check_rework_targets", "back_to = 20", "back_to = 27", "rework again, back_to", 'op "27" is not in the file'),
    ("check_rework_targets", "20, 25, 30", "20, 27, 30", "rework again, ops 2", 'op "27" is not in the file'),
    ("check_rework_order", "20, 25, 30", "25, 30", "rework again, ops", "starts with op 25, but the rework goes"),
    ("check_rework_order", "20, 25, 30", "20, 30, 25", "rework again, ops", "operations out of order"),
    (
        "check_rework_complete",
        'text = "Spilled"',
        'text = "Spilled", to = "rework", rework = "skips"',
        "op 20, reason spill, rework",
        "rework skips leaves out op 20, which a piece found here has not passed; add 20 to the `ops` of skips",
    ),
    ("check_rework_only_operations", "20, 25, 30", "20, 30", "op 25, rework_only", "no rework passes op 25; name it"),
    (
        "check_rework_only_operations",
        'title = "Mill pocket"',
        'title = "Mill pocket"\nrework_only = true',
        "op 10, rework_only",
        "the first operation cannot be for rework only",
    ),
    (
        "check_rework_only_operations",
        "rework_only = true\n",
        "rework_only = true\nexpected_yield = 0.9\n",
        "op 25, expected_yield",
        "state it as the `expected_yield` of the rework",
    ),
    (
        "check_rework_clocks",
        'clock = "cure", at = "arrive"',
        'clock = "drop dry", at = "arrive"',
        "op 30, step 1 (cured), clock",
        "waits for a clock of op 25, which only reworked pieces pass",
    ),
    (
        "check_reason_shares",
        'rework = "again", caused_at',
        'rework = "again", share = 0.2, caused_at',
        "op 30",
        "a yield of 1 and 0.2 to rework add up to more than 1",
    ),
    (
        "check_reason_shares",
        '"Spilled"',
        '"Spilled", share = 0.2',
        "op 20, reason spill, share",
        "pieces sent to scrap",
    ),
    (
        "check_reason_shares",
        '"Ran over"',
        '"Ran over", to = "rework", rework = "again", share = 0.1',
        "op 25, reason over, share",
        "a share at an operation that only rework passes",
    ),
    (
        "check_any_order",
        'title = "Mill pocket"\n',
        'title = "Mill pocket"\nany_order = true\n',
        "op 10, any_order",
        "no operation beside it may be done in any order",
    ),
    (
        "check_any_order",
        "[[operations]]\nop = 30\n",
        IN_ANY_ORDER + "[[operations]]\nop = 30\n",
        "op 28, any_order",
        "waits for set, which starts in op 26: their order matters",
    ),
    (
        "check_do_confirm",
        'program = "X1-10 A"\n',
        'program = "X1-10 A"\ndo_confirm = ["arrive"]\n',
        "op 10, do_confirm",
        '"arrive" has no two steps to confirm',
    ),
    (
        "check_do_confirm",
        'title = "Fill pocket"\n',
        'title = "Fill pocket"\ndo_confirm = ["load"]\n',
        "op 20, do_confirm",
        '"Mix 20 g of paste" stops, restarts or depends on what runs: its list is read, then done',
    ),
    (
        "check_do_confirm",
        'title = "Fill pocket"\n',
        'title = "Fill pocket"\ndo_confirm = ["load"]\n',
        "op 20, do_confirm",
        '"Fill each pocket flush" starts a timer, which counts from its confirmation',
    ),
    (
        "check_do_confirm",
        '  { do = "Look at each pocket: no void", at = "load" },\n]\n',
        '  { do = "Look", at = "load" },\n  { do = "Wipe", at = "load", cautions = ["soft"] },\n]\n'
        'do_confirm = ["load"]\n',
        "op 30, do_confirm",
        '"Wipe" has a caution, which is read before it: its list is read, then done',
    ),
    (
        "check_same_time",
        'id = "fill" }',
        'id = "fill", same_time_as = "mixx" }',
        "op 20, step 3, same_time_as",
        'no other step of its phase is named "mixx"',
    ),
    (
        "check_same_time",
        'id = "fill" }',
        'id = "fill", same_time_as = "fill" }',
        "op 20, step 3, same_time_as",
        'no other step of its phase is named "fill"',
    ),
    (
        "check_recheck",
        'program = "X1-10 A"\n',
        'program = "X1-10 A"\nrecheck_after = "50 s"\n',
        "op 10, recheck_after",
        "50 s is shorter than a step takes",
    ),
    ("check_clock_starts", '"step fill"', '"step fil"', "op 20, clock cure, starts", 'did you mean "fill"?'),
    ("check_clock_starts", '"step fill"', '"poured"', "op 20, clock cure, starts", '"poured" is not an event'),
    ("check_clock_starts", '"step fill"', '"end"', "op 20, clock cure, starts", "op 20 has no cycle"),
    (
        "check_cure_air",
        'source = "Data sheet" }]',
        'source = "Data sheet", humidity = "85 %" }]',
        "op 25, clock drop dry, humidity",
        'a coat does not cure at 85 % humidity; take it from the data sheet, such as "50 %"',
    ),
    (
        "check_cure_air",
        'source = "Data sheet" }]',
        'source = "Data sheet", temperature = "50 degF" }]',
        "op 25, clock drop dry, temperature",
        'a coat hardly cures at 50 degF: below 10 degC no time counts; take it from the data sheet, such as "25 degC"',
    ),
    (
        "check_cure_air",
        'windows = [{ latest = "30 min" }]',
        'temperature = "77 degF", windows = [{ latest = "30 min" }]',
        "op 20, clock pot life",
        "states air, but no time that cold or damp air could lengthen; leave `temperature` and `humidity` out, or add "
        "`earliest`",
    ),
    (
        "check_window_order",
        '{ latest = "1 h" }',
        "{ }",
        "op 20, clock cure, window 1",
        "neither an earliest nor a latest",
    ),
    (
        "check_window_order",
        '{ latest = "1 h" }',
        '{ earliest = "2 h", latest = "1 h" }',
        "op 20, clock cure, window 1",
        "earliest (2 h) is after latest (1 h)",
    ),
    (
        "check_window_order",
        'earliest = "24 h"',
        'earliest = "60 min"',
        "op 20, clock cure, window 2",
        "before the window above it has ended",
    ),
    (
        "check_cured_gates",
        'clock = "cure"',
        'clock = "kure"',
        "op 30, step 1 (cured), clock",
        'did you mean "cure"?',
    ),
    (
        "check_cured_gates",
        'clock = "pot life" }',
        'clock = "pot life", until = "fil" }',
        "op 20, step 2 (cured), until",
        'did you mean "fill"?',
    ),
    (
        "check_cured_gates",
        'clock = "pot life" }',
        'clock = "pot life", until = "mix" }',
        "op 20, step 2 (cured), until",
        'no step after it in the same phase of op 20 is called "mix"',
    ),
    (
        "check_cured_gates",
        'clock = "pot life" }',
        'clock = "cure" }',
        "op 20, step 2 (cured), clock",
        "cannot have started here",
    ),
    (
        "check_cured_gates",
        '{ gate = "program loaded" }',
        '{ gate = "program loaded" }, { gate = "cured", clock = "cure" }',
        "op 10, step 2 (cured), clock",
        "starts only at op 20",
    ),
    (
        "check_cured_gates",
        'while_running = "pot life"',
        'while_running = "cure"',
        "op 20, step 1, while_running",
        "runs for each piece",
    ),
    (
        "check_cured_gates",
        'while_running = "pot life"',
        'while_running = "life"',
        "op 20, step 1, while_running",
        "is not in the file",
    ),
    (
        "check_limit_order",
        'low = "0.19 in"',
        'low = "0.22 in"',
        "op 10, step 5 (measured)",
        "low (0.22 in) is above high (0.21 in)",
    ),
    (
        "check_limit_order",
        'low = "0.19 in"',
        'low = "4.8 mm"',
        "op 10, step 5 (measured)",
        'low is stated in "mm", high in "in"',
    ),
    ("check_limit_order", 'low = "-5.1 in"', 'low = "-4.8 in"', "op 10, step 3 (probed), axis Z", "is above high"),
    ("check_limit_order", ', low = "0.19 in", high = "0.21 in"', "", "op 10, step 5 (measured)", "has no limit"),
    (
        "check_limit_order",
        'high = "0.21 in"',
        'high = "0.21 in", accept = "bright"',
        "op 10, step 5 (measured)",
        "limits and `accept` too",
    ),
    (
        "check_tool_within_station",
        'speed = "8000 rpm"',
        'speed = "8001 rpm"',
        "tool 1, speed",
        "8001 rpm is above the 8000 rpm",
    ),
    (
        "check_tool_life_kind",
        'per_piece = "2 min"',
        'per_piece = "1 piece"',
        "op 10, tool 1, per_piece",
        "cannot be taken from a life of 60 min",
    ),
    ("check_tool_life_kind", 'life = "60 min"', "", "op 10, tool 1, per_piece", "no life to take it from"),
    (
        "check_limit_order",
        'loaded", tool = 1',
        'loaded", low = "-1 in", high = "-5 in", tool = 1',
        "op 10, step 2 (tool loaded)",
        "low (-1 in) is above high (-5 in)",
    ),
    (
        "check_limit_order",
        'loaded", tool = 1',
        'loaded", length = false, low = "1 in", tool = 1',
        "op 10, step 2 (tool loaded)",
        "limits of a length that is not asked for",
    ),
    (
        "check_temperature_within_station",
        'low = "0.19 in", high = "0.21 in"',
        'low = "120 degF", high = "176 degF"',
        "op 10, step 5 (measured), high",
        "176 degF is above the 65 degC of Mill; at most 65 degC; Plate",
    ),
    (
        "check_power_within_station",
        'low = "0.19 in", high = "0.21 in"',
        'low = "0 W", high = "2200 W"',
        "op 10, step 5 (measured), high",
        "2200 W is above the 2 kW of Mill; at most 2 kW; Plate",
    ),
    (
        "check_surface_speed",
        '"1047 ft/min"',
        '"524 ft/min"',
        "tool 1, surface_speed",
        "524 ft/min is not what 8000 rpm gives at 0.5 in; 1047 ft/min (pi x diameter x rpm); or 4003 rpm",
    ),
    (
        "check_card",
        '"64 in/min"',
        '"640 in/min"',
        "tool 1, feed",
        "640 in/min does not match 8000 rpm, 2 teeth and 0.004 in per tooth; 64 in/min (rpm x teeth x chip load)",
    ),
    (
        "check_cycles_fit_windows",
        'cycle = "20 min"',
        'cycle = "45 min"',
        "op 10, time, cycle",
        "a planned cycle of 45 min ends after 30 min, outside the window of soak; plan 10 to 30 min; Sheet",
    ),
    (
        "check_cycles_fit_windows",
        'cycle = "20 min"',
        'cycle_piece = "1 min"',
        "op 10, time, cycle_piece",
        "a planned cycle of 6 min ends before 10 min",
    ),
    (
        "check_program_names_in_texts",
        '{ gate = "program loaded" }',
        '{ gate = "program loaded", detail = "Control shows X1-10 B" }',
        "op 10, step 1 (program loaded), detail",
        'the text says "X1-10 B", the operation\'s program is "X1-10 A"',
    ),
    (
        "check_program_names_in_texts",
        '{ gate = "program loaded" }',
        '{ gate = "program loaded", more = ["Why: two are alike", "How: X1-10 B is on the display"] }',
        "op 10, step 1 (program loaded), more 2",
        'the text says "X1-10 B", the operation\'s program is "X1-10 A"',
    ),
    (
        "check_program_names_in_texts",
        '  { gate = "probed"',
        '  { do = "Compare with the set-up sheet of X1-10 C" }, { gate = "probed"',
        "op 10, step 3, do",
        'the text says "X1-10 C"',
    ),
    ("check_carrier_places", "capacity = 6", "capacity = 7", "carrier pallet", "2 rows of 3 do not make 7 places"),
    ("check_carrier_places", "capacity = 6", "capacity = 3", "carrier pallet", "2 rows of 3 do not make 3 places"),
    ("check_carrier_places", "rows = 2\n", "", "carrier pallet", "rows or columns, but not both"),
    (
        "check_steps_without_cycle",
        '{ before_piece = "1 min" }',
        '{ before_piece = "1 min" }\nend_cautions = ["soft"]',
        "op 20, end_cautions",
        "the operation has no cycle",
    ),
    ("check_steps_without_cycle", 'id = "fill"', 'id = "fill", at = "cycle"', "op 20, step 3, at", "op 20 has none"),
    (
        "check_steps_without_cycle",
        '{ before_piece = "1 min" }',
        '{ before = "1 min", cycle = "1 min" }',
        "op 20, time",
        "the operation no cycle",
    ),
    (
        "check_steps_without_cycle",
        'program = "X1-10 A"\ntime = {',
        'program = "X1-10 A"\nmay_outlast_shift = true\ntime = { cycle_attended = true,',
        "op 10, time",
        "cannot outlast the shift",
    ),
    (
        "check_pause_lists",
        '  { do = "Look',
        '  { do = "Turn it over", at = "load" },\n' * 9 + '  { do = "Look',
        "op 30, steps",
        "10 items in the list at `load`",
    ),
    (
        "check_caution_number",
        'cautions = ["cutter"]',
        'cautions = ["cutter", "soft", "cutter", "soft"]',
        "op 10, step 2 (tool loaded), cautions",
        "4 cautions on one step",
    ),
    (
        "check_caution_number",
        'program = "X1-10 A"\n',
        'program = "X1-10 A"\nstart_cautions = ["soft", "soft"]\n',
        "op 10, start_cautions",
        "names a caution twice",
    ),
    (
        "check_caution_number",
        'cautions = ["cutter"]',
        'cautions = ["cutter", "cutter"]',
        "op 10, step 2 (tool loaded), cautions",
        "names a caution twice",
    ),
    (
        "check_caution_number",
        'at = "load" },\n]',
        'at = "load", cautions = ["soft"] },\n { do = "Stop", cautions = ["soft"] },\n]',
        "op 30, steps",
        "every step has a caution",
    ),
    ("check_caution_parts", 'consequence = "Can cut"\n', "", "caution cutter", "WARNING does not state what happens"),
    ("check_piece_shape", 'piece_diameter = "1 in"\n', "", "blank", "the piece needs one shape"),
    ("check_piece_shape", '"1 in"\n', '"1 in"\npiece_width = "1 in"\n', "blank", "the piece needs one shape"),
    (
        "check_part_used",
        'piece_diameter = "1 in", gap',
        'part_used = true, piece_diameter = "1 in", gap',
        "carrier pallet, bed, part_used",
        "one by one, and a bed is no blank; take it out",
    ),
    (
        "check_clamp_width",
        'margin = "0.5 in"\n',
        'margin = "0.5 in"\nclamp_at = "one end"\n',
        "blank, clamp_at",
        "but not how wide they are; add `clamp`",
    ),
    (
        "check_pieces_fit",
        'length = "9 in"',
        'length = "1.9 in"',
        "blank",
        "op 10: not one piece of 1 in round fits 1.9 in x 9 in with a margin of 0.5 in; take a larger blank",
    ),
    (
        "check_pieces_fit",
        'piece_diameter = "1 in"\n',
        'piece_length = "20 in"\npiece_width = "2 in"\n',
        "blank",
        "op 10: not one piece of 20 in x 2 in fits 9 in x 9 in",
    ),
    (
        "check_pieces_fit",
        'length = "7 in"',
        'length = "1 in"',
        "carrier pallet, bed",
        "op 10: not one piece of 1 in round fits 1 in x 5 in with a margin of 0.5 in and clamps of 0.5 in at both ends",
    ),
    (
        "check_pieces_fit",
        'length = "7 in"',
        'length = "3 in"',
        "carrier pallet, capacity",
        "op 10: 6 pieces are more than the 4 that fit its bed of 3 in x 5 in; capacity 4; or a larger bed",
    ),
    (
        "check_consumable_names",
        'what = "Seal"',
        'what = "Tape"',
        "consumable Tape, what",
        "name all its operations in one",
    ),
    ("check_consumable_references", "ops = [10]", "ops = [15]", "consumable Tape, ops 1", 'op "15" is not in the file'),
    ("check_consumable_references", "[20, 30]", "[20, 20]", "consumable Paint, ops", "names an operation twice"),
    ("check_consumable_amounts", '"5 %"', '"100 %"', "consumable Tape, waste", "100 % of it wasted leaves nothing"),
    (
        "check_consumable_amounts",
        '"120 mm"',
        '"34 m"',
        "consumable Tape, each",
        "a cut of 34 m does not come out of 33 m",
    ),
    ("check_consumable_amounts", 'film = "25 um"\n', "", "consumable Paint", "how far does it spread?"),
    (
        "check_consumable_amounts",
        'film = "25 um"\n',
        'film = "25 um"\nspreading = "9 m**2/L"\n',
        "consumable Paint",
        "how far does it spread?",
    ),
    ("check_consumable_amounts", '"40 %"', '"120 %"', "consumable Paint", "solids up to 100 %"),
    (
        "check_consumable_amounts",
        'package = "1 kg"',
        'package = "1 L"',
        "consumable Paste, package",
        "3 g of each cannot be taken from 1 L; state all of them as masses, or all as volumes",
    ),
    (
        "check_mix_lasts",
        '"40 g"',
        '"2 g"',
        "consumable Paste",
        "op 20: a mix of 2 g is used up or over its pot life before",
    ),
    ("check_mix_lasts", 'before_piece = "1 min"', 'before_piece = "3 h"', "consumable Paste", "less time a piece"),
    ("check_mix_lasts", 'mix = "40 g"\n', "", "consumable Paste, pot_life", "has a pot life, but no mix"),
    (
        "check_mix_lasts",
        '"pot life"\npack',
        '"potlife"\npack',
        "consumable Paste, pot_life",
        'did you mean "pot life"?',
    ),
    (
        "check_mix_lasts",
        '"pot life"\npack',
        '"cure"\npack',
        "consumable Paste, pot_life",
        "never ends, so it is no pot life",
    ),
    (
        "check_mix_lasts",
        'each = "3 g"',
        'each = "3 g"\nper = "load"',
        "consumable Paste, per",
        "shared out by the piece",
    ),
    ("check_unused", ', cautions = ["soft"]', "", "caution soft", "is never used"),
    (
        "check_clocks_watched",
        '{ gate = "cured", clock = "cure", at',
        '{ do = "Wait", at',
        "op 20, clock cure",
        "no gate waits",
    ),
    (
        "check_programs_read_back",
        '  { gate = "program loaded" },\n',
        "",
        "op 10, program",
        "no gate reads the program back",
    ),
    ("check_programs_read_back", 'program = "X1-10 A"\n', "", "op 10, step 1 (program loaded)", "names no program"),
    (
        "check_tools_proved",
        '  { gate = "tool loaded", tool = 1, cautions = ["cutter"] },\n',
        '  { do = "Load it", cautions = ["cutter"] },\n',
        "op 10, tool 1",
        "no gate proves that tool 1 is loaded",
    ),
    ("check_loss_reasons", 'reasons = [{ code = "spill", text = "Spilled" }]\n', "", "op 20", "no reason for scrap"),
    ("check_loss_reasons", ", needs_note = true", "", "op 30, reason other", '"other" says nothing by itself'),
    ("check_cycle_times", ', cycle = "20 min"', "", "op 10, time", "no time for the cycle"),
    (
        "check_uninterrupted_times",
        'program = "X1-10 A"\n',
        'program = "X1-10 A"\nin_one_go = true\n',
        "op 10, in_one_go",
        "no time for the attended work; add `before`, `before_piece` or `after`",
    ),
    ("check_cycle_times", 'time = { before_piece = "1 min" }\n', "", "op 20", "no time for the work"),
]
IN_THE_CYCLE = '\ntools = [{ tool = 1, per_piece = "2 min" }]\nsteps = [\n'
SEATED = '  { gate = "confirmed", do = "Seated", at = "cycle" },\n'
TURN = (
    '  { do = "Turn over", at = "cycle", cycle = "stands" },\n'
    + SEATED
    + '  { do = "Second side", at = "cycle", cycle = "goes on" },\n'
)
MILLED = 'title = "Mill pocket"\n'
MILLING = RIGHT[RIGHT.index(MILLED) : RIGHT.index(STILL)]
"""Of op 10, from its title to its steps that come before the measuring."""
UP_TO_THE_TOOLS = RIGHT[RIGHT.index("[[tools]]") : RIGHT.index("{ tool = 1, per_piece")]
DRILL = """[[tools]]
number = 2
name = "Drill"
station = "mill"
kind = "drill"
diameter = "0.5 in"
life = "60 min"

[[tools]]
"""
TAPED = '  { gate = "work held", by = "tape", do = "Pull at the taped plate", what = "pull", low = "50 N" },\n'
SOAKS = '  { gate = "cured", clock = "soak", at = "cycle" },\n'
AIR = '  {{ gate = "air measured", low = "15 degC", high = "30 degC", {} }},\n'


def soaked(fields: str) -> str:
    """The cycle with a soak proved by readings."""
    return f'{SOAKS}  {{ gate = "soaked", time = "10 min", {fields} }},\n'


def flat(most: str) -> str:
    """Heights at three places, an inch apart, and the most that they may fall."""
    places = ("0 in", "0 in"), ("1 in", "0 in"), ("0 in", "1 in")
    heights = [f'{{ name = "Z{n}", x = "{x}", y = "{y}" }}' for n, (x, y) in enumerate(places)]
    return f'[{", ".join(heights)}], flat = "{most}"'


PROGRAM = 'program = "X1-10 A"\n'
WITH_FILE = 'program_file = "O10.nc"\n'
IN_FOLDER = OFFSETS + 'program_folder = "programs"\n'
CASES += [
    (
        "check_program_is_read",
        PROGRAM,
        PROGRAM + 'program_file = "O10.nc"\n',
        "op 10, program_file",
        'mill has no folder to find it in; add `program_folder = "programs"` to station mill',
    ),
    (
        "check_program_is_read",
        PROGRAM,
        PROGRAM + 'program_file = "../O10.nc"\n',
        "op 10, program_file",
        "is more than a file name; name the folder at the station",
    ),
    (
        "check_program_is_read",
        'time = { before_piece = "1 min" }',
        'program_file = "O20.nc"\ntime = { before_piece = "1 min" }',
        "op 20, program_file",
        'no gate reads it; add a step with `gate = "program loaded"`',
    ),
    (
        "check_program_is_read",
        PROGRAM,
        PROGRAM + 'program_limits = { z_low = "-1 mm" }\n',
        "op 10, program_limits",
        "has limits, but no program file to check; add `program_file`",
    ),
    (
        "check_program_limits",
        PROGRAM,
        PROGRAM + 'program_limits = { x_low = "5 in", x_high = "5 in" }\n',
        "op 10, program_limits",
        "x_low (5 in) is not below x_high (5 in); put the smaller value first",
    ),
    (
        "check_program_depths",
        PROGRAM,
        PROGRAM + 'program_limits = { z_low = "0.1 in" }\n',
        "op 10, program_limits",
        "z_low (0.1 in) is not below the top of the work (0); make it negative, or state `z_top`",
    ),
    (
        "check_program_depths",
        PROGRAM,
        PROGRAM + 'program_limits = { z_low = "0.5 mm" }\n',
        "op 10, program_limits",
        "z_low (0.5 mm) is not below the top of the work (0)",
    ),
    (
        "check_program_depths",
        PROGRAM,
        PROGRAM + 'program_limits = { rapid_z_low = "2 in", z_top = "1 in" }\n',
        "op 10, program_limits",
        "rapid_z_low (2 in) is above the top of the work (1 in)",
    ),
    (
        "check_program_depths",
        PROGRAM,
        PROGRAM + 'program_limits = { rapid_z_low = "-2 in", z_low = "-1 in" }\n',
        "op 10, program_limits",
        "rapid_z_low (-2 in) is below z_low (-1 in)",
    ),
    (
        "check_program_number",
        PROGRAM,
        'program = "O0999"\n' + WITH_FILE,
        "op 10, program_file",
        "O10.nc has another number than program O0999; name the file of this program",
    ),
    (
        "check_station_folders",
        OFFSETS,
        OFFSETS + 'readings_folder = "../../etc"\n',
        "station mill, readings_folder",
        "\"..\" leads out of the shop's folder; name a folder in the shop's folder, or a full path",
    ),
    (
        "check_station_folders",
        OFFSETS,
        OFFSETS + 'program_folder = "nc/../../other"\n',
        "station mill, program_folder",
        '".." leads out of the shop\'s folder',
    ),
    (
        "check_soak_times",
        SOAKS,
        soaked('low = "50 degC", high = "60 degC"').replace("10 min", "0 min"),
        "op 10, step 8 (soaked), time",
        "no time at temperature proves nothing; state how long",
    ),
    (
        "check_soak_times",
        SOAKS,
        soaked('low = "50 degC", high = "60 degC"').replace("10 min", "20 min"),
        "op 10, step 8 (soaked), time",
        "20 min at temperature leaves no time to get there in a cycle of 20 min; lengthen `cycle`, or shorten the time",
    ),
    (
        "check_soak_times",
        SOAKS,
        soaked('low = "50 degC", high = "60 degC", longest_gap = "10 min"'),
        "op 10, step 8 (soaked), longest_gap",
        "gaps of 10 min cannot prove 10 min; make it less than `time`",
    ),
    (
        "check_air",
        SOAKS,
        SOAKS + AIR.format('humidity_high = "700 %"'),
        "op 10, step 8 (air measured), humidity_high",
        "700 % is not a relative humidity; above 0 %, at most 100 %",
    ),
    (
        "check_air",
        SOAKS,
        SOAKS + AIR.format('humidity_high = "0 %"'),
        "op 10, step 8 (air measured), humidity_high",
        "0 % is not a relative humidity",
    ),
    (
        "check_air",
        SOAKS,
        SOAKS + AIR.format('good_for = "0 h"'),
        "op 10, step 8 (air measured), good_for",
        "a reading that is good for no time proves nothing",
    ),
    (
        "check_air",
        SOAKS,
        SOAKS + AIR.format('at = "after"'),
        "op 10, step 8 (air measured), at",
        'measures the air after the coat is on; use `at = "load"`',
    ),
    (
        "check_tilt_places",
        'name = "Z", low',
        'name = "Z", x = "0 in", y = "0 in", low',
        "op 10, step 3 (probed), axes",
        "has `x` and `y`, but no `flat` to hold the heights to; add `flat`",
    ),
    (
        "check_tilt_places",
        'name = "Z", low',
        'name = "Z", x = "0 in", low',
        "op 10, step 3 (probed), axis Z",
        "has x or y, but not both; state where the height is probed",
    ),
    (
        "check_tilt_places",
        '{ gate = "probed", ',
        '{ gate = "probed", flat = "0.002 in", ',
        "op 10, step 3 (probed), flat",
        "a tilt needs three points that are not in a line",
    ),
    (
        "check_temperature_bands",
        SOAKS,
        soaked('low = "65 degC", high = "150 degF"'),
        "op 10, step 8 (soaked)",
        'low is stated in "degC", high in "degF"; write both limits in one unit',
    ),
    (
        "check_temperature_bands",
        SOAKS,
        soaked('low = "60 degC", high = "60 degC"'),
        "op 10, step 8 (soaked)",
        "low and high are both 60 degC; leave room between them",
    ),
    (
        "check_soaks",
        SOAKS,
        soaked('low = "50 degC", high = "66 degC"'),
        "op 10, step 8 (soaked), high",
        "66 degC is above the 65 degC of Mill; at most 65 degC",
    ),
    (
        "check_soaks",
        SOAKS,
        soaked('low = "50 degC", high = "60 degC", control = "door"'),
        "op 10, step 8 (soaked)",
        '`by = "control sensor"` and `control` go together; state both, or neither',
    ),
    (
        "check_soaks",
        SOAKS,
        soaked('low = "50 degC", high = "60 degC", longest_gap = "0 min"'),
        "op 10, step 8 (soaked), longest_gap",
        'no two readings are that close; leave it out, or "15 min"',
    ),
    (
        "check_soaks",
        SOAKS,
        soaked('low = "50 degC", high = "60 degC", at = "load"'),
        "op 10, step 8 (soaked)",
        'a soak check before the cycle proves nothing; use `at = "cycle"` or `at = "after"`',
    ),
    (
        "check_temperature_bands",
        SOAKS,
        SOAKS + '  { gate = "air measured", low = "95 degF", high = "50 degF" },\n',
        "op 10, step 8 (air measured)",
        "low (95 degF) is above high (50 degF); put the smaller value first",
    ),
    (
        "check_control_settings",
        OFFSETS,
        OFFSETS + 'control = { dwell = "minutes" }\n',
        "station mill, control, dwell",
        '"dwell=minutes" is not a setting; choose seconds or milliseconds',
    ),
]
CASES += [
    (
        "check_holding_proved",
        MILLING,
        MILLING + TAPED.replace(', low = "50 N"', ""),
        "op 10, step 4 (work held)",
        "nothing proves that it holds",
    ),
    (
        "check_holding_through_cuts",
        MILLING,
        MILLING.replace(MILLED, f"{MILLED}through = true\n") + TAPED.replace(" },", ", through = false },"),
        "op 10, step 4 (work held)",
        "the tool goes through the work, and tape must not be cut",
    ),
    (
        "check_holding_coolant",
        MILLING,
        MILLING.replace(MILLED, f'{MILLED}coolant = "flood"\n') + TAPED,
        "op 10, step 4 (work held)",
        "the cut runs with flood coolant, and tape holds dry only",
    ),
    (
        "check_limit_order",
        MILLING,
        MILLING + TAPED.replace(" },", ', high = "3 in" },'),
        "op 10, step 4 (work held)",
        'low is stated in "N", high in "in"; write both limits in one unit',
    ),
    (
        "check_holding_named",
        MILLING,
        MILLING + TAPED.replace('what = "pull", ', ""),
        "op 10, step 4 (work held)",
        "has limits, and nothing says of what",
    ),
    (
        "check_proved_in_time",
        '{ gate = "probed", ',
        '{ gate = "probed", at = "after", ',
        "op 10, step 3 (probed), at",
        'proves where the work sits once the cut is over; use `at = "load"`, before the cut',
    ),
    (
        "check_proved_in_time",
        '{ gate = "tool loaded", ',
        '{ gate = "tool loaded", at = "after", ',
        "op 10, step 2 (tool loaded), at",
        'proves that the tool is there once the cut is over; use `at = "setup"`',
    ),
    (
        "check_proved_in_time",
        '{ gate = "program loaded" ',
        '{ gate = "program loaded", at = "after" ',
        "op 10, step 1 (program loaded), at",
        "proves which program runs once the cut is over",
    ),
    *(
        (
            "check_samples",
            'what = "depth", low',
            f'sample = {sample}, what = "depth", low',
            "op 10, step 5 (measured), sample",
            words,
        )
        for sample, words in (
            (0, 'a sample of 0 measures nothing; use 1 or more, or "all"'),
            (-2, "a sample of -2 measures nothing"),
            (7, 'a sample of 7 from a load of 6; use at most 6, or "all"'),
        )
    ),
    *(
        (
            "check_samples",
            'what = "depth", low',
            f'what = "depth", {fields}, low',
            f"op 10, step 5 (measured), {at}",
            words,
        )
        for fields, at, words in (
            ('sample = { every = 5 }, per = "setup"', "per", "one in every 5 pieces is taken of each load; leave out"),
            ('sample = { every = 5 }, of = "station"', "of", "of a station; measure a station once"),
            (
                "sample = { aql = 1.1 }",
                "sample, aql",
                "1.1 % is no AQL of MIL-STD-105E; use one it has: 0.4, 0.65",
            ),
        )
    ),
    (
        "check_samples",
        '{ gate = "measured", what = "depth", low = "0.19 in", high = "0.21 in" }',
        '{ gate = "measured", what = "depth", accept = "no chatter", sample = { aql = 1.0 } }',
        "op 10, step 5 (measured), accept",
        "one count of what fails; state the look in `characteristics`: each piece gets its own answer",
    ),
    *(
        (
            "check_limit_order",
            '{ gate = "measured", what = "depth", low = "0.19 in", high = "0.21 in" }',
            f'{{ gate = "measured", what = "slot", {fields}, characteristics = '
            '[{ what = "depth", low = "0.19 in", high = "0.21 in" }] }',
            f"op 10, step 5 (measured), {at}",
            words,
        )
        for fields, at, words in (
            ('low = "1 in"', "low", "`low` stands beside `characteristics`; state it at the characteristic"),
            ("number = 3", "number", "`number` stands beside `characteristics`"),
            ('of = "station"', "of", "a station has no characteristics; use one check for each reading"),
        )
    ),
    (
        "check_limit_order",
        '{ gate = "measured", what = "depth", low = "0.19 in", high = "0.21 in" }',
        '{ gate = "measured", what = "slot", characteristics = [{ what = "depth" }] }',
        "op 10, step 5 (measured), characteristics 1",
        "has no limit, so nothing could be refused",
    ),
    (
        "check_quantity_units",
        MILLING,
        MILLING + TAPED.replace('"pull"', '"clamp torque"'),
        "op 10, step 4 (work held), low",
        '"50 N" is not a torque; write it like "25 N*m", or rename `what`',
    ),
    (
        "check_quantity_units",
        MILLING,
        MILLING + '  { gate = "measured", what = "Dry film thickness", low = "25 mm" },\n',
        "op 10, step 4 (measured), low",
        '25 mm is too thick for a coat; write it in "um" or "thou"',
    ),
    (
        "check_quantity_units",
        'film = "25 um"',
        'film = "25 mm"',
        "consumable Paint, film",
        "25 mm is too thick for a coat",
    ),
    (
        "check_tap_pitch",
        'flutes = 2\nchip_load = "0.004 in"\n',
        'flutes = 2\nkind = "tap"\n',
        "tool 1",
        "a tap without a pitch: its feed cannot be checked; add `pitch`; now it advances 0.008 in per rev",
    ),
    (
        "check_fields_of_kind",
        "flutes = 2\n",
        'flutes = 2\nkind = "end mill"\nangle = "60 deg"\n',
        "tool 1, angle",
        "an end mill has no `angle`; take it out, or correct `kind`",
    ),
    (
        "check_fields_of_kind",
        "flutes = 2\n",
        'flutes = 2\nkind = "face mill"\npitch = "1 mm"\n',
        "tool 1, pitch",
        "a face mill has no `pitch`",
    ),
    (
        "check_fields_of_kind",
        "flutes = 2\n",
        'flutes = 2\nkind = "tap"\npitch = "0.008 in"\n',
        "tool 1, chip_load",
        "a tap has no `chip_load`",
    ),
    (
        "check_card",
        'feed = "64 in/min"\n',
        'feed = "64 in/min"\nplunge = "65 in/min"\n',
        "tool 1, plunge",
        "65 in/min straight down is faster than 64 in/min sideways; at most 64 in/min",
    ),
    (
        "check_reamed_holes",
        UP_TO_THE_TOOLS,
        UP_TO_THE_TOOLS.replace("[[tools]]\n", DRILL).replace("flutes = 2\n", 'flutes = 2\nkind = "reamer"\n')
        + '{ tool = 2, per_piece = "2 min" }, ',
        "tool 1, diameter",
        "nothing is left to ream at 0.5 in: op 10 drills 0.5 in before it; use a smaller drill or a larger reamer",
    ),
    (
        "check_booth_cleared",
        'id = "bench"\nname = "Bench"\nkind = "bench"',
        'id = "bench"\nname = "Bench"\nkind = "booth"',
        "op 30",
        'no gate waits until the booth is clear; add a clock with `earliest`, and `gate = "cured"` on it; 30 min until',
    ),
    (
        "check_proved_in_time",
        MILLING,
        MILLING + TAPED.replace(" },", ', at = "after" },'),
        "op 10, step 4 (work held), at",
        "proves that the work is held once the cut is over",
    ),
    (
        "check_lapse_causes",
        MILLING,
        MILLING + TAPED.replace(" },", ', lapses_on = ["lifted", "lifted"] },'),
        "op 10, step 4 (work held), lapses_on",
        "names one twice",
    ),
    (
        "check_lot_gates",
        MILLING,
        MILLING + 2 * '  { gate = "lot recorded", what = "Tape" },\n',
        "op 10, step 5 (lot recorded)",
        'the lot of "Tape" is asked for already in op 10',
    ),
    (
        "check_lots_of_first_pieces",
        MILLING,
        MILLING + '  { gate = "first piece accepted", again_for = ["Bar"] },\n',
        "op 10, step 4 (first piece accepted), again_for 1",
        'op 10 records no lot of "Bar"; add a `lot recorded` gate, or leave it out',
    ),
    (
        "check_holding_load",
        MILLING,
        MILLING + TAPED.replace(" },", ", pieces = 1 },"),
        "op 10, step 4 (work held)",
        "a load has 6 pieces, and 1 are held at once",
    ),
]
CASES += [
    (
        "check_stand_and_resume",
        IN_THE_CYCLE,
        IN_THE_CYCLE + TURN.replace('cycle = "goes on" ', "").replace(", }", " }"),
        "op 10, step 1, cycle",
        'the cycle never goes on after it; add a step with `cycle = "goes on"` after it',
    ),
    (
        "check_stand_and_resume",
        IN_THE_CYCLE,
        IN_THE_CYCLE + TURN.replace('"stands"', '"goes on"'),
        "op 10, step 1, cycle",
        '"goes on" with no "stands" before it',
    ),
    (
        "check_stand_and_resume",
        IN_THE_CYCLE,
        IN_THE_CYCLE + TURN.replace('at = "cycle", cycle = "stands"', 'at = "load", cycle = "stands"'),
        "op 10, step 1, cycle",
        "`cycle` where no cycle runs",
    ),
    (
        "check_turn_time",
        IN_THE_CYCLE,
        IN_THE_CYCLE + TURN,
        "op 10, time",
        "no time for the attended work within the cycle; add `turn` or `turn_piece`",
    ),
    (
        "check_turn_time",
        'cycle = "20 min" }',
        'cycle = "20 min", turn = "2 min" }',
        "op 10, time",
        "a time for turning over, but nothing stops the cycle",
    ),
]
AS_FAR_AS_FILLING = RIGHT[: RIGHT.index("time = { before_piece")]
BOTH_ON_THE_MILL = (
    AS_FAR_AS_FILLING.replace("format = 1\n", "format = 1\norder = 60\n")
    .replace('name = "Mill"\n', 'name = "Mill"\nkind = "bench"\n')  # else its cut asks for other things too
    .replace('title = "Fill pocket"\nstation = "bench"', 'title = "Fill pocket"\nstation = "mill"')
    + 'time = { setup = "5 min", '
)
"""60 pieces on two pallets of 6: ten loads go through two operations of the mill, two at a time."""
UP_TO_THE_CURE = RIGHT[RIGHT.index("back_to = 20") : RIGHT.index('reasons = [{ code = "spill"')]
UP_TO_THE_MIX = RIGHT[RIGHT.index("back_to = 20") : RIGHT.index('  { do = "Mix 20 g of paste"')]
CHILL = '{ id = "chill", starts = "end", windows = [{ earliest = "1 h" }], source = "Sheet" }'
TO_PROGRAM = RIGHT[RIGHT.index(OFFSETS) : RIGHT.index(PROGRAM) + len(PROGRAM)]
ADVICE = [
    (
        "check_program_limited",
        TO_PROGRAM,
        TO_PROGRAM.replace(OFFSETS, IN_FOLDER) + WITH_FILE + 'program_limits = { y_low = "-1 mm" }\n',
        "op 10, program_file",
        "the program's depth, travel in X: not checked; add `z_low`, `x_low`, `x_high` to `program_limits`",
    ),
    (
        "check_repeated",
        'do = "Look at each pocket: no void"',
        'do = "Look at each pocket twice: no void"',
        "op 30, step 2, do",
        '"twice" states neither how often at most nor what ends it',
    ),
    ("check_unused_equipment", 'carrier = "tote"', 'carrier = "pallet"', "carrier tote", "is never used"),
    (
        "check_windows_outlast_work",
        'time = { before_piece = "1 min" }\n' + FILLING + 'windows = [{ latest = "1 h" }, { earliest = "24 h" }]',
        'time = { before_piece = "1 min", after = "5 min" }\n' + FILLING + 'windows = [{ latest = "1 min" }]',
        "op 20, clock cure, windows",
        "cure closes 1 min after it starts, and what follows at op 20 takes 5 min with a single piece: op 30 is 4 min "
        "too late; shorten",
    ),
    (
        "check_rework_gates",
        UP_TO_THE_MIX,
        UP_TO_THE_MIX.replace("back_to = 20\nops = [20, 25, 30]", "back_to = 10\nops = [10, 25, 30]").replace(
            'clocks = [\n  { id = "soak"', f'clocks = [\n  {CHILL}, {{ id = "soak"'
        )
        + '  { gate = "cured", clock = "chill", at = "arrive" },\n',
        "rework again, ops",
        "op 10 starts chill, and op 20, which waits for it, is left out; add 20",
    ),
    (
        "check_rework_windows",
        UP_TO_THE_CURE,
        UP_TO_THE_CURE.replace("back_to = 20\nops = [20, 25, 30]", "back_to = 25\nops = [25, 30]").replace(
            'earliest = "24 h"', 'earliest = "24 h", latest = "48 h"'
        ),
        "op 30, step 1 (cured)",
        "rework again comes back here without op 20: the window of cure may have closed; `once = true` here",
    ),
    (
        "check_seating_after_turn",
        'time = { setup = "10 min", cycle = "20 min" }' + IN_THE_CYCLE,
        'time = { setup = "10 min", cycle = "20 min", turn = "2 min" }' + IN_THE_CYCLE + TURN.replace(SEATED, ""),
        "op 10, step 1",
        "nothing proves they are seated before the cut goes on; add a gate before the cycle goes on",
    ),
    (
        "check_setups",
        AS_FAR_AS_FILLING + "time = { ",
        BOTH_ON_THE_MILL,
        "op 20",
        "60 pieces are 10 loads, and 2 of pallet go through op 10 and 20 at a time: 10 set-ups instead of 2, "
        "75 min instead of 15; `regroup = true` here",
    ),
    (
        "check_length_units",
        'low = "0.19 in", high = "0.21 in"',
        'low = "4.8 mm", high = "5.3 mm"',
        "op 10, step 5 (measured)",
        "4.8 mm is typed in here, but `units` of the part is inch; write it as the drawing does, or "
        '`units = "metric"` at the part',
    ),
    (
        "check_length_units",
        'revision = "A"\n',
        'revision = "A"\nunits = "metric"\n',
        "op 10, step 3 (probed)",
        "-5.1 in is typed in here, but `units` of the part is metric",
    ),
    (
        "check_length_units",
        'feed = "64 in/min"',
        'feed = "1625 mm/min"',
        "tool 1, feed",
        "1625 mm/min is programmed, but `units` of the part is inch; write it as the drawing does",
    ),
    (
        "check_length_units",
        'diameter = "0.5 in"\n',
        'diameter = "12.7 mm"\ndepth = "2 mm"\n',
        "tool 1, depth",
        "2 mm is programmed, but",
    ),
    (
        "check_first_piece_values",
        FIRST,
        '  { gate = "first piece accepted", at = "cycle" },\n',
        "op 10, step 6 (first piece accepted)",
        "is accepted by words alone: no value is asked for; add `characteristics`",
    ),
    (
        "check_station_steps",
        DOOR,
        DOOR.replace(", skip = false", ""),
        "op 10, step 9",
        "no step that must be done comes last before the start; end the load's steps with one",
    ),
    (
        "check_station_steps",
        DOOR,
        "",
        "op 10",
        "no step that must be done comes last before the start; end the load's steps with one",
    ),
    (
        "check_station_steps",
        STILL,
        STILL.replace(", skip = false", ""),
        "op 10, step 4",
        "no step that must be done comes first after the cycle; put one first",
    ),
    (
        "check_station_steps",
        STILL,
        "",
        "op 10, step 4 (measured)",
        "no step that must be done comes first after the cycle; put one first",
    ),
    (
        "check_probed_zero",
        '  { gate = "probed", offset = "G54", axes = [{ name = "Z", low = "-5.1 in", high = "-4.9 in" }] },\n',
        "",
        "op 10",
        'cuts, and no gate proves where the work sits; add a step with `gate = "probed"`, `offset = "G54"`',
    ),
    (
        "check_first_piece",
        FIRST,
        "",
        "op 10",
        "cuts, and no first piece is accepted",
    ),
    (
        "check_first_piece",
        '"first piece accepted", at = "cycle"',
        '"first piece accepted"',
        "op 10, step 6 (first piece accepted)",
        'accepted when all of a load (6) are cut; `at = "cycle"`',
    ),
    (
        "check_first_piece",
        '"first piece accepted", at = "cycle"',
        '"first piece accepted", at = "load"',
        "op 10, step 6 (first piece accepted)",
        'the first piece is accepted before it is cut; use `at = "cycle"`: stop after the first piece, then go on',
    ),
    (
        "check_holding_stated",
        HELD,
        "",
        "op 10",
        'cuts on a pallet, and no gate proves that the work is held; add a step with `gate = "work held"`',
    ),
    (
        "check_safety_steps",
        '"Look at each pocket: no void", at = "load" }',
        '"Look at each pocket: no void", at = "load", cautions = ["cutter"] }',
        "op 30, step 2",
        "a step under a WARNING may be skipped with a reason; write `skip = false`",
    ),
    (
        "check_safety_lapses",
        MILLING,
        MILLING + '  { do = "Shut the door", at = "setup", skip = false, cautions = ["cutter"] },\n',
        "op 10, step 4",
        'protects a person at the start, but nothing voids it; write `at = "load"` and `lapses_on`',
    ),
    (
        "check_hazards_cautioned",
        ABOUT,
        'about = ["eyes", "noise"]\n',
        "op 10",
        'no caution here is about entanglement; give a step a caution with `about = ["entanglement"]`',
    ),
    (
        "check_hazards_cautioned",
        'program = "X1-10 A"\n',
        'program = "X1-10 A"\ncoolant = "flood"\n',
        "op 10",
        "no caution here is about coolant; give a step",
    ),
    (
        "check_hazards_cautioned",
        INSPECTING,
        OVEN_OF_CLASS_A + INSPECTING.replace("bench", "oven") + 'count_cautions = ["heat"]\n',
        "op 30",
        "no caution here is about fire; give a step",
    ),
    (
        "check_oven_plates",
        INSPECTING,
        OVEN_OF_CLASS_A.replace('"A"', '"B"').replace('exhaust = "30 cfm"\n', "").replace('"burns"', '"burns", "fire"')
        + INSPECTING.replace("bench", "oven")
        + 'count_cautions = ["heat"]\n',
        "op 30, station",
        "heats a coat that may hold solvent, but the plate of Oven is incomplete; "
        'add `oven_class = "A"`, `exhaust` to the station',
    ),
    (
        "check_plan_takes_fewer",
        'what = "depth", low',
        'what = "depth", sample = { aql = 1.0 }, low',
        "op 10, step 5 (measured), sample",
        'AQL 1 takes all 6 of a full load; AQL 2.5 takes 5; write `sample = "all"` if that is meant',
    ),
    (
        "check_balloons",
        'revision = "A"\n',
        'revision = "A"\ndrawing = "X-1 sheet 1"\n',
        "op 10, step 5 (measured)",
        "depth has no balloon number; add `number`",
    ),
    (
        "check_one_action",
        '"Look at each pocket: no void"',
        '"Look at each pocket and fill each void"',
        "op 30, step 2",
        'two actions in one step: the second is "fill"; make two steps',
    ),
    (
        "check_cut",
        'feed = "64 in/min"\n',
        'kind = "fly cutter"\nfeed = "64 in/min"\ndepth = "0.002 in"\n',
        "tool 1, depth",
        "0.002 in deep is too light: it rubs; 0.007874 in deep or more",
    ),
    ("check_card_complete", 'chip_load = "0.004 in"\n', "", "tool 1", "add `chip_load`; now each tooth takes"),
    (
        "check_card_complete",
        "flutes = 2\n",
        "",
        "tool 1",
        "0.004 in per tooth, but the number of teeth is not stated; add",
    ),
    (
        "check_card_complete",
        "flutes = 2\n",
        'flutes = 2\nstroke = "0.1 in"\nangle = "90 deg"\n',
        "tool 1",
        "its stroke of 0.1 in cannot be checked; add `depth` and `angle`",
    ),
    (
        "check_flatness",
        '[{ name = "Z", low = "-5.1 in", high = "-4.9 in" }]',
        flat("0.02 in"),
        "op 10, step 3 (probed), flat",
        "0.02 in across 1.414 in lets any carrier pass; less than 0.014 in",
    ),
    (
        "check_repeats",
        '[{ name = "Z", low = "-5.1 in", high = "-4.9 in" }]',
        '[{ name = "Z", low = "-5.1 in", high = "-4.9 in" }], repeats = "0.2 in"',
        "op 10, step 3 (probed), repeats",
        "0.2 in is as wide as the limits or wider, so it checks nothing; state how far off the carrier may be",
    ),
    (
        "check_shared_offsets",
        OFFSETS,
        OFFSETS + "runs_at_once = 2\n",
        "station mill",
        "Pallet 1, Pallet 2 share G54, and more than one may be on mill at once; give each its own in",
    ),
    (
        "check_tool_life",
        'life = "60 min"',
        'life = "11 min"',
        "op 10, tool 1",
        "lasts 11 min, and a full load of 6 takes 12 min; a life of at least 12 min",
    ),
    (
        "check_use_by",
        MILLING,
        MILLING + '  { gate = "lot recorded", what = "Bar stock" },\n',
        "op 10, step 4 (lot recorded)",
        "asks for a use-by date of Bar stock, and does not say that it has one; add `use_by = true`; `use_by = false`",
    ),
]
MORE_REWORKS = {
    '"late"': '[[reworks]]\nid = "late"\nname = "Inspect again"\nback_to = 30\n\n[[operations]]\nop = 10',
    '"skips"': '[[reworks]]\nid = "skips"\nname = "Mill again"\nback_to = 10\nops = [10, 30]\n\n'
    "[[operations]]\nop = 10",
}


def right_for(new: str) -> str:
    """The right file, with the rework that an edit names."""
    more = next((text for id, text in MORE_REWORKS.items() if id in new), "[[operations]]\nop = 10")
    return RIGHT.replace("[[operations]]\nop = 10", more)


@pytest.mark.parametrize(
    ("characteristic", "wrong"),
    [
        ('{ what = "depth", number = 4 }', "has no limit"),
        ('{ what = "depth", low = "3 mm", high = "2 mm" }', "is above high"),
        ('{ what = "depth", low = "3 mm", accept = "deep" }', "has limits and `accept` too"),
    ],
)
def test_a_characteristic_of_a_first_piece_can_be_refused(characteristic: str, wrong: str) -> None:
    text = (Path(__file__).parents[1] / "batch" / "part.toml").read_text()
    first = '{ gate = "first piece accepted", independent = true'
    assert first in text
    loaded = read_checklist(text.replace(first, f"{first}, characteristics = [{characteristic}]"), "part.toml")
    assert any(wrong in str(problem) for problem in loaded.problems), loaded.problems


def test_the_right_file_has_no_problem() -> None:
    loaded = read_checklist(RIGHT, "right.toml")

    assert loaded.problems == loaded.warnings == ()
    assert loaded.checklist is not None


@pytest.mark.parametrize(("rule", "old", "new", "place", "words"), CASES, ids=[f"{c[0]}-{c[4][:20]}" for c in CASES])
def test_one_edit_breaks_the_rule(rule: str, old: str, new: str, place: str, words: str) -> None:
    text = right_for(new)
    assert old in text

    loaded = read_checklist(text.replace(old, new, 1), "x.toml")

    said = [
        problem
        for problem in loaded.problems
        if problem.place == place and words in f"{problem.wrong}; {problem.right}"
    ]
    assert len(said) == 1, [str(problem) for problem in loaded.problems]
    assert loaded.checklist is None


@pytest.mark.parametrize(
    ("old", "new"),
    [
        pytest.param(
            OFFSETS,
            OFFSETS + "runs_at_once = 2\ncarrier_places = { pallet = 2 }\n",
            id="a carrier that fills its station",
        ),
        pytest.param(
            "[[operations]]\nop = 30\n",
            IN_ANY_ORDER.replace('{ gate = "cured", clock = "set" }, ', "").replace("clocks = ", "# ")
            + "[[operations]]\nop = 30\n",
            id="two operations in any order",
        ),
        pytest.param(
            '  { do = "Look',
            '  { do = "Turn it over", at = "load" },\n' * 8 + '  { do = "Look',
            id="nine items in a list",
        ),
        pytest.param(
            '{ gate = "program loaded" }',
            '{ gate = "program loaded", detail = "Control shows X1-10 A" }',
            id="a text that names the program as it is",
        ),
    ],
)
def test_what_is_just_within_a_rule_is_no_problem(old: str, new: str) -> None:
    assert old in RIGHT
    assert read_checklist(RIGHT.replace(old, new, 1), "x.toml").problems == ()


@pytest.mark.parametrize(
    ("limits", "left"),
    [
        ("", "depth, travel in X, travel in Y"),
        ('program_limits = { z_top = "1 mm", x_low = "0 mm" }\n', "depth, travel in Y"),
        ('program_limits = { z_low = "-1 mm", x_high = "9 mm", y_high = "9 mm" }\n', ""),
    ],
)
def test_what_a_program_is_not_held_to_is_said(limits: str, left: str) -> None:
    text = RIGHT.replace(OFFSETS, IN_FOLDER, 1).replace(PROGRAM, PROGRAM + WITH_FILE + limits, 1)
    loaded = read_checklist(text, "x.toml")
    said = [f"the program's {left}: not checked"] if left else []
    assert ([one.wrong for one in loaded.warnings], loaded.problems) == (said, ())


@pytest.mark.parametrize("field", ["start_cautions", "end_cautions", "count_cautions"])
def test_a_caution_on_a_line_that_is_no_step_is_used(field: str) -> None:
    text = RIGHT.replace(', cautions = ["soft"]', "").replace("op = 10\n", f'op = 10\n{field} = ["soft"]\n', 1)
    assert f'{field} = ["soft"]' in text
    assert read_checklist(text, "x.toml").problems == ()


def test_two_steps_named_alike_are_not_reported_to_be_named_as_an_unnamed_one_too() -> None:
    loaded = read_checklist(right_for("").replace('id = "fill"', 'id = "mix"', 1), "x.toml")
    assert [problem.wrong for problem in loaded.problems if "step" in problem.place] == ['step "mix" is in use already']


@pytest.mark.parametrize(("rule", "old", "new", "place", "words"), ADVICE, ids=[f"{c[0]}-{c[4][:20]}" for c in ADVICE])
def test_one_edit_brings_a_warning_and_the_file_stays_usable(
    rule: str, old: str, new: str, place: str, words: str
) -> None:
    assert old in RIGHT

    loaded = read_checklist(RIGHT.replace(old, new, 1), "x.toml")

    [warning] = loaded.warnings
    assert (warning.place, words in f"{warning.wrong}; {warning.right}") == (place, True), str(warning)
    assert f"x.toml:{warning.line}: warning: " in str(warning)
    assert loaded.problems == ()
    assert loaded.checklist is not None
    assert list(next(one for one in ADVISED if one.__name__ == rule)(loaded.checklist))


@pytest.mark.parametrize("said", ["use_by = true", "use_by = false", "serial = true"])
def test_a_lot_that_says_whether_it_has_a_date_brings_no_warning(said: str) -> None:
    lot = f'  {{ gate = "lot recorded", what = "Bar stock", {said} }},\n'
    assert read_checklist(RIGHT.replace(MILLING, MILLING + lot, 1), "x.toml").warnings == ()


def test_a_load_without_a_size_makes_no_sample_too_large() -> None:
    """The size that stands in for a missing one is nobody's."""
    first = '{ gate = "first piece accepted"'
    text = RIGHT.replace(first, f'{{ gate = "measured", what = "bore", high = "3 mm", sample = 2 }},\n  {first}', 1)
    assert text != RIGHT
    assert read_checklist(text, "x.toml").problems == ()
    [problem] = read_checklist(text.replace("capacity = 6\n", "", 1), "x.toml").problems
    assert "capacity" in str(problem)


def test_a_field_that_nobody_knows_hides_nothing_else() -> None:
    """What the file leaves out, and what a careful shop would change, are reported in the same run."""
    text = RIGHT
    for old, new in [
        ('title = "Inspect"', 'title = "Inspect"\nfamily = "dry"'),
        ('reasons = [{ code = "spill", text = "Spilled" }]\n', ""),
    ]:
        assert text.count(old) == 1
        text = text.replace(old, new)
    case = next(one for one in ADVICE if one[0] == "check_windows_outlast_work")
    assert case[1] in text
    loaded = read_checklist(text.replace(case[1], case[2]), "x.toml")

    assert [(one.place, one.wrong) for one in loaded.problems if one.place.endswith("family")] == [
        ("op 30, family", "is not a field here")]  # fmt: skip
    assert any("op 20" in one.place and "reason" in f"{one.wrong}{one.right}" for one in loaded.problems)
    assert [one.place for one in loaded.warnings] == [case[3]]


def test_warnings_are_listed_with_problems_but_not_for_an_unreadable_file() -> None:
    lacking = RIGHT.replace('chip_load = "0.004 in"\n', "")
    wrong, unreadable = lacking.replace('clock = "cure"', 'clock = "kure"'), lacking.replace('"60 min"', '"0 pieces"')

    assert len(read_checklist(wrong, "x").warnings) == 1
    assert read_checklist(unreadable, "x").warnings == ()
    [problem] = read_checklist(unreadable, "x").problems
    assert (problem.place, problem.wrong) == ("tool 1, life", '"0 pieces" must be more than 0'), str(problem)


@given(
    diameter=st.floats(0.5, 200), rpm=st.integers(50, 30_000), teeth=st.integers(1, 12), chip=st.floats(0.005, 0.5),
    figures=st.integers(2, 5),
)  # fmt: skip
def test_a_card_worked_out_and_rounded_is_never_complained_of(
    diameter: float, rpm: int, teeth: int, chip: float, figures: int
) -> None:
    """V = pi D N, F = f n N (Groover; from memory), each rounded to 2 to 5 figures; ten times either is noticed."""
    diameter, chip = round(diameter, 3), round(chip, 4)
    surface, feed = math.pi * diameter * rpm / 1000, chip * teeth * rpm
    right = card(diameter, rpm, teeth, chip, f"{surface:.{figures}g}", f"{feed:.{figures}g}")
    tenfold = card(diameter, rpm, teeth, chip, f"{surface * 10:.4g}", f"{feed * 10:.4g}")

    compared = (cutting.check_surface_speed, cutting.check_card)
    assert [list(rule(right)) for rule in compared] == [[], []]
    assert [len(list(rule(tenfold))) for rule in compared] == [1, 1]


def card(diameter: float, rpm: int, teeth: int, chip: float, surface: str, feed: str) -> Checklist:
    def of(value: object, unit: str, dimension: str) -> Measure:
        return read_measure(f"{value} {unit}", dimension)

    tool = Tool(
        number=1, name="Cutter", station="mill", flutes=teeth, diameter=of(diameter, "mm", "length"),
        speed=of(rpm, "rpm", "speed"), chip_load=of(chip, "mm", "length"),
        surface_speed=of(float(surface), "m/min", "surface speed"), feed=of(float(feed), "mm/min", "feed"),
    )  # fmt: skip
    checklist = read_checklist(RIGHT, "x").checklist
    assert checklist is not None
    return replace(checklist, tools=(tool,))


@pytest.mark.parametrize(
    ("edit", "why"),
    [
        (("order = 60", "order = 12"), "as many pallets as loads share each set-up"),
        (('carrier = "pallet"\ncycle = false\n', 'carrier = "pallet"\nregroup = true\ncycle = false\n'), "it regroups"),
        (('time = { setup = "5 min", ', "time = { "), "the second is not set up for"),
        (('title = "Fill pocket"\nstation = "mill"', 'title = "Fill pocket"\nstation = "bench"'), "elsewhere"),
    ],
    ids=lambda case: case if isinstance(case, str) else "",
)
def test_set_ups_that_every_load_shares_are_not_pointed_out(edit: tuple[str, str], why: str) -> None:
    text = RIGHT.replace(AS_FAR_AS_FILLING + "time = { ", BOTH_ON_THE_MILL)
    assert edit[0] in text
    loaded = read_checklist(text.replace(edit[0], edit[1], 1), "x.toml")
    assert not [one for one in loaded.warnings if "set-ups instead" in one.wrong]


@pytest.mark.parametrize(
    ("fields", "place", "words"),
    [
        ("{ evrx = 5 }", "sample, evrx", 'did you mean "every"? known: every, aql, level, reduced'),
        ("{ every = 5, aql = 1.0 }", "sample, aql", "`aql` beside a field of the other kind of sample"),
        ("{ levex = 2 }", "sample, levex", 'did you mean "level"?'),
        ("{ aql = 1.0, level = 2 }", "sample, level", 'write one of "I", "II", "III"'),
        (
            '"every 4"',
            "sample",
            '"every 4" is not known here; write a number of pieces, "all", "first and last", { every',
        ),
        (
            "2.5",
            "sample",
            'write a number of pieces, "all", "first and last", { every = 4 } or { aql = 1.0, level = "II"',
        ),
    ],
)
def test_a_wrong_field_of_a_sample_is_named_with_the_right_ones(fields: str, place: str, words: str) -> None:
    problems = read_checklist(RIGHT.replace('what = "depth"', f'what = "depth", sample = {fields}'), "x.toml").problems
    told = [str(one) for one in problems if one.place == f"op 10, step 5 (measured), {place}"]
    assert any(words in one for one in told), [str(one) for one in problems]


def test_two_characteristics_of_a_piece_are_told_apart() -> None:
    twice = '{ what = "bore", number = 2, low = "1 in" }, { what = "bore", number = 2, high = "2 in" }'
    was = '{ gate = "measured", what = "depth", low = "0.19 in", high = "0.21 in" }'
    assert was in RIGHT
    loaded = read_checklist(
        RIGHT.replace(was, f'{{ gate = "measured", what = "slot", characteristics = [{twice}] }}'), "x.toml"
    )
    assert {one.wrong for one in loaded.problems} == {"bore is there twice", "2 is there twice"}


def test_every_rule_has_a_case() -> None:
    assert {case[0] for case in CASES} == {rule.__name__ for rule in REFERENCES + COMPLETE}
    assert {case[0] for case in ADVICE} == {rule.__name__ for rule in ADVISED}


@pytest.mark.parametrize("rule", REFERENCES + COMPLETE, ids=lambda rule: rule.__name__)
def test_the_named_rule_is_the_one_that_speaks(rule: Rule) -> None:
    for name, old, new, *_ in CASES:
        if name == rule.__name__:
            text = right_for(new)
            data = tomllib.loads(text.replace(old, new, 1))
            checklist = make_validator().validate_json(json.dumps(data, default=str))
            assert list(rule(checklist))


CARD = (Path(__file__).parents[2] / "checklists" / "thermal-break-plate.toml").read_text()


@pytest.mark.parametrize(
    ("was", "now", "places"),
    [
        ('diameter = "0.5 in"', 'diameter = "0.5 inn"', ["tool 3, diameter"]),
        ('speed = "16000 rpm"', 'speed = "16000 rpn"', ["tool 1, speed"]),
        ("flutes = 2", 'flutes = "two"', ["tool 1, flutes"]),
        ('speed_limit = "18000 rpm"', 'speed_limit = "18000 rpn"', ["station router, speed_limit"]),
    ],
)
def test_nothing_is_computed_from_a_value_of_a_card_that_could_not_be_read(
    was: str, now: str, places: list[str]
) -> None:
    """An example stood in for it, and the rest of the card was told wrong by that."""
    assert was in CARD

    assert [problem.place for problem in read_checklist(CARD.replace(was, now, 1), "f").problems] == places
