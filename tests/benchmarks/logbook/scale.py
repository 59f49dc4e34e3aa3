"""How fast the logbook answers and takes in, and how that grows with its size.

    python -m tests.benchmarks.logbook.scale --postgresql 1000 10000 100000 1000000 --sqlite 1000 10000

Writes scale.json and scale.svg beside this file. PostgreSQL is a private cluster on this machine; its folder is in the
temporary directory and is removed afterwards (a million inspections take about 4 GB).
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import random
import resource
import shutil
import signal
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Engine, text

from tests.benchmarks.logbook.bulk import DAYS, fill, without_key
from tests.logbook.invented import truck, walks
from tests.logbook.pg import cluster
from voice.judge.load import load_limits
from voice.logbook.database import initialize, open_engine, parse_url, reading
from voice.logbook.importer import import_files
from voice.logbook.lookup import open_lives
from voice.logbook.trends import vehicle_wear
from voice.record.model import InspectionRecord
from voice.record.seal import dump_record

HERE = Path(__file__).parent
IMPORTED = 450  # records per measurement of the import


def record_files(folder: Path, sets: int) -> list[list[Path]]:
    """Sets of record files, each of IMPORTED walks of some 25 vehicles."""
    folder.mkdir(parents=True, exist_ok=True)
    there = sorted(folder.glob("*-unit-*.json"))
    if len(there) >= sets * IMPORTED:
        return [there[n * IMPORTED : (n + 1) * IMPORTED] for n in range(sets)]
    found = []
    for number in range(sets):
        files: list[Path] = []
        vehicle = 5000 + 100 * number
        while len(files) < IMPORTED:
            vehicle += 1
            for made in walks(truck(vehicle), 34):
                if isinstance(made, InspectionRecord) and len(files) < IMPORTED:
                    file = folder / f"{made.id}.json"
                    file.write_text(dump_record(made))
                    files.append(file)
        found.append(files)
    return found


def timed(action: Callable[[str], object], vehicles: list[str]) -> dict[str, float]:
    """Milliseconds, one call for each vehicle. cpu: what this process itself worked; the rest is waiting, for the
    database or for a processor that others use."""
    taken, worked = [], []
    for vehicle in vehicles:
        began, work = time.perf_counter(), time.process_time()
        action(vehicle)
        worked.append(1000 * (time.process_time() - work))
        taken.append(1000 * (time.perf_counter() - began))
    return {
        "median": statistics.median(taken), "p95": statistics.quantiles(taken, n=20)[-1], "worst": max(taken),
        "cpu_median": statistics.median(worked), "cpu_p95": statistics.quantiles(worked, n=20)[-1],
    }  # fmt: skip


def cpu() -> float:
    """Seconds this process and those it started and waited for have worked."""
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(one.ru_utime + one.ru_stime for one in used)


def measure(engine: Engine, size: int, files: list[Path], home: Path) -> dict[str, Any]:
    rng = random.Random(size)
    vehicles = [f"bulk-{n}" for n in range(1, size // DAYS + 1)]
    some = rng.choices(vehicles, k=200)
    limits = load_limits()

    def opened(vehicle: str) -> None:
        with reading(engine) as session:
            open_lives(session, vehicle)

    def trends(vehicle: str) -> None:
        with reading(engine) as session:
            assert vehicle_wear(session, vehicle, limits, datetime.now(UTC))

    opened(vehicles[0])
    trends(vehicles[0])  # loads scipy
    result: dict[str, Any] = {"size": size, "load": os.getloadavg()[0]}
    result["open"] = timed(opened, some)
    result["trends"] = timed(trends, some[:60])
    began, work = time.perf_counter(), cpu()
    outcomes = list(import_files(engine, files, home))
    result["import"] = len(files) / (time.perf_counter() - began)
    result["import_cpu_ms"] = 1000 * (cpu() - work) / len(files)
    assert all(outcome.verdict == "imported" for outcome in outcomes)
    began = time.perf_counter()
    list(import_files(engine, files[:300], home, workers=1))
    result["again"] = 300 / (time.perf_counter() - began)
    if engine.name == "postgresql":
        with engine.connect() as connection:
            result["bytes"] = connection.scalar(text("SELECT pg_database_size(current_database())"))
            result["rows"] = {
                table: connection.scalar(text(f"SELECT count(*) FROM {table}"))
                for table in ("record", "reading", "fact", "defect")
            }
    else:
        result["bytes"] = Path(str(engine.url.database)).stat().st_size
    print(json.dumps(result), flush=True)
    return result


def grow(engine: Engine, sizes: list[int], sets: list[list[Path]], home: Path) -> list[dict[str, Any]]:
    found, filled = [], 0
    for size in sizes:
        began = time.perf_counter()
        count = size // DAYS
        with without_key(engine):
            if count > filled:
                fill(engine, filled + 1, count - filled)
                filled = count
        print(f"{engine.name} filled to {size} in {time.perf_counter() - began:.0f} s", flush=True)
        found.append(measure(engine, size, sets.pop(), home))
    return found


def plot(results: dict[str, list[dict[str, Any]]]) -> None:
    from matplotlib.backends.backend_svg import FigureCanvasSVG
    from matplotlib.figure import Figure

    figure = Figure(figsize=(11, 3.4), layout="constrained")
    FigureCanvasSVG(figure)
    panels = figure.subplots(1, 3)
    titles: tuple[tuple[str, str, int, Callable[[dict[str, Any]], float]], ...] = (
        ("Open defects of one vehicle, p95", "milliseconds", 20, lambda r: r["open"]["p95"]),
        ("Trends of one vehicle (59 series), p95", "milliseconds", 200, lambda r: r["trends"]["p95"]),
        ("Import, checked records", "records a second", 500, lambda r: r["import"]),
    )
    for axes, (title, unit, goal, value) in zip(panels, titles, strict=True):
        for name, color in (("postgresql", "#1f3a52"), ("sqlite", "#d9730d")):
            rows = results.get(name, [])
            axes.plot([r["size"] for r in rows], [value(r) for r in rows], "o-", color=color, label=name)
        axes.axhline(goal, color="#b3261e", linewidth=0.9, label=f"asked: {goal}")
        axes.set(xscale="log", ylim=(0, None), title=title, xlabel="inspections", ylabel=unit)
        axes.grid(color="#d4dae0", linewidth=0.5)
        axes.legend(fontsize=7)
    figure.savefig(HERE / "scale.svg", metadata={"Date": None})


def main() -> None:
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(1))  # so that the server is stopped and its folder removed
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--postgresql", type=int, nargs="*", default=[1000, 10_000, 100_000, 1_000_000])
    parser.add_argument("--sqlite", type=int, nargs="*", default=[1000, 10_000])
    parser.add_argument("--records", type=Path, help="Folder to keep the record files in, and to find them again.")
    wanted = parser.parse_args()
    folder = Path(tempfile.mkdtemp(prefix="gladhand-scale-"))
    results: dict[str, list[dict[str, Any]]] = {}
    try:
        began = time.perf_counter()
        sets = record_files(wanted.records or folder, max(len(wanted.postgresql), len(wanted.sqlite)))
        print(f"{sum(map(len, sets))} record files made in {time.perf_counter() - began:.0f} s", flush=True)
        if wanted.sqlite:
            engine = open_engine(parse_url(f"sqlite:///{folder}/logbook.sqlite", "benchmark"))
            initialize(engine)
            results["sqlite"] = grow(engine, wanted.sqlite, list(sets), folder / "home")
            engine.dispose()
        if wanted.postgresql:
            settings = {
                "shared_buffers": "1GB",
                "max_wal_size": "3GB",
                "log_statement": "none",
                "wal_compression": "on",
            }
            with cluster(**settings) as server:
                engine = open_engine(server.url())
                initialize(engine)
                results["postgresql"] = grow(engine, wanted.postgresql, list(sets), folder / "home")
                engine.dispose()
    finally:
        shutil.rmtree(folder, ignore_errors=True)
    about = {"processors": os.cpu_count(), "python": platform.python_version(), "system": platform.platform()}
    (HERE / "scale.json").write_text(json.dumps({"about": about, **results}, indent=1) + "\n")
    plot(results)


if __name__ == "__main__":
    main()
