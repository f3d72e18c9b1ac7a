"""``python -m floor``: the same as ``floor``."""

import sys

from floor.cli.main import main

sys.exit(main())
