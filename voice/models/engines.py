"""The engines of a walk: their files checked, loaded, and what is lacking told.

Each file must be the one this project was tried with (models/catalogue.yaml). An engine whose files are missing or
damaged is left out, and the others go on; where a second opinion is lacking, every okay is asked back
(voice/hear/fusion.py).
"""

from __future__ import annotations

import contextlib
import os
import threading
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from importlib.util import find_spec
from pathlib import Path
from typing import TypeVar

import orjson

from voice.data.folders import catalogue_dir
from voice.errors import SetupError, tell
from voice.hear.port import Transcriber
from voice.hear.pronounce import Dictionary
from voice.hear.transformer import Transformer
from voice.sound.port import Audio

Engine = TypeVar("Engine")
Stamp = list[int]  # size in bytes, time of the last change in nanoseconds

INSIDE = {"ear": "", "moonshine-tiny-en": "assets/tiny-en", "pronunciations": "model/en-us"}


@dataclass(frozen=True, slots=True)
class Engines:
    """The engines that are there.

    judge: scores what may be heard: our model, or moonshine in its place.
    writer: writes down free speech: moonshine, or our model in its place.
    warning: one sentence on what was left out and what to do; empty if nothing was.
    """

    judge: Transformer
    writer: Transcriber
    warning: str = ""


class LateWriter:
    """Transcriber that is loaded when it is first needed, which on most walks is never.

    make: loads it.
    otherwise: writes if it cannot be loaded, which is told once.
    Safe to use from several threads.
    """

    name = "moonshine"
    model = "tiny-en"

    def __init__(self, make: Callable[[], Transcriber], otherwise: Transcriber) -> None:
        self._make, self._otherwise = make, otherwise
        self._made: Transcriber | None = None
        self._lock = threading.Lock()

    def transcribe(self, audio: Audio) -> str:
        with self._lock:
            if self._made is None:
                try:
                    self._made = self._make()
                except SetupError as error:  # checked at the start, and damaged since
                    tell(error)
                    self._made = self._otherwise
        return self._made.transcribe(audio)


def load_engines(
    cache: Path | None = None, *, catalogue: Path | None = None, writer: Callable[[Path], Transformer] | None = None
) -> Engines:
    """Check all engines and load those of every answer.

    cache: folder where it is kept which files were found whole; if not given, they are hashed anew.
    catalogue: of models, the shipped one if not given.
    writer: makes the engine for free speech of its folder, if not as a walk has it.
    Raises SetupError if neither our model nor moonshine can be used.
    """
    lacking: list[SetupError] = []

    def made(id: str, make: Callable[[Path], Engine]) -> Engine | None:
        try:
            return make(model_folder(id, cache, catalogue))
        except SetupError as error:
            lacking.append(error)
            return None

    dictionary = made("pronunciations", lambda folder: Dictionary(folder / "cmudict-en-us.dict"))
    ear = made("ear", lambda folder: _whisper(folder, dictionary))
    folder = made("moonshine-tiny-en", lambda folder: folder)
    what = " ".join(error.message for error in lacking)
    repair = " and ".join(dict.fromkeys(error.hint for error in lacking))
    effect = "Every okay is asked back." if ear is None or dictionary is None else "Notes are written down less well."
    warning = f"{what} {effect} {repair}" if lacking else ""
    make = partial(writer or _moonshine, folder) if folder is not None else None
    if ear is not None:
        return Engines(ear, ear if make is None else LateWriter(make, ear), warning)
    if make is None:
        raise SetupError(f"There is no speech engine to listen with. {what}", repair)
    moonshine = make()
    return Engines(moonshine, moonshine, warning)


def model_folder(id: str, cache: Path | None = None, catalogue: Path | None = None) -> Path:
    """Where this engine's files lie in their package; as `whole_folder`.

    catalogue: the shipped one if not given.
    """
    return whole_folder(id, cache, catalogue or catalogue_dir() / "catalogue.yaml") / INSIDE[id]


def whole_folder(id: str, cache: Path | None, catalogue: Path) -> Path:
    """Folder of the package that holds this model, all its files being as the catalogue says.

    The files are hashed once; after that, files of the same size and time of change count as the same, until the
    catalogue changes. Damage that leaves both as they were is found by `gladhand models check`, which always hashes.
    Raises SetupError if the package is not there or a file is missing or another.
    """
    kept = cache and cache / f"whole-{id}.json"
    if kept and (folder := _found_before(kept, catalogue)) is not None:
        return folder
    from voice.models.catalogue import load_catalogue

    entry = load_catalogue(catalogue).get(id)
    assert entry is not None  # noqa: S101 - the shipped catalogue has all of INSIDE, held by a test
    package = entry.package
    assert package is not None  # noqa: S101
    folder = package.folder(catalogue.parent)
    stamps = {name: stamp for name in package.files if folder and (stamp := _stamp(folder / name))}
    fault = package.fault(catalogue.parent)
    if folder is None or fault is not None:
        raise SetupError(f"The speech engine {entry.engine} is left out: {fault}.", package.repair)
    verdict = {"catalogue": _stamp(catalogue), "module": package.module, "folder": str(folder), "files": stamps}
    if kept is None:
        return folder
    with contextlib.suppress(OSError):  # a disk that takes no more: they are hashed again next time
        kept.parent.mkdir(parents=True, exist_ok=True)
        new = kept.with_suffix(f".{os.getpid()}")
        new.write_bytes(orjson.dumps(verdict))
        new.replace(kept)
    return folder


def _found_before(kept: Path, catalogue: Path) -> Path | None:
    """The folder, if these very files were found whole by this very catalogue."""
    try:
        verdict = orjson.loads(kept.read_bytes())
        folder = Path(verdict["folder"])
        spec = None if verdict["module"] is None else find_spec(verdict["module"])
        place = Path(spec.origin).parent if spec is not None and spec.origin else None
        if folder != (catalogue.parent if verdict["module"] is None else place):
            return None
        same = verdict["catalogue"] == _stamp(catalogue) and all(
            _stamp(folder / name) == stamp for name, stamp in verdict["files"].items()
        )
    except (OSError, ValueError, TypeError, KeyError, AttributeError):
        return None
    return folder if same else None


def _stamp(file: Path) -> Stamp | None:
    try:
        found = file.stat()
    except OSError:
        return None
    return [found.st_size, found.st_mtime_ns]


def _moonshine(folder: Path) -> Transformer:
    from voice.hear.moonshine import Moonshine

    return Moonshine(folder)


def _whisper(folder: Path, dictionary: Dictionary | None) -> Transformer:
    from voice.hear.whisper import Whisper

    return Whisper(folder / "ear.npz", dictionary)
