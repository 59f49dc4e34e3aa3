"""Kills a sync in the middle, over and over: the device's process, or the depot's whole PostgreSQL server.

    python -m tests.benchmarks.logbook.kill --times 100

After all kills one sync runs to its end; then every record must be at the depot once. Half of the kills hit the device,
half the server. Some come before anything was sent or after all was; those count too, but are told apart.
"""

from __future__ import annotations

import argparse
import random
import shutil
import tempfile
import time
from pathlib import Path

from tests.logbook.pg import cluster, new_depot
from tests.logbook.test_sync import (
    RECORDS,
    kills,
    nothing_lost_or_doubled,
    sync_to_the_end,
    week,
)
from voice.logbook.database import open_engine, reading
from voice.logbook.schema import InboxRow

ROUND = 5  # kills before a sync is let through and everything is counted


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--times", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    wanted = parser.parse_args()
    rng = random.Random(wanted.seed)
    done = {"device": 0, "server": 0}
    alive = {"device": 0, "server": 0}
    partial = 0
    began = time.monotonic()
    with cluster() as server:
        number = 0
        while sum(done.values()) < wanted.times:
            number += 1
            folder = Path(tempfile.mkdtemp(prefix="gladhand-kill-"))
            try:
                url = new_depot(server, f"depot{number}")
                week(folder)
                for _ in range(min(ROUND, wanted.times - sum(done.values()))):
                    kind = "server" if sum(done.values()) % 2 else "device"
                    alive[kind] += kills(server, folder, url, rng, kill_server=kind == "server")
                    done[kind] += 1
                    engine = open_engine(url)
                    with reading(engine) as session:
                        arrived = session.query(InboxRow).count()
                    engine.dispose()
                    partial += 0 < arrived < RECORDS
                sync_to_the_end(folder, url)
                engine = open_engine(url)
                nothing_lost_or_doubled(engine)
                engine.dispose()
            finally:
                shutil.rmtree(folder, ignore_errors=True)
    print(
        f"{sum(done.values())} kills ({done['device']} of the device, {done['server']} of the server) over {number} "
        f"depots with {RECORDS} records each, in {time.monotonic() - began:.0f} s.\n"
        f"The sync was still running at {alive['device']} and {alive['server']} of them; after {partial} kills the "
        f"depot had some of the records but not all.\n"
        f"Nothing lost, nothing doubled."
    )


if __name__ == "__main__":
    main()
