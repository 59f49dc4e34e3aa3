"""Nothing leaves the machine: every command, watched by the kernel, opens no connection, looks up no name, and writes
no file but in the Gladhand folder, where it was told to, and in the temporary folder."""

from __future__ import annotations

import os
import shutil
import stat
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest
import soundfile
import typer.main
from PIL import Image
from sqlalchemy.engine import URL

from tests.logbook.pg import binaries, cluster
from tests.trust.trace import Traced, missing, outside, traced
from voice.cli import app
from voice.sound.port import RATE
from voice.speak.synth import synthesize

ROOT = Path(__file__).resolve().parents[2]
USERS = "/var/run/nscd/"  # where the C library may ask for the user's name
NO_SERVER = "/dev/null"  # what speech that is only made takes for a sound server

pytestmark = [pytest.mark.slow, pytest.mark.skipif(bool(missing()), reason=missing() or "-")]


@dataclass
class Yard:
    """An empty user's folder, a Gladhand folder with one vehicle and a short route, and a place for what is written.

    leaks: command -> what it did outside.
    """

    folder: Path
    leaks: dict[str, tuple[str, ...]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for name in ("user", "home/vehicles", "home/prompts/routes", "out", "tmp"):
            (self.folder / name).mkdir(parents=True)
        shutil.copy(ROOT / "demo/fleet/truck-7.yaml", self.home / "vehicles")
        (self.home / "prompts/routes/short.yaml").write_text(
            "id: short\ntitle: Short round\ncall: [short round]\nfits: [straight-truck]\nstandard: false\n"
            "sections:\n  - id: around\n    title: Around it\n    entries: [chocks, lean]\n"
        )
        (self.folder / "driver.yaml").write_text(
            "name: Rosa Quill\nvoice: 'flite:rms'\nsnr_db: 30\nnoise_db: -55\n"
            "usual: {condition: okay, done: ready, ready: ready}\nreadings: {}\n"
            "steps:\n  - {step: lean, ask: leaning}\n"
        )

    @property
    def home(self) -> Path:
        return self.folder / "home"

    def run(self, *lines: str, home: Path | None = None, sockets: tuple[str, ...] = (), code: int = 0) -> str:
        """Runs "gladhand LINE", several lines in one process, and notes what it did outside. Returns what it said."""
        program = (
            ["voice", *lines[0].replace("_", "\t").split(" ")] if len(lines) == 1 else ["tests.trust.several", *lines]
        )
        command = [sys.executable, "-m", *(word.replace("\t", " ") for word in program)]
        done = self.watch(command, home=home or self.home, sockets=(USERS, NO_SERVER, *sockets))
        assert done.code == code, f"{lines}: {done.said}"
        if done.outside:
            self.leaks[" | ".join(lines)] = done.outside
        return done.said

    def watch(self, command: list[str], *, home: Path, sockets: tuple[str, ...] = ()) -> Traced:
        kept = {name: value for name, value in os.environ.items() if not name.startswith(("XDG_", "PULSE_", "MPL"))}
        environment = {
            **kept, "HOME": str(self.folder / "user"), "TMPDIR": str(self.folder / "tmp"), "PYTHONPATH": str(ROOT),
            "GLADHAND_HOME": str(home), "PYTHONDONTWRITEBYTECODE": "1",
        }  # fmt: skip
        own = [home, self.folder / "out", self.folder / "tmp"]
        return traced(
            command, environment, cwd=self.folder / "out", log=self.folder / "log", files=own, sockets=sockets
        )


@pytest.fixture
def yard(tmp_path: Path) -> Iterator[Yard]:
    made = Yard(tmp_path)
    yield made
    assert made.leaks == {}
    assert list((tmp_path / "user").rglob("*")) == []


def commands() -> set[str]:
    """Every command there is, with its group: "walk", "logbook absorb"."""
    found: set[str] = set()
    waiting = [("", typer.main.get_command(app))]
    while waiting:
        name, command = waiting.pop()
        below = getattr(command, "commands", None)
        if below is None:
            found.add(name)
        else:
            waiting += [(f"{name} {each}".strip(), inner) for each, inner in below.items()]
    return found


WALK = "walk --vehicle truck-7 --route short --driver Rosa_Quill --script ../driver.yaml --plain"
REHEARSE = "rehearse --student Ada_Finch --route short --wav ../said.wav"
TOGETHER = [
    "sessions",
    "verify last",
    "export last --out .",
    "export --schema",
    "cosign last --driver Ida_Marsh",
    "photo last lean#leaning ../photo.png",
    "repairs list",
    "repairs certify lean#leaning --verdict repaired --name Ida_Marsh",
    "day",
    "day duty driving --odometer 412000",
    "day export --out day",
    "history truck-7 --html history.html",
    "reports --out reports",
    "reports --out pages --format html",
    "logbook init",
    "logbook upgrade",
    "logbook import",
    "logbook open truck-7",
    "logbook export --out . --format json",
    "logbook export --out . --format csv",
    "logbook export --out . --format parquet",
    "logbook calendar --out due.ics",
    "prune --older-than 3_months --yes",
    "limits list",
    "limits show tread-steer",
    "limits changed --since 2026-01-01",
    "limits check",
    "cargo --length 18 --weight 40200 --number 5 --limit 5000",
    "limits use california",
    "routes list",
    "routes show short --vehicle truck-7",
    "routes facts",
    "routes say leaning --item lean --vehicle truck-7",
    "routes check",
    "models list",
    "models check",
    "recite --route short --sections",
    "recite --route short --sheet sheet.html --render road.flac",
    "recite --route short --language es --render road.m4b",
    "attune read Rosa_Quill --script ../driver.yaml --keep-sound",
    "attune list",
    "attune forget Rosa_Quill",
    "students list",
    "students next Ada_Finch",
    "progress --html progress.html --csv progress.csv",
    "students delete Ada_Finch --yes",
    "desk account list",
]
# There is nothing of the kind.
REFUSED = [
    "resume",
    "models add nothing.zip",
    "models remove nothing",
    "attune learn Nobody",
    "routes uncouple nothing",
]
REFUSED += ["desk serve", "desk account remove Ida_Marsh"]  # there is no account
REFUSED += ["desk account add Ida_Marsh --role mechanic", "desk account password Ida_Marsh"]  # no password is given
REFUSED += ["desk account unlock Ida_Marsh"]
DEPOT = ["logbook init --depot", "logbook grant", "sync", "logbook absorb", "logbook open --depot", "logbook revoke"]
DEPOT += ["desk grant", "desk revoke"]


def test_a_walk_a_recital_a_rehearsal_and_every_page(yard: Yard) -> None:
    said = synthesize("wheel chocks. the wheels are chocked on level ground. that is all.", "espeak:en-us")
    soundfile.write(yard.folder / "said.wav", said, RATE)
    Image.new("RGB", (40, 30), "red").save(yard.folder / "photo.png")
    yard.run(WALK)
    yard.run(REHEARSE)
    yard.run(*TOGETHER)
    for line in REFUSED:
        yard.run(line, code=2)
    made = {path.name for path in (yard.folder / "out").iterdir()}
    assert {"history.html", "reports", "road.m4b", "logbook.json", "due.ics", "progress.html"} <= made


def test_the_sound_check_speaks_to_no_network(yard: Yard) -> None:
    # The audio libraries may look for this machine's sound server, and keep files of their own for that.
    command = [sys.executable, "-m", "voice", "soundcheck", "--list"]
    done = yard.watch(command, home=yard.home, sockets=(USERS, "/"))
    assert done.code in (0, 2), done.said
    assert [line for line in done.outside if "AF_INET" in line or "resolv" in line] == []
    shutil.rmtree(yard.folder / "user")
    (yard.folder / "user").mkdir()


@pytest.mark.postgres
@pytest.mark.skipif(binaries() is None, reason="PostgreSQL is not installed (apt install postgresql)")
def test_hand_in_and_take_in_over_a_socket_of_this_machine(yard: Yard) -> None:
    depot = yard.folder / "depot"
    (depot / "trusted").mkdir(parents=True)
    yard.run(WALK)
    with cluster(fsync="off") as server:
        _own(depot / "depot.url", _by_socket(server.url(), server.folder, server.port))
        sockets = (f"{server.folder}/",)
        shutil.copy(yard.home / "device.pub", depot / "trusted/cab.pub")
        yard.run(
            "logbook init --depot",
            "logbook grant cab --vehicle truck-7 --credentials cab.url",
            home=depot,
            sockets=sockets,
        )
        shutil.move(yard.folder / "out/cab.url", yard.home / "depot.url")
        yard.run("desk grant front --credentials front.url", "desk revoke front", home=depot, sockets=sockets)
        yard.run("sync", sockets=sockets)
        said = yard.run(
            "logbook absorb", "logbook open truck-7 --depot", "logbook revoke cab", home=depot, sockets=sockets
        )
        assert "1 imported" in said


def _by_socket(url: URL, folder: Path, port: int) -> str:
    local = url.set(drivername="postgresql", host=None, port=None, query={"host": str(folder), "port": str(port)})
    return local.render_as_string(hide_password=False)


def _own(file: Path, text: str) -> None:
    file.touch(stat.S_IRUSR | stat.S_IWUSR)
    file.write_text(text + "\n")


def test_no_command_is_left_out() -> None:
    lines = [WALK, REHEARSE, *TOGETHER, *REFUSED, *DEPOT, "soundcheck"]
    assert [name for name in commands() if not any(f"{line} ".startswith(f"{name} ") for line in lines)] == []


@pytest.mark.parametrize(
    ("code", "seen"),
    [
        ("import socket; socket.socket(socket.AF_INET, socket.SOCK_DGRAM).connect(('192.0.2.1', 53))", "AF_INET"),
        ("import socket; socket.socket(socket.AF_INET6)", "AF_INET6"),
        ("open('/etc/resolv.conf')", "resolv"),  # what looking up a name begins with
        ("open('../elsewhere', 'w')", "elsewhere"),
        ("import os; os.makedirs(os.path.expanduser('~/.cache/x'))", ".cache"),
        (
            "import socket\ntry:\n    socket.socket(socket.AF_UNIX).connect('/run/other')\nexcept OSError:\n    pass",
            "other",
        ),
    ],
)
def test_the_watch_sees_what_it_is_to_see(tmp_path: Path, code: str, seen: str) -> None:
    yard = Yard(tmp_path)
    done = yard.watch([sys.executable, "-c", code], home=yard.home, sockets=(USERS,))
    assert any(seen in line for line in done.outside), done
    assert yard.watch([sys.executable, "-c", "open('here', 'w')"], home=yard.home, sockets=(USERS,)).outside == ()


def test_a_relative_path_is_taken_from_the_folder_it_was_opened_in() -> None:
    lines = ['7 openat(3</a/b>, "c", O_WRONLY|O_CREAT) = 4</a/b/c>', '7 openat(AT_FDCWD</z>, "q", O_RDWR) = 4']
    assert outside(lines, Path("/"), ["/a"], ()) == ['openat(AT_FDCWD</z>, "q", O_RDWR) = 4']
