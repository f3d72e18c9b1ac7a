"""The test part with a program file for its first operation, and a right program."""

LINE = "program loaded 1"
PROGRAM = """%
O0710 (KB7-10 A)
G21 G17 G90 G94 G40 G49 G80
G54
T1 M6 (6 MM END MILL)
S8000 M3
G0 X10. Y10.
G43 H1 Z5.
M8
G1 Z-3. F200.
X50. F800.
Y40.
G0 Z5.
M9
M5
T2 M6 (3 MM DRILL)
S4000 M3
G0 X20. Y20.
G43 H2 Z5.
M8
G98 G81 X20. Y20. Z-3.1 R1. F160.
X30.
G80
G0 Z5.
M9
M5
G91 G28 Z0.
G90
M30
%
"""

EDITS = (
    ("revised = ", 'units = "metric"\nrevised = '),
    ('offsets = ["G54"]\n', 'offsets = ["G54"]\nprogram_folder = "programs"\n'),
    (
        'program = "KB7-10 A"\n',
        'program = "KB7-10 A"\nprogram_file = "O0710.nc"\nprogram_limits = { z_low = "-3.2 mm", '
        'x_low = "-1 mm", x_high = "80 mm", y_low = "-1 mm", y_high = "60 mm" }\ncoolant = "flood"\n',
    ),
    (
        'name = "6 mm end mill"\n',
        'name = "6 mm end mill"\nspeed = "8000 rpm"\nfeed = "800 mm/min"\nplunge = "200 mm/min"\n',
    ),
    ('name = "3 mm drill"\n', 'name = "3 mm drill"\nspeed = "4000 rpm"\nfeed = "160 mm/min"\n'),
)
"""Of the test part: a program file for op 10, and cards for its tools."""
