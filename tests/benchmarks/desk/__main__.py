"""How long the desk's pages take with many readers at once.

    python -m tests.benchmarks.desk --inspections 20000
    python -m tests.benchmarks.desk --inspections 1000000 --postgresql --keep FOLDER

The fleet is that of tests/benchmarks/logbook/bulk.py, 250 inspections a unit. The desk runs as its command does, in a
process of its own; the readers are threads of this one on the same machine, each with a session of its own. A reader
asks for a page, reads for some seconds (exponential), asks for the next: half of them units at random, a third today,
the rest the list of units; and every five seconds for the version, as the script of a page does. Times are of the whole
answer. With --think 0 nobody reads: that measures how many pages a second there are, not how long a reader waits.
"""

from __future__ import annotations

import argparse
import http.client
import json
import os
import random
import re
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections import defaultdict
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from urllib.parse import urlencode

from sqlalchemy import Engine, text

from tests.benchmarks.logbook.bulk import DAYS, fill, without_key
from tests.benchmarks.logbook.texts import write_texts
from tests.logbook.pg import cluster, free_port, kept_cluster
from voice.desk.accounts import add, known
from voice.desk.store import Store
from voice.logbook.database import ENVIRONMENT, initialize, local_url, open_engine
from voice.logbook.roles import grant_desk

PASSWORD = "four words in a row"
POLL = 5.0


class Reader(threading.Thread):
    """Somebody who looks at pages until the time is over."""

    def __init__(self, port: int, number: int, units: int, think: float) -> None:
        super().__init__(daemon=True)
        self.port, self.units, self.think, self.until = port, units, think, 0.0
        self.random = random.Random(number)
        self.number = number
        self.taken: dict[str, list[float]] = defaultdict(list)
        self.bytes: dict[str, int] = {}
        self.wrong: list[str] = []
        self.cookie = ""

    def sign_in(self) -> None:
        """One after the other: so many tries at once from one address would be refused."""
        self.connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=120)
        _, form, headers = self.ask("GET", "/sign-in")
        self.cookie = _cookie(headers)
        token = re.findall(r'name="token" value="(\w+)"', form)[0]
        body = urlencode({"name": f"Reader {self.number % 10}", "password": PASSWORD, "token": token})
        status, _, headers = self.ask("POST", "/sign-in", body)
        assert status == 303, status
        self.cookie = _cookie(headers)

    def run(self) -> None:
        polled = time.perf_counter() + self.random.uniform(0, POLL)
        time.sleep(self.random.uniform(0, self.think))
        while time.perf_counter() < self.until:
            self.look()
            resume = time.perf_counter() + (self.random.expovariate(1 / self.think) if self.think else 0)
            while resume > polled:
                time.sleep(max(0.0, polled - time.perf_counter()))
                self.time("version", "/version")
                polled = time.perf_counter() + POLL
            time.sleep(max(0.0, resume - time.perf_counter()))

    def look(self) -> None:
        kind = self.random.choices(("unit", "today", "units"), (50, 33, 17))[0]
        at = {"unit": f"/units/bulk-{self.random.randint(1, self.units)}", "today": "/today", "units": "/units?find=9"}
        self.time(kind, at[kind])

    def time(self, kind: str, path: str) -> None:
        began = time.perf_counter()
        status, body, _ = self.ask("GET", path)
        self.taken[kind].append(1000 * (time.perf_counter() - began))
        self.bytes[kind] = len(body)
        if status != 200:
            self.wrong.append(f"{path}: {status}")

    def ask(self, method: str, path: str, body: str = "") -> tuple[int, str, http.client.HTTPMessage]:
        headers = {"Cookie": self.cookie, "Content-Type": "application/x-www-form-urlencoded"}
        for _ in range(2):  # once more where the server has closed a connection that was idle for long
            try:
                self.connection.request(method, path, body or None, headers)
                answer = self.connection.getresponse()
                break
            except (http.client.RemoteDisconnected, ConnectionError):
                self.connection.close()
        return answer.status, answer.read().decode(), answer.headers


