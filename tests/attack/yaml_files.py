"""Spoiled YAML files: every shipped and sample file, its bytes, scalars, tags, nesting and anchors."""

from __future__ import annotations

import contextlib
import random
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.attack.run import Case
from tests.attack.spoil import ODD_TEXTS, spoil_bytes
from voice.author.check import check_files
from voice.data.folders import catalogue_dir, prompts_dir
from voice.data.reader import line_of, parse, read_yaml
from voice.errors import DataError, GladhandError
from voice.judge.load import load_limits, shipped_limits
from voice.judge.wording import verdicts
from voice.measure.book import UnitBook
from voice.models.catalogue import load_catalogue
from voice.route.vehicles import load_vehicle
from voice.session.script import load_script
from voice.understand.lexicon import layered

ABOUT = "spoiled YAML files: read, or refused in a sentence with file and line, within seconds"
SHARE = 150
LONGEST = 20.0  # seconds of cpu for one file: far above any, on a slow machine too; so that an endless one is told
PIECES = (
    *(text.encode("utf-8", "replace") for text in ODD_TEXTS),
    b": ", b"- ", b"\n", b"\n  ", b"\t", b"[", b"]", b"{", b"}", b"&a ", b"*a", b"!!float ", b"!!python/object:x ",
    b"!!timestamp ", b"!!set ", b"<<: ", b"? ", b"| ", b"> ", b"---\n", b"...\n", b"%YAML 1.1\n", b"#", b"'", b'"',
    b"\xff", b"\x00", b"\xef\xbb\xbf", b"[" * 2000, b"- " * 2000, b"{a: " * 500, b"9" * 5000, b"2026-13-45", b".nan",
    b"\\x1b", b'"\\u0000"', b"0o9", b"1_000", b"12:30:45", b"@", b"id: x\n", b"kind: none\n",
)  # fmt: skip


def _limits(file: Path) -> object:
    return load_limits([shipped_limits(), file] if file.name != shipped_limits().name else [file])


def _routes(file: Path) -> object:
    return [str(fault) for fault in check_files([file], None)]


def _reader(file: Path) -> Callable[[Path], object]:
    """What reads a shipped file of this place and name."""
    special: dict[str, Callable[[Path], object]] = {
        "units.yaml": lambda spoiled: parse(UnitBook, read_yaml(spoiled), spoiled),
        "verdicts.yaml": lambda spoiled: verdicts.__wrapped__(spoiled),
        "catalogue.yaml": load_catalogue,
        "commands.yaml": lambda spoiled: layered(spoiled.parent),
    }
    if file.name in special:
        return special[file.name]
    if file.parent.name == "vehicles":
        return load_vehicle
    if "limits" in file.parts:
        return _limits
    if "demo" in file.parts:
        return load_script
    if file.parent.name in ("items", "routes", "groups") or file.stem in ("defects", "cautions", "places"):
        return _routes
    return read_yaml


def sources() -> list[Path]:
    """Every shipped and sample YAML file."""
    demo = prompts_dir().parent / "demo"
    return sorted(file for folder in (prompts_dir(), catalogue_dir(), demo) for file in folder.rglob("*.yaml"))


def _case(folder: Path, number: int, rng: random.Random) -> str | None:
    found = sources()
    source = found[number % len(found)]
    file = folder / source.name
    body = source.read_bytes()
    spoiled = other_scalar(body, rng) if rng.random() < 0.5 else spoil_bytes(body, rng, PIECES)
    file.write_bytes(spoiled)
    began = time.process_time()
    try:
        reader = _reader(source)
        # The check of the routes looks at every vehicle: a second a file, so not each time.
        readers = (read_yaml, reader) if reader is not _routes or rng.random() < 0.03 else (read_yaml,)
        for read in readers:
            fault = tried(read, file)
            if fault is not None:
                return f"{source.name}: {fault}"
        with contextlib.suppress(DataError):
            line_of(file, ("axles", 0, "brake", "kind"))
    finally:
        file.unlink()
    spent = time.process_time() - began
    return f"{source.name}: {spent:.0f} s" if spent > LONGEST else None


def tried(read: Callable[[Path], object], file: Path) -> str | None:
    """What is wrong with the way a file is refused, if it is."""
    try:
        read(file)
    except GladhandError as error:
        text = str(error)
        if "Value error" in text or not text.isprintable():
            return f"not a sentence: {text!r:.300}"
    return None


def other_scalar(body: bytes, rng: random.Random) -> bytes:
    """What stands after a colon or a dash of one line, replaced."""
    lines = body.split(b"\n")
    for _ in range(20):
        at = rng.randrange(len(lines))
        for mark in (b": ", b"- "):
            head, found, rest = lines[at].partition(mark)
            if found and rest.strip():
                lines[at] = head + found + rng.choice(PIECES)
                return b"\n".join(lines)
    return body + rng.choice(PIECES)


@contextmanager
def prepared(folder: Path) -> Iterator[Case]:
    yield lambda number, rng: _case(folder, number, rng)
