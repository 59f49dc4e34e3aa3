"""What can send, of all that runs in a walk: each such dependency is listed with what keeps it still.

A new one that imports a module for networks, or whose compiled part looks up names, fails here until it is listed. That
nothing is sent is shown by test_nothing_leaves; this says where to look when a dependency changes.
"""

from __future__ import annotations

import importlib.metadata
import re
from functools import cache
from pathlib import Path

import pytest
from packaging.requirements import Requirement

ROOT = Path(__file__).resolve().parents[2]
EXTRAS = ("logbook", "desk", "learn", "vosk")
OUR_PLACE = "voice/hear/onnx.py"

ONLY_ITS_FILES = "only its model files are used; its code is never imported"
NEVER_CALLED = "the part that fetches is never called: "

# Each dependency that can send -> what keeps it still.
CAN_SEND = {
    "anyio": NEVER_CALLED + "its connections to others; runs the desk's threads, comes with starlette",
    "cryptography": NEVER_CALLED + "its copy of OpenSSL can connect; only keys and signatures are used",
    "filelock": "asks for the host's own name to write into a lock; opens no connection",
    "matplotlib": NEVER_CALLED + "images from an address and the browser display; plots are drawn to SVG text",
    "moonshine-voice": ONLY_ITS_FILES,
    "numpy": NEVER_CALLED + "data sources from an address",
    "onnxruntime": f"sends usage data by default: switched off before it is loaded, in {OUR_PLACE}",
    "pillow": NEVER_CALLED + "a copy of the display server's library, for screen shots",
    "psycopg": "connects to the depot's database that the user has set up, in sync and the depot's commands",
    "psycopg-binary": "PostgreSQL's library for psycopg",
    "pyarrow": NEVER_CALLED + "file systems in networks; Parquet is written to a file of this machine",
    "pygments": NEVER_CALLED + "scripts that renew its lists from the makers' pages",
    "requests": "comes with moonshine-voice and vosk, neither of which calls it here",
    "starlette": NEVER_CALLED + "its test client; the desk's pages",
    "sqlalchemy": "drivers of other databases; ours are SQLite, a file, and psycopg",
    "tqdm": NEVER_CALLED + "progress bars sent to chat services; comes with vosk",
    "urllib3": "comes with requests",
    "uvicorn": "listens for the desk, on this machine's own address unless told otherwise; connects to nobody",
    "vosk": NEVER_CALLED + "fetching a model by its name; a model is always given as a folder",
    "weasyprint": NEVER_CALLED + "pages and images from an address; our pages carry all they show in themselves",
    "websockets": "comes with vosk, for a server that is not used",
}

_IMPORT = re.compile(
    rb"^\s*(?:import|from)\s+(?:socket|ssl|ftplib|smtplib|socketserver|requests|urllib3|httpx|aiohttp|websockets"
    rb"|http\.client|http\.server|urllib\.request|urllib\s+import\s+request|xmlrpc)\b",
    re.MULTILINE,
)
_LOOKS_UP_NAMES = re.compile(rb"getaddrinfo|gethostbyname")


@cache
def runtime() -> dict[str, importlib.metadata.Distribution]:
    """All that is installed with Gladhand and its extras for users, by its plain name."""
    found: dict[str, importlib.metadata.Distribution] = {}
    waiting: list[tuple[str, tuple[str, ...]]] = [("gladhand", EXTRAS)]
    seen: set[tuple[str, tuple[str, ...]]] = set()
    while waiting:
        name, extras = waiting.pop()
        plain = re.sub(r"[-_.]+", "-", name).lower()
        if (plain, extras) in seen:
            continue
        seen.add((plain, extras))
        try:
            found[plain] = importlib.metadata.distribution(name)
        except importlib.metadata.PackageNotFoundError:
            continue  # for another system
        for text in found[plain].requires or ():
            need = Requirement(text)
            if need.marker is None or any(need.marker.evaluate({"extra": extra}) for extra in ("", *extras)):
                waiting.append((need.name, tuple(sorted(need.extras))))
    del found["gladhand"]
    return found


def can_send(distribution: importlib.metadata.Distribution) -> bool:
    for file in distribution.files or ():
        path = Path(str(distribution.locate_file(file)))
        kind = _IMPORT if path.suffix == ".py" else _LOOKS_UP_NAMES if ".so" in path.name else None
        if kind is not None and "tests" not in path.parts and path.is_file() and kind.search(path.read_bytes()):
            return True
    return False


@pytest.mark.slow
def test_each_dependency_that_can_send_is_listed() -> None:
    if missing := {"psycopg", "matplotlib", "vosk", "fsrs"} - set(runtime()):
        pytest.skip(f"not all extras are installed: {missing}")
    assert {name for name, made in runtime().items() if can_send(made)} == set(CAN_SEND)


def test_onnxruntime_is_loaded_in_one_place_which_silences_it_first() -> None:
    own = Path(__file__)
    files = [path for part in ("voice", "tests", "demo") for path in (ROOT / part).rglob("*.py") if path != own]
    loads = re.compile(r"^\s*(?:import|from)\s+onnxruntime\b|import_module\(.onnxruntime", re.MULTILINE)
    assert [str(path.relative_to(ROOT)) for path in files if loads.search(path.read_text())] == [OUR_PLACE]
    text = (ROOT / OUR_PLACE).read_text()
    assert text.index("os.environ.update(SILENCED)") < text.index("import onnxruntime")


def test_what_is_only_there_for_its_files_is_never_imported() -> None:
    names = "moonshine_voice|faster_whisper|huggingface_hub"
    loads = re.compile(rf"^\s*(?:import|from)\s+(?:{names})\b", re.MULTILINE)
    assert [path.name for path in (ROOT / "voice").rglob("*.py") if loads.search(path.read_text())] == []