def _cookie(headers: http.client.HTTPMessage) -> str:
    return "; ".join(line.partition(";")[0] for line in headers.get_all("set-cookie") or [] if "=" in line)


@contextmanager
def desk_home(keep: Path | None, size: int) -> Iterator[Path]:
    """The desk's folder, with its readers' accounts. A kept one has the forecasts of before, as after a restart."""
    with tempfile.TemporaryDirectory(prefix="gladhand-desk-") as folder:
        home = Path(folder) if keep is None else keep / f"home-{size}"
        with closing(Store(home)) as store:
            for name in (f"Reader {number}" for number in range(10)):
                if not known(store, name):
                    add(store, name, "mechanic", PASSWORD)
        (home / "depot.url").unlink(missing_ok=True)  # the server listens elsewhere now
        yield home


@contextmanager
def filled(home: Path, size: int, postgresql: bool, keep: Path | None) -> Iterator[None]:
    """A logbook of that size, with what the desk needs to open it in its home.

    keep: folder of a PostgreSQL cluster that stays there; what was filled with as many before is used again.
    """
    if not postgresql:
        _fill(open_engine(local_url(home)), size)
        yield
        return
    settings = {"shared_buffers": "1GB", "max_wal_size": "4GB", "log_statement": "none"}
    with kept_cluster(keep, **settings) if keep else cluster(**settings) as server:
        name = f"depot_{size}"
        admin = open_engine(server.url()).execution_options(isolation_level="AUTOCOMMIT")
        with admin.connect() as connection:
            there = connection.scalar(text("SELECT count(*) FROM pg_database WHERE datname = :name"), {"name": name})
            if not there:  # under another name until it is full: what was cut off is not taken for it
                connection.execute(text("DROP DATABASE IF EXISTS filling"))
                connection.execute(text("CREATE DATABASE filling"))
                _fill(open_engine(server.url("filling")), size)
                connection.execute(text(f"ALTER DATABASE filling RENAME TO {name}"))
        admin.dispose()
        engine = open_engine(server.url(name))
        initialize(engine)  # a kept one may be of an earlier version
        grant_desk(engine, "front", home / "depot.url")
        engine.dispose()
        yield


