"""Spoiled pieces of YAML files: single items, routes, limits, profiles. Small, so that there can be many."""

from __future__ import annotations

import contextlib
import random
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.attack.run import Case
from tests.attack.spoil import spoil_bytes
from tests.attack.yaml_files import PIECES, other_scalar, sources, tried
from voice.data.reader import line_of, read_yaml
from voice.errors import DataError
from voice.judge.load import load_limits
from voice.models.catalogue import load_catalogue
from voice.route.library import Reader, kind_of
from voice.route.vehicles import load_vehicle
from voice.session.script import load_script

ABOUT = "spoiled pieces of YAML files, each through its own reader: read, or refused in a sentence with file and line"
SHARE = 500
_LONGEST = 3_000  # characters of a piece
_BLOCK = re.compile(rb"^(?=[^\s#])", re.MULTILINE)
_INNER = re.compile(rb"^(?=  \S)(?!  #)", re.MULTILINE)
_LAYER = b"layer: own\ntitle: Own\n"


def _pieces(file: Path) -> list[bytes]:
    """The blocks that stand at the left, those too long by what is in them; whole files of one thing as they are."""
    body = file.read_bytes()
    if kind_of(file) in ("route", "places") or len(body) < _LONGEST:
        return [body]
    pieces: list[bytes] = []
    for block in _BLOCK.split(body)[1:]:
        if len(block) < _LONGEST:
            pieces.append(block)
        else:
            head, *inner = _INNER.split(block)
            pieces += [head + each for each in inner]
    return [_LAYER + piece for piece in pieces] if "limits" in file.parts else pieces


def _reader(file: Path) -> Callable[[Path], object]:
    """What reads a file of this place and name."""
    if "limits" in file.parts:
        return lambda piece: load_limits([piece])
    if kind := kind_of(file):
        return lambda piece: Reader(faults=None).file(piece, kind)
    if file.parent.name in ("vehicles", "fleet"):
        return load_vehicle
    if file.name == "catalogue.yaml":
        return load_catalogue
    return load_script if "demo" in file.parts else read_yaml


@contextmanager
def prepared(folder: Path) -> Iterator[Case]:
    known = [(file, _reader(file), _pieces(file)) for file in sources()]
    load_limits()  # units are read once

    def case(number: int, rng: random.Random) -> str | None:
        source, reader, pieces = known[number % len(known)]
        body = rng.choice(pieces)
        for _ in range(rng.choice((1, 1, 2))):
            body = other_scalar(body, rng) if rng.random() < 0.5 else spoil_bytes(body, rng, PIECES)
        file = folder / source.name
        file.write_bytes(body)
        if fault := tried(reader, file):
            return f"{source.name}: {fault}"
        if number % 5 == 0:
            with contextlib.suppress(DataError):
                line_of(file, ("limits", 0, "source", "title"))
        return None

    yield case
