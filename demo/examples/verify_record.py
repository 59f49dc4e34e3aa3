"""Reads a record and says whether it is what was signed.

    python demo/examples/verify_record.py out/demo/sessions/ID/record.json [HOME]

HOME: the Gladhand folder whose devices are trusted. Without it, a signed record is of an unknown device.
`gladhand verify` looks at the journal and the recordings too. Exit status 1 if something was changed.
"""

from __future__ import annotations

import sys
from pathlib import Path

from voice.record.device import trusted_keys
from voice.record.verify import verify_record


def main(path: str, home: str | None = None) -> int:
    trusted = {} if home is None else trusted_keys(Path(home))
    checked = verify_record(Path(path), trusted)
    for check in checked.checks:
        for fault in check.faults or (check.good,):
            print(f"{check.name}: {fault}")
    if checked.record is not None:
        print(*checked.record.summary.text, sep="\n")
    return 0 if checked.sound else 1


if __name__ == "__main__":
    if len(sys.argv) not in (2, 3):
        sys.exit("Give the record's file: python demo/examples/verify_record.py RECORD.json [HOME]")
    sys.exit(main(*sys.argv[1:]))
