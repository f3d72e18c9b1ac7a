"""``python -m floor``: the same as ``floor``."""

import sys

from floor.cli import main

sys.exit(main())
