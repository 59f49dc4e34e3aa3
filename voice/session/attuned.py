"""What is known of how drivers say okay, one file a driver: home/attuned/ID.json, and home/attuned/ID/ for sound.

ID is made of the name, so that any name can be a file's.
"""

from __future__ import annotations

import hashlib
import io
import shutil
import unicodedata
from collections.abc import Callable
from pathlib import Path

from pydantic import Field, ValidationError

from voice.data import durable
from voice.data.fields import MAX_PERSON
from voice.data.strict import Strict
from voice.errors import GladhandError, RecordError, tell
from voice.hear.likeness import Likeness, Reading, counts, likeness
from voice.sound.port import RATE, Audio

ENOUGH = 12  # readings that must count before any of them changes anything: half of a whole reading


class Attuned(Strict):
    """A driver's guided reading, and what their walks taught.

    name: as typed.
    model: SHA-256 of the weights that it was read for; scores of others are not comparable.
    asked: words asked for so far, in the fixed order of the reading.
    read: what was heard of them.
    confirmed: okays of walks that were asked back and confirmed, by session and number of the event.
    """

    name: str = Field(min_length=1, max_length=MAX_PERSON)
    model: str
    asked: int = Field(default=0, ge=0)
    read: tuple[Reading, ...] = ()
    confirmed: dict[str, Reading] = Field(default_factory=dict)

    @property
    def enough(self) -> bool:
        return sum(counts(one) for one in self.read) >= ENOUGH

    @property
    def likeness(self) -> Likeness:
        return likeness(self.read if self.enough else (), self.confirmed.values())


def model() -> str:
    """Of the weights of our model, as the catalogue has them."""
    from voice.models.catalogue import load_catalogue

    entry = load_catalogue().get("ear")
    files = entry.package.files if entry is not None and entry.package is not None else {}
    return hashlib.sha256(repr(sorted(files.items())).encode()).hexdigest()


class Shelf:
    """The readings under one home."""

    def __init__(self, home: Path) -> None:
        self._folder = home / "attuned"

    def file(self, name: str) -> Path:
        key = " ".join(unicodedata.normalize("NFC", name).casefold().split())
        return self._folder / f"{hashlib.sha256(key.encode()).hexdigest()[:16]}.json"

    def load(self, name: str) -> Attuned | None:
        """None if there is nothing. Raises RecordError if it cannot be read."""
        file = self.file(name)
        return _read(file) if file.exists() else None

    def current(self, name: str) -> Attuned:
        """What holds for the model that is used now: a new one if nothing does. Raises RecordError."""
        one = self.load(name)
        return one if one is not None and one.model == model() else Attuned(name=name, model=model())

    def all(self, aside: Callable[[GladhandError], None] = tell) -> list[Attuned]:
        """By name. aside: is told of one that cannot be read; the others go on."""
        found = []
        for file in sorted(self._folder.glob("*.json")):
            try:
                found.append(_read(file))
            except RecordError as error:
                aside(error)
        return sorted(found, key=lambda one: one.name.casefold())

    def keep(self, one: Attuned) -> None:
        """On the disk when this returns. Raises RecordError."""
        self._write(self.file(one.name), one.model_dump_json().encode() + b"\n")

    def keep_sound(self, one: Attuned, audio: Audio) -> None:
        """The sound of the word asked last, beside its numbers. Raises RecordError."""
        import soundfile

        sound = io.BytesIO()
        soundfile.write(sound, audio, RATE, format="FLAC")
        self._write(self.file(one.name).with_suffix("") / f"{one.asked:02d}.flac", sound.getvalue())

    def forget(self, name: str) -> bool:
        """Deletes numbers and sound, damaged ones too; False if there was nothing. Raises RecordError."""
        file = self.file(name)
        sounds = file.with_suffix("")
        there = file.exists() or sounds.exists()
        try:
            if sounds.exists():
                shutil.rmtree(sounds)
            durable.calls.remove(file)
            durable.calls.remove(file.with_name(f"{file.name}.new"))
            if there:
                durable.sync_folder(self._folder)
        except OSError as error:
            raise RecordError(*durable.trouble(f"{file} cannot be deleted", error)) from error
        return there

    def _write(self, path: Path, data: bytes) -> None:
        try:
            durable.make_folder(path.parent)
            durable.replace(path, data)
        except OSError as error:
            raise RecordError(*durable.trouble(f"{path} cannot be written", error)) from error


def _read(file: Path) -> Attuned:
    try:
        return Attuned.model_validate_json(file.read_bytes())
    except OSError as error:
        raise RecordError(*durable.trouble(f"{file} cannot be read", error)) from error
    except ValidationError:
        raise RecordError(f"{file} is damaged.", "Delete it, and read again with 'gladhand attune read'.") from None


def likeness_of(home: Path, driver: str | None) -> Likeness:
    """What is known of this driver's okay; nothing if they have not read, or it cannot be used, which is told."""
    try:
        one = None if driver is None else Shelf(home).load(driver)
    except RecordError as error:
        tell(error)
        return {}
    if one is None:
        return {}
    if one.model != model():
        tell("Your guided reading was for an earlier model and is not used. Read again with 'gladhand attune read'.")
        return {}
    return one.likeness
