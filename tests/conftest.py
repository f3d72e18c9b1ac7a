"""Settings for all tests."""

import os
import sys

from hypothesis import settings

settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")
"""No example of a law is timed: the machine may be busy with something else."""

sys.dont_write_bytecode = False
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
"""Each of the processes that tests start would compile the whole program again, a third of what the suite costs."""
