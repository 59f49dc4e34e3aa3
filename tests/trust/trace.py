"""What a command does outside its own folders, as the kernel sees it (strace)."""

from __future__ import annotations

import re
import shutil
import subprocess
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

CALLS = "network,openat,open,creat,mkdir,mkdirat,rename,renameat,renameat2,symlink,symlinkat,link,linkat"
_WRITES = re.compile(r"O_WRONLY|O_RDWR|O_CREAT|O_TRUNC")
_NETWORK = re.compile(r"sa_family=AF_(?!UNIX|UNSPEC|NETLINK)\w+|socket\(AF_(?!UNIX|NETLINK|UNSPEC)\w+")
_UNIX = re.compile(r'sun_path=@?"([^"]*)"')
_CALL = re.compile(r"^(?:\d+\s+)?(\w+)\((.*)")
_TEXT = re.compile(r'(?:AT_FDCWD<([^>]*)>|\d+<([^>]*)>)?(?:, )?"((?:[^"\\]|\\.)*)"')
_NAMES_ARE_LOOKED_UP = ("/etc/resolv.conf", "/run/systemd/resolve", "/var/run/avahi-daemon")


@cache
def missing() -> str:
    """Why nothing can be traced here; "" if it can."""
    if shutil.which("strace") is None:
        return "strace is not installed (apt install strace)"
    tried = subprocess.run(["strace", "-f", "-qq", "-o", "/dev/null", "true"], capture_output=True, text=True)
    return "" if tried.returncode == 0 else f"strace may not trace here: {tried.stderr.strip()}"


@dataclass(frozen=True)
class Traced:
    """code: of the command. said: both its outputs. outside: each thing it did outside the allowed places."""

    code: int
    said: str
    outside: tuple[str, ...]


def traced(
    command: Sequence[str],
    environment: Mapping[str, str],
    *,
    cwd: Path,
    log: Path,
    files: Sequence[Path],
    sockets: Sequence[str] = (),
) -> Traced:
    """Runs the command and all that it starts. files: below which it may write. sockets: of this machine that it may
    speak to; starts of their paths. Whatever goes into a network is outside, and so is the look-up of a name."""
    watch = ["strace", "-f", "--seccomp-bpf", "-qq", "-y", "-s", "4096", "-e", f"trace={CALLS}", "-e", "signal=none"]
    done = subprocess.run(
        [*watch, "-o", str(log), *command], env=dict(environment), cwd=cwd, capture_output=True, text=True,
        errors="replace", timeout=300, stdin=subprocess.DEVNULL,
    )  # fmt: skip
    lines = log.read_text(errors="replace").splitlines()
    allowed = [str(path.resolve()) for path in files]
    return Traced(done.returncode, done.stdout + done.stderr, tuple(outside(lines, cwd, allowed, sockets)))


def outside(lines: Sequence[str], cwd: Path, files: Sequence[str], sockets: Sequence[str]) -> list[str]:
    """Those of strace's lines that show something outside the allowed places, each once."""
    found = dict.fromkeys(line for line in lines if _leaves(line, cwd, files, sockets))
    return [re.sub(r"^\d+\s+", "", line) for line in found]


def _leaves(line: str, cwd: Path, files: Sequence[str], sockets: Sequence[str]) -> bool:
    call = _CALL.match(line)
    if call is None:
        return False
    name, arguments = call.groups()
    if _NETWORK.search(line):
        return True
    if path := _UNIX.search(line):
        return name == "connect" and not path.group(1).startswith(tuple(sockets) or ("\0",))
    if any(place in arguments for place in _NAMES_ARE_LOOKED_UP):
        return True
    if name in ("open", "openat") and not _WRITES.search(arguments):
        return False
    if name not in CALLS.split(",") or re.search(r"= -1 E\w+", arguments):
        return False
    return any(not _within(place, files) for place in _places(arguments, cwd))


def _places(arguments: str, cwd: Path) -> list[str]:
    """The paths that a call names, whole."""
    found = []
    for here, folder, text in _TEXT.findall(arguments):
        base = Path(here or folder or cwd)
        found.append(str(Path(base / text)))
    return found


def _within(place: str, files: Sequence[str]) -> bool:
    clean = str(Path(place).resolve()) if not place.startswith(("/dev/", "/proc/")) else place
    devices = ("/dev/null", "/dev/tty", "/dev/stdin", "/dev/stdout", "/proc/self/", "/dev/shm/sem.")
    return clean.startswith(devices) or any(clean == each or clean.startswith(f"{each}/") for each in files)
