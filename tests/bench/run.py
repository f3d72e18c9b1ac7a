"""The benchmark: ``python tests/bench/run.py --json``.

Not a test: nothing fails here for being slow. Every other module in this folder is a part, with
``measure() -> (ratios, figures)``; a ratio sets two things side by side that were measured in the same run.
"""

from __future__ import annotations

import argparse
import importlib
import json
import sys
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent


def run(names: list[str]) -> dict[str, dict[str, Any]]:
    """Measure the named parts, one after the other."""
    told: dict[str, dict[str, Any]] = {"ratios": {}, "figures": {}}
    for name in names:
        sys.stderr.write(f"measuring {name} ...\n")
        ratios, figures = importlib.import_module(f"tests.bench.{name}").measure()
        told["ratios"] |= ratios
        told["figures"] |= figures
    return told


def main() -> None:
    """Measure, and print for a person or, with ``--json``, for a program."""
    there = sorted(part.stem for part in HERE.glob("*.py") if part.stem != Path(__file__).stem)
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("parts", nargs="*", choices=[*there, []], help="all where none is named")
    parser.add_argument("--json", action="store_true")
    chosen = parser.parse_args()
    sys.path.insert(0, str(HERE.parent.parent))
    told = run(chosen.parts or there)
    if chosen.json:
        sys.stdout.write(json.dumps(told, indent=2) + "\n")
        return
    for title, values in told.items():
        sys.stdout.write(f"{title}\n" + "".join(f"  {name:32} {value}\n" for name, value in values.items()))


if __name__ == "__main__":
    main()
