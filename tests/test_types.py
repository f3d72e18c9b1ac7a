"""The types of the program hold: ``mypy --strict``, by its settings in pyproject.toml."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[1]


def test_the_types_of_the_program_hold() -> None:
    """A qualification without an end once ended the list of people: only the type checker saw it."""
    done = subprocess.run(
        [sys.executable, "-m", "mypy", "floor"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
