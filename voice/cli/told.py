"""The one place where something that went wrong is said on the terminal."""

from __future__ import annotations

import sys

from voice.errors import printable


def complain(what: object) -> None:
    """One sentence on standard error. Names of files and options are in it: they cannot steer the terminal."""
    print(f"gladhand: {printable(str(what))}", file=sys.stderr)
