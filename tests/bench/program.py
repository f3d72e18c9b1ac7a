"""Reading an NC program of 1,000,000 lines: lines per second of processor time, the better of two."""

from __future__ import annotations

import random
import time

from floor.evidence.nc.dialect import Dialect
from floor.evidence.nc.reader import read_program

LINES = 1_000_000
PIECE = 1 << 18


def measure() -> tuple[dict[str, float], dict[str, float]]:
    """(ratios, figures): no ratios; a surface of short cuts, every tenth an arc, with a retract every hundred lines."""
    return {}, {
        "program_lines_per_s": LINES / _best(_write(" ")),
        "program_commented_lines_per_s": LINES / _best(_write(" (pass 1)")),
    }


def _write(ending: str) -> bytes:
    rng = random.Random(1)
    lines = ["%", "O1000", "G21 G17 G90 G94 G54", "T1 M6", "S12000 M3", "G0 X0. Y0.", "G43 H1 Z5. M8", "F900."]
    for n in range(LINES - len(lines) - 2):
        if n % 100 == 0:
            lines += [f"G0 Z5.{ending}"]
        elif n % 10 == 3:
            lines.append(f"G2 X{n % 97}. Y{n % 53}. R90. F{500 + n % 3}.{ending}")
        else:
            x, y, z = rng.uniform(0, 100), rng.uniform(0, 60), rng.uniform(-2, 0)
            lines.append(f"N{n} G1 X{x:.4f} Y{y:.4f} Z{z:.4f}{ending}")
    return "\n".join([*lines, "M30", "%"]).encode()


def _best(data: bytes) -> float:
    taken = []
    for _ in range(2):
        started = time.process_time()
        read_program(
            lambda: (data[at : at + PIECE] for at in range(0, len(data), PIECE)), dialect=Dialect(rapid=(9e3, 9e3, 6e3))
        )
        taken.append(time.process_time() - started)
    return min(taken)
