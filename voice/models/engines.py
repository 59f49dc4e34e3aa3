"""The recognizers that come inside Python packages: their files checked, loaded, and what is lacking told.

The weights lie in packages that others made for other programs, so each file must be the one this project was tried
with (models/catalogue.yaml). An engine whose files are missing or damaged is left out, and the others go on: no OK is
then taken at once, since all engines have to agree for that (voice/hear/fusion.py).
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path
from typing import TypeVar

import orjson

from voice.data.folders import catalogue_dir
from voice.errors import SetupError
from voice.hear.port import Recognizer
from voice.hear.transformer import Transformer

Engine = TypeVar("Engine")
Stamp = list[int]  # size in bytes, time of the last change in nanoseconds

INSIDE = {"moonshine-tiny-en": "assets/tiny-en", "whisper-tiny-en": "model", "pocketsphinx-en-us": "model"}


@dataclass(frozen=True, slots=True)
class Engines:
    """The engines that are there.

    first: the transformer that also writes down free speech; moonshine if it is there.
    second: the other transformer, None if it is left out.
    third: pocketsphinx, None if it is left out.
    warning: one sentence on what was left out and what to do; empty if nothing was.
    """

    first: Transformer
    second: Transformer | None
    third: Recognizer | None
    warning: str = ""


def load_engines(
    cache: Path, *, catalogue: Path | None = None, moonshine: Callable[[Path], Transformer] | None = None
) -> Engines:
    """Check and load all engines, two at a time.

    cache: folder where it is kept which files were found whole.
    catalogue: of models, the shipped one if not given.
    moonshine: makes the first engine of its folder, if not as a walk has it.
    Raises SetupError if neither transformer can be used: pocketsphinx alone takes any noise for an answer.
    """
    lacking: list[SetupError] = []

    def made(id: str, make: Callable[[Path], Engine]) -> Engine | None:
        try:
            return make(whole_folder(id, cache, catalogue or catalogue_dir() / "catalogue.yaml") / INSIDE[id])
        except SetupError as error:
            lacking.append(error)
            return None

    with ThreadPoolExecutor(1) as beside:
        later = beside.submit(made, "whisper-tiny-en", _whisper)
        transformers = [made("moonshine-tiny-en", moonshine or _moonshine), later.result()]
    third = made("pocketsphinx-en-us", _sphinx)
    what = " ".join(error.message for error in lacking)
    repair = " and ".join(dict.fromkeys(error.hint for error in lacking))
    there = [engine for engine in transformers if engine is not None]
    if not there:
        raise SetupError(f"There is no speech engine to listen with. {what}", repair)
    warning = f"{what} The other engines go on, and every okay is asked back. {repair}" if lacking else ""
    return Engines(there[0], there[1] if len(there) > 1 else None, third, warning)


def whole_folder(id: str, cache: Path, catalogue: Path) -> Path:
    """Folder of the package that holds this model, all its files being as the catalogue says.

    The files are hashed once; after that, files of the same size and time of change count as the same, until the
    catalogue changes. Damage that leaves both as they were is found by `gladhand models check`, which always hashes.
    Raises SetupError if the package is not there or a file is missing or another.
    """
    kept = cache / f"whole-{id}.json"
    if (folder := _found_before(kept, catalogue)) is not None:
        return folder
    from voice.models.catalogue import load_catalogue

    entry = load_catalogue(catalogue).get(id)
    assert entry is not None  # noqa: S101 - the shipped catalogue has all of INSIDE, held by a test
    package = entry.package
    assert package is not None  # noqa: S101
    folder = package.folder()
    stamps = {name: stamp for name in package.files if folder and (stamp := _stamp(folder / name))}
    fault = package.fault()
    if folder is None or fault is not None:
        raise SetupError(f"The speech engine {entry.engine} is left out: {fault}.", package.repair)
    verdict = {"catalogue": _stamp(catalogue), "module": package.module, "folder": str(folder), "files": stamps}
    with contextlib.suppress(OSError):  # a disk that takes no more: they are hashed again next time
        cache.mkdir(parents=True, exist_ok=True)
        new = kept.with_suffix(f".{os.getpid()}")
        new.write_bytes(orjson.dumps(verdict))
        new.replace(kept)
    return folder


def _found_before(kept: Path, catalogue: Path) -> Path | None:
    """The folder, if these very files were found whole by this very catalogue."""
    try:
        verdict = orjson.loads(kept.read_bytes())
        spec = find_spec(verdict["module"])
        folder = Path(verdict["folder"])
        if spec is None or spec.origin is None or Path(spec.origin).parent != folder:
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


def _whisper(folder: Path) -> Transformer:
    from voice.hear.whisper import Whisper

    return Whisper(folder)


def _sphinx(folder: Path) -> Recognizer:
    from voice.hear.sphinx import Sphinx

    return Sphinx(folder)
