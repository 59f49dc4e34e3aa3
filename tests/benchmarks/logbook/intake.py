"""How many record files a second are checked and imported, by one process and by one for each processor.

    python -m tests.benchmarks.logbook.intake --records FOLDER

FOLDER holds record files as tests.benchmarks.logbook.scale --records FOLDER leaves them.
"""

from __future__ import annotations

import argparse
import os
import shutil
import tempfile
import time
from pathlib import Path

from tests.benchmarks.logbook.scale import cpu
from tests.logbook.pg import cluster
from voice.logbook import importer
from voice.logbook.database import initialize, open_engine, parse_url


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--records", type=Path, required=True)
    files = sorted(parser.parse_args().records.glob("*-unit-*.json"))
    folder = Path(tempfile.mkdtemp(prefix="gladhand-intake-"))
    importer.MANY = 1
    try:
        with cluster(shared_buffers="512MB", log_statement="none") as server:
            for name in ("sqlite", "postgresql"):
                for workers in (1, os.cpu_count() or 1):
                    url = parse_url(f"sqlite:///{folder}/{workers}.sqlite", "") if name == "sqlite" else server.url()
                    engine = open_engine(url)
                    if name == "postgresql":
                        with engine.begin() as connection:
                            connection.exec_driver_sql("DROP SCHEMA public CASCADE")
                            connection.exec_driver_sql("CREATE SCHEMA public")
                    initialize(engine)
                    began, work = time.perf_counter(), cpu()
                    outcomes = list(importer.import_files(engine, files, folder, workers=workers))
                    took, worked = time.perf_counter() - began, cpu() - work
                    assert all(outcome.verdict == "imported" for outcome in outcomes)
                    print(
                        f"| {name} | {workers} | {len(files)} | {len(files) / took:.0f} |"
                        f" {1000 * worked / len(files):.2f} | {os.getloadavg()[0]:.1f} |",
                        flush=True,
                    )
                    engine.dispose()
    finally:
        shutil.rmtree(folder, ignore_errors=True)


if __name__ == "__main__":
    main()
