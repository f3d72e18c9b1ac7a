"""Settings for all tests."""

import gc
import os
import sys

from hypothesis import settings

from floor.cli.base import collect_garbage_seldom

settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")
"""No example of a law is timed: the machine may be busy with something else."""

sys.dont_write_bytecode = False
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
"""Each of the processes that tests start would compile the whole program again, a third of what the suite costs."""


def pytest_collection_finish() -> None:
    """Collect garbage as the program does, and not what was imported: that cost a sixth of the time of the screens."""
    gc.freeze()
    collect_garbage_seldom()