def _fill(engine: Engine, size: int) -> None:
    began = time.perf_counter()
    initialize(engine)
    with without_key(engine):
        fill(engine, 1, size // DAYS)
        write_texts(engine)
    engine.dispose()
    print(f"filled in {time.perf_counter() - began:.0f} s, load {os.getloadavg()[0]:.1f}", flush=True)


@contextmanager
def served(home: Path, port: int, depot: bool) -> Iterator[subprocess.Popen[bytes]]:
    command = [sys.executable, "-m", "voice", "desk", "--port", str(port), "--home", str(home)]
    environment = {name: value for name, value in os.environ.items() if name != ENVIRONMENT}
    process = subprocess.Popen([*command, *(["--depot"] if depot else [])], env=environment)
    try:
        for _ in range(600):
            time.sleep(0.1)
            try:
                http.client.HTTPConnection("127.0.0.1", port, timeout=5).request("GET", "/sign-in")
                break
            except OSError:
                continue
        yield process
    finally:
        process.terminate()
        process.wait(20)


def _worked(process: int) -> float:
    """Seconds of processor time that a process has used (Linux)."""
    fields = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def _wait_for_forecasts(home: Path, units: int) -> None:
    """They are worked out once after a start, beside the pages: measured without them, told how long they take.

    At most a quarter of an hour; then the pages are measured while they are still worked out.
    """
    began, store = time.perf_counter(), Store(home)
    while True:
        with store.reading() as connection:
            (count,) = connection.execute("SELECT count(*) FROM forecast").fetchone()
        if count >= units or time.perf_counter() - began > 900:
            break
        time.sleep(1)
    store.close()
    print(f"forecasts of {count} of {units} units worked out in {time.perf_counter() - began:.0f} s", flush=True)


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__.split("\n")[0] if __doc__ else "")
    options.add_argument("--inspections", type=int, default=20_000)
    options.add_argument("--readers", type=int, default=50)
    options.add_argument("--seconds", type=float, default=60)
    options.add_argument("--think", type=float, default=5)
    options.add_argument("--postgresql", action="store_true")
    options.add_argument("--keep", type=Path, help="Folder to keep PostgreSQL's filled database in, and to find it.")
    given = options.parse_args()
    if given.keep and not given.postgresql:
        options.error("--keep is for --postgresql")
    units = given.inspections // DAYS
    port = free_port()
    with (
        desk_home(given.keep, given.inspections) as home,
        filled(home, given.inspections, given.postgresql, given.keep),
        served(home, port, given.postgresql) as desk,
    ):
        _wait_for_forecasts(home, units)
        load = os.getloadavg()[0]
        readers = [Reader(port, number, units, given.think) for number in range(given.readers)]
        for reader in readers:
            reader.sign_in()
        worked = _worked(desk.pid)
        until = time.perf_counter() + given.seconds
        for reader in readers:
            reader.until = until
            reader.start()
        for reader in readers:
            reader.join()
        tell(readers, given, load)
        asked = sum(len(each) for reader in readers for each in reader.taken.values())
        print(f"the desk's own processor time: {1000 * (_worked(desk.pid) - worked) / asked:.0f} ms an answer")
        print("| alone | asked | processor ms | median ms | p95 ms |\n|---|---|---|---|---|")
        alone(port, units, desk.pid)


def alone(port: int, units: int, process: int) -> None:
    """One reader, no reading between the pages: what each costs the desk's process."""
    reader = Reader(port, 0, units, 0)
    reader.sign_in()
    some = [f"/units/bulk-{n}" for n in random.Random(1).sample(range(1, units + 1), min(60, units))]
    for kind, paths in (
        ("unit, first time", some),
        ("unit, again", some),
        ("today", ["/today"] * 60),
        ("units", ["/units"] * 60),
        ("version", ["/version"] * 200),
    ):
        worked = _worked(process)
        for path in paths:
            reader.time(kind, path)
        taken = reader.taken[kind]
        cpu, p95 = 1000 * (_worked(process) - worked) / len(paths), statistics.quantiles(taken, n=20)[-1]
        print(f"| {kind} | {len(paths)} | {cpu:.0f} | {statistics.median(taken):.0f} | {p95:.0f} |")


def tell(readers: list[Reader], given: argparse.Namespace, load: float) -> None:
    wrong = [each for reader in readers for each in reader.wrong]
    every = [taken for reader in readers for kind, each in reader.taken.items() if kind != "version" for taken in each]
    about = {name: value for name, value in vars(given).items() if name != "keep"}
    print(json.dumps({**about, "load_before": round(load, 1), "wrong": wrong[:5], "pages": len(every)}))
    print(f"| page | asked | median ms | p95 ms | worst ms | kB |\n|---|---|---|---|---|---|")  # noqa: F541
    for kind in ("today", "units", "unit", "version"):
        taken = [each for reader in readers for each in reader.taken[kind]]
        size = max((reader.bytes.get(kind, 0) for reader in readers), default=0) // 1000
        if len(taken) > 20:
            p95 = statistics.quantiles(taken, n=20)[-1]
            row = f"{len(taken)} | {statistics.median(taken):.0f} | {p95:.0f} | {max(taken):.0f} | {size}"
            print(f"| {kind} | {row} |")
    print(f"all pages: p95 {statistics.quantiles(every, n=20)[-1]:.0f} ms")


if __name__ == "__main__":
    main()
