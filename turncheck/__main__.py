"""`python -m turncheck`."""

import sys

from turncheck.errors import STOPPED

try:
    from turncheck.cli import start

    start()
except KeyboardInterrupt:  # while it was starting
    print("turncheck: stopped; nothing was written", file=sys.stderr)
    sys.exit(STOPPED)
