"""The shelf of speech models added to the user's folder: check, copy, keep, check again, remove."""

from __future__ import annotations

import errno
import json
import tempfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from pydantic import BaseModel, ConfigDict, ValidationError

from voice.errors import SetupError
from voice.hear.voskfolder import TAKE, validate, vocabulary
from voice.hear.vosktrial import trial
from voice.models.archive import unpack
from voice.models.catalogue import NAME, Catalogue, load_catalogue
from voice.models.disk import copy_files, files_of, hash_of

if TYPE_CHECKING:
    from voice.hear.vosk import VoskRecognizer

MANIFEST = "gladhand-model.json"


class Manifest(BaseModel):
    """What `add` wrote beside a model: where it came from, and its files as they were, so that a change is noticed.

    sha256: of the zip it came from, if it did.
    known: that this is the catalogue's.
    files: path -> bytes, SHA-256.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)
    id: str
    engine: Literal["vosk"] = "vosk"
    source: str
    sha256: str | None
    known: bool
    files: dict[str, tuple[int, str]]


@dataclass(frozen=True, slots=True)
class Installed:
    """A model on the shelf."""

    id: str
    folder: Path
    manifest: Manifest

    @property
    def bytes(self) -> int:
        return sum(size for size, _ in self.manifest.files.values())

    def unchanged(self) -> bool:
        """Whether every file has the size it had when the model was tried. Quick: contents are left to `check`."""
        files = {name: size for name, (size, _) in self.manifest.files.items()}
        return files == {name: path.stat().st_size for name, path in _own_files(self.folder)}

    def check(self) -> None:
        """Raises SetupError if a file has changed, or the engine does not work with it."""
        present = dict(_own_files(self.folder))
        if lost := sorted(set(self.manifest.files) - set(present)):
            raise SetupError(f"The model {self.id} has lost {lost[0]}.", "Remove it and add it again.")
        for name, (_, sha256) in self.manifest.files.items():
            if hash_of(present[name]) != sha256:
                raise SetupError(f"The model {self.id} has changed: {name}.", "Remove it and add it again.")
        trial(self.folder)

    def unknown(self, words: Iterable[str]) -> list[str]:
        """Those of the words that the model does not know, sorted."""
        return sorted(set(words) - vocabulary(self.folder))


class Shelf:
    """The models added to the user's folder.

    home: as of voice.data.home().
    """

    def __init__(self, home: Path, catalogue: Catalogue | None = None) -> None:
        self.folder = home / "models"
        self._catalogue = catalogue or load_catalogue()

    def installed(self) -> list[Installed]:
        """All of them by name. A folder without a readable manifest was not put there by `add`: it is left out."""
        if not self.folder.is_dir():
            return []
        found = []
        for folder in sorted(self.folder.iterdir()):
            try:
                text = (folder / MANIFEST).read_text(encoding="utf-8")
                found.append(Installed(folder.name, folder, Manifest.model_validate_json(text)))
            except (OSError, UnicodeDecodeError, ValidationError):
                continue
        return found

    def get(self, id: str) -> Installed:
        present = self.installed()
        for model in present:
            if model.id == id:
                return model
        names = ", ".join(model.id for model in present) or "none"
        raise SetupError(f'No model "{id}" has been added.', f"Added: {names}.")

    def add(self, source: Path, name: str | None = None) -> Installed:
        """Checks the zip or folder and copies it here. Raises SetupError, one sentence; then nothing is left behind."""
        require(source)
        told = self._catalogue.get(source.name.removesuffix(".zip"))
        if told is not None and told.graph == "static":  # known before gigabytes are unpacked
            raise SetupError(f"The model {told.id} has a fixed (static) graph: it cannot be told what to expect.", TAKE)
        sha256 = None if source.is_dir() else hash_of(source)
        with self._workplace() as place:
            root = _root(source if source.is_dir() else unpack(source, place / "unpacked"), source)
            id = name or _id(root, source)
            if not NAME.fullmatch(id):
                raise SetupError(f'"{id}" cannot be the name of a model.', "Give letters, digits, . _ - with --name.")
            if (self.folder / id).exists():
                raise SetupError(f"There is a model {id} already.", f"Remove it first: gladhand models remove {id}.")
            known = self._compare(source, id, sha256)
            with _named(root, source):
                validate(root)
            copy = place / "copy"
            if source.is_dir():
                copy_files(root, copy)
            else:
                root.rename(copy)
            with _named(copy, source):
                trial(copy)
            files = {path: (file.stat().st_size, hash_of(file)) for path, file in _own_files(copy)}
            manifest = Manifest(id=id, source=source.name, sha256=sha256, known=known, files=files)
            (copy / MANIFEST).write_text(json.dumps(manifest.model_dump(), indent=1) + "\n", encoding="utf-8")
            copy.rename(self.folder / id)
        return self.get(id)

    def remove(self, id: str) -> None:
        model = self.get(id)
        with self._workplace() as place:
            model.folder.rename(place / "removed")  # at once; deleting takes a moment

    def _compare(self, source: Path, id: str, sha256: str | None) -> bool:
        """Whether the file is known to be the catalogue's. Raises SetupError if it is known not to be."""
        by_sum = next((entry for entry in self._catalogue.models if sha256 and entry.sha256 == sha256), None)
        if by_sum is not None:
            return True
        entry = self._catalogue.get(id) or self._catalogue.get(source.name.removesuffix(".zip"))
        if entry is None or sha256 is None or (entry.sha256 is None and entry.md5 is None):
            return False
        if entry.sha256 is None and hash_of(source, "md5") == entry.md5:
            return True
        raise SetupError(
            f"{source.name} is not the file the catalogue knows as {entry.id}: its checksum differs.",
            "Get it again; if it is another model, give it another name with --name and rename the file.",
        )

    @contextmanager
    def _workplace(self) -> Iterator[Path]:
        """A folder on the same disk that is gone afterwards."""
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            with tempfile.TemporaryDirectory(prefix=".adding-", dir=self.folder) as place:
                yield Path(place)
        except OSError as error:
            if error.errno in (errno.ENOSPC, errno.EDQUOT):
                raise SetupError(f"The disk with {self.folder} is full.", "Make room and try again.") from error
            raise SetupError(f"{error.filename or self.folder} cannot be used: {error.strerror}.", "") from error


