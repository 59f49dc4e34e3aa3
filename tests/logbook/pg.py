"""A private PostgreSQL cluster for tests and benchmarks: made in a temporary folder, started, and gone afterwards.

The server refuses to run as root, so as root it runs as the user "postgres" (that the package makes). It listens on the
loopback only, with passwords; the superuser's is random and never leaves this process. A cluster in a folder that is
given is kept, and used again; its superuser's password lies there, in a file for its owner only.
"""

from __future__ import annotations

import os
import pwd
import secrets
import shutil
import signal
import socket
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from sqlalchemy import text
from sqlalchemy.engine import URL

from voice.logbook.database import initialize, open_engine

KEPT = "superuser"  # a kept cluster's file with the superuser's password


def binaries() -> Path | None:
    """The folder of initdb and postgres, newest version; None if PostgreSQL is not installed."""
    found = sorted(
        Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda path: float(path.parent.parent.name), reverse=True
    )
    if found:
        return found[0].parent
    which = shutil.which("initdb")
    return Path(which).parent if which else None


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def _runs(process: int) -> bool:
    try:
        return Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except (FileNotFoundError, ProcessLookupError):
        return False


class Cluster:
    """A running server. superuser: "postgres".

    again: the folder has one already.
    """

    def __init__(self, folder: Path, settings: dict[str, str], *, again: bool = False) -> None:
        programs = binaries()
        assert programs is not None
        self.programs, self.folder, self.port = programs, folder, free_port()
        self._as = ["runuser", "-u", "postgres", "--"] if os.getuid() == 0 else []
        if os.getuid() == 0:
            owner = pwd.getpwnam("postgres")
            os.chown(folder, owner.pw_uid, owner.pw_gid)
        self.data = folder / "data"
        self.password = (folder / KEPT).read_text() if again else secrets.token_urlsafe(16)
        if not again:
            self._make()
        lines = {
            "port": str(self.port), "listen_addresses": "'127.0.0.1'", "unix_socket_directories": f"'{folder}'",
            "logging_collector": "off", "log_statement": "'all'", **settings,
        }  # fmt: skip
        with (self.data / "postgresql.conf").open("a") as config:  # of a setting that is there twice the last counts
            config.writelines(f"{name} = {value}\n" for name, value in lines.items())
        self.start()

    def _make(self) -> None:
        secret = self.folder / "password"
        secret.write_text(self.password)
        secret.chmod(0o644)  # in a folder nobody else may enter
        self._run(
            "initdb", "-D", str(self.data), "-U", "postgres", "--auth=scram-sha-256", f"--pwfile={secret}",
            "-E", "UTF8", "--locale=C.UTF-8", "--no-sync",
        )  # fmt: skip
        secret.unlink()

    def _run(self, program: str, *arguments: str) -> None:
        command = [*self._as, str(self.programs / program), *arguments]
        done = subprocess.run(command, capture_output=True, text=True, cwd="/")
        if done.returncode:
            raise RuntimeError(f"{program}: {done.stdout}{done.stderr}")

    @property
    def log(self) -> Path:
        return self.folder / "log"

    def start(self) -> None:
        # Its output goes to the log, not to a pipe of ours that would stay open as long as the server lives.
        command = [*self._as, str(self.programs / "pg_ctl"), "-D", str(self.data), "-l", str(self.log), "-w", "start"]
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, cwd="/")

    def stop(self, how: str = "immediate") -> None:
        with suppress(RuntimeError):
            self._run("pg_ctl", "-D", str(self.data), "-m", how, "-w", "stop")

    def kill(self) -> None:
        """SIGKILL to the server and all its processes, as a power cut would."""
        server = int((self.data / "postmaster.pid").read_text().split("\n", 1)[0])
        children = Path(f"/proc/{server}/task/{server}/children").read_text().split()
        for process in (server, *map(int, children)):
            with suppress(ProcessLookupError):
                os.kill(process, signal.SIGKILL)
        for process in (server, *map(int, children)):  # a restart is refused while one of them still holds the memory
            while _runs(process):
                time.sleep(0.01)
        # A dead process that nobody has waited for yet still has its number, which the server would take for a running
        # one; after a real power cut the number would be gone.
        (self.data / "postmaster.pid").unlink()
        for left in self.folder.glob(".s.PGSQL.*"):
            left.unlink()

    def url(self, database: str = "postgres", user: str = "postgres", password: str | None = None) -> URL:
        secret = self.password if password is None else password
        return URL.create("postgresql+psycopg", user, secret, "127.0.0.1", self.port, database)


def new_depot(server: Cluster, name: str) -> URL:
    """A new database on the server that is already a logbook."""
    admin = open_engine(server.url()).execution_options(isolation_level="AUTOCOMMIT")
    with admin.connect() as connection:
        connection.execute(text(f"CREATE DATABASE {name}"))
    admin.dispose()
    engine = open_engine(server.url(name))
    initialize(engine)
    engine.dispose()
    return server.url(name)


@contextmanager
def cluster(**settings: str) -> Iterator[Cluster]:
    """A cluster for the length of the block. settings: of postgresql.conf. Its folder is removed afterwards."""
    folder = Path(tempfile.mkdtemp(prefix="gladhand-pg-"))
    made: Cluster | None = None
    try:
        made = Cluster(folder, settings)
        yield made
    finally:
        if made is not None:
            made.stop()
        shutil.rmtree(folder, ignore_errors=True)


@contextmanager
def kept_cluster(folder: Path, **settings: str) -> Iterator[Cluster]:
    """A cluster that stays in this folder, made there if there is none."""
    folder.mkdir(parents=True, exist_ok=True)
    folder.chmod(0o700)
    file = folder / KEPT
    running = Cluster(folder, settings, again=file.exists())
    try:
        file.touch(0o600)
        file.write_text(running.password)
        yield running
    finally:
        running.stop("fast")