def open_vosk(given: Path, home: Path, needs: Iterable[str] | None = None) -> VoskRecognizer:
    """The recognizer for a folder, or for the name of an added model; one that is as it was added starts faster.

    needs: phrases it must know every word of; by default the fixed answers and commands, so that a model of another
    language is refused at the start. Raises SetupError, one sentence.
    """
    from voice.hear.vosk import VoskRecognizer
    from voice.understand.vocabulary import fixed_phrases

    recognizer = None
    for model in Shelf(home).installed():
        if str(given) == model.id or given.resolve() == model.folder.resolve():
            recognizer = VoskRecognizer(model.folder, tried=model.unchanged())
    recognizer = recognizer or VoskRecognizer(given)
    recognizer.require(fixed_phrases() if needs is None else needs)
    return recognizer


def require(source: Path) -> None:
    """Raises SetupError if there is nothing to add."""
    if not source.exists():
        raise SetupError(f"There is no {source}.", "Give a zip file or a folder with a Vosk model.")


@contextmanager
def _named(folder: Path, source: Path) -> Iterator[None]:
    """Errors name what the user gave, not the folder that it was unpacked or copied to."""
    try:
        yield
    except SetupError as error:
        if folder.is_relative_to(source):
            raise
        message = error.message.replace(str(folder), str(source))
        raise SetupError(message, error.hint.replace(str(folder), str(source))) from None


def _root(folder: Path, source: Path) -> Path:
    """The folder that holds the model: this one, or the only one in it.

    source: what the user gave.
    """
    if (folder / "am").is_dir() or (folder / "graph").is_dir():
        return folder
    inside = [path for path in folder.iterdir() if path.is_dir() and not path.name.startswith(("__MACOSX", "."))]
    if len(inside) == 1 and ((inside[0] / "am").is_dir() or (inside[0] / "graph").is_dir()):
        return inside[0]
    raise SetupError(f"{source} holds no Vosk model.", "It needs the folders am, conf, graph and ivector, at its top.")


def _id(root: Path, source: Path) -> str:
    return source.name.removesuffix(".zip") if root.name in ("model", "unpacked") else root.name


def _own_files(folder: Path) -> Iterator[tuple[str, Path]]:
    return ((name, path) for name, path in files_of(folder) if name != MANIFEST)
