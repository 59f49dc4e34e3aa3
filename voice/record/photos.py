"""Photos of reported defects: photos/001.jpg in the session's folder, and a chain of lines beside it, photos.jsonl.

They are kept as the recordings are: for their owner only, removed with the session. No report, export, mail or depot
has them. What is kept is a new picture made of the points of the one that was given, so that nothing is left of what a
camera writes into its files: place, time, device, owner.
"""

from __future__ import annotations

import hashlib
import io
import warnings
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import Annotated, Any

from pydantic import StringConstraints

from voice.data import durable
from voice.data.fields import Key, Moment, Name, RecordId, Sha256
from voice.errors import GladhandError, RecordError, SetupError
from voice.record.by_unit import key_in
from voice.record.chain import Chain
from voice.record.device import DeviceKey, trusted_keys
from voice.record.model import InspectionRecord, Model

LARGEST = 30_000_000  # bytes of a file that is given; a telephone's has some 5 million
MOST_POINTS = 60_000_000  # of a picture: as many take about 200 MB of memory
EDGE, QUALITY = 2000, 85  # of what is kept: points of the longer edge, and JPEG's quality; some 500 KB
MOST = 99  # photos of one inspection


PhotoName = Annotated[str, StringConstraints(pattern=r"^photos/[0-9]{3}\.jpg$")]


class Photo(Model):
    """A line of photos.jsonl.

    record: the inspection's id.
    defect: the key as the record has it.
    file: beside the record, and its hash.
    name, at: who put it there, and when.
    """

    record: RecordId
    defect: Key
    file: PhotoName
    sha256: Sha256
    name: Name
    at: Moment


def _parse(content: Mapping[str, Any]) -> Photo:
    return Photo.model_validate(content["photo"])


_CHAIN = Chain(b"gladhand photo of a defect 1\n", _parse)


def photos_file(folder: Path) -> Path:
    return folder / "photos.jsonl"


def photos_of(folder: Path, trusted: Mapping[str, bytes]) -> list[Photo]:
    """The photos of a session's folder, oldest first. Raises RecordError for lines that were damaged or altered."""
    file = photos_file(folder)
    return _CHAIN.read(file, trusted)[0] if file.exists() else []


def picture_of(folder: Path, photo: Photo) -> bytes | None:
    """The picture; None if it is not there, or a link. Raises RecordError if it is not the one that was kept."""
    file = folder / photo.file
    if not file.is_file() or any(path.is_symlink() for path in (file, file.parent, folder)):
        return None
    try:
        data = file.read_bytes()
    except OSError as error:
        raise RecordError(*durable.trouble(f"{photo.file} cannot be read", error)) from error
    if hashlib.sha256(data).hexdigest() != photo.sha256:
        raise RecordError(f"{photo.file} was altered.")
    return data


def photos_checked(
    folder: Path, record: InspectionRecord, trusted: Mapping[str, bytes]
) -> tuple[str, list[str]] | None:
    """For the verification of a record: how many there are, and what is wrong with them; None if there are none."""
    there = {f"photos/{path.name}" for path in (folder / "photos").glob("*")}
    if not there and not photos_file(folder).exists():
        return None
    try:
        photos = photos_of(folder, trusted)
    except RecordError as error:
        return "", [error.message]
    faults = []
    for photo in photos:
        if photo.record != record.id:
            faults.append(f"{photo.file} is of {photo.record}.")
        try:
            if picture_of(folder, photo) is None:
                faults.append(f"{photo.file} is missing.")
        except RecordError as error:
            faults.append(error.message)
    strange = len(there - {photo.file for photo in photos})
    return f"{len(photos)}, all unchanged" + (f"; {strange} more that no line names" if strange else ""), faults


def reported(record: InspectionRecord, part: str) -> tuple[str, str]:
    """Key and title of the reported defect that is meant. Raises SetupError.

    part: the key, or words of the key or the title that only one of them has.
    """
    known = {defect.key: defect.title for entry in record.entries for defect in entry.defects}
    known |= {key_in(record.vehicle, old): old.title for old in record.carried if old.answer == "still-there"}
    if not known:
        raise SetupError(f"{record.id} reports no defect.", "A photo is kept with a reported defect only.")
    wanted = part.casefold().split()
    hits = [key for key, title in known.items() if wanted and all(w in f"{key} {title}".casefold() for w in wanted)]
    hits = [part] if part in known else hits
    if not hits:
        raise SetupError(f'No reported defect of {record.id} is "{part}".', f"Reported are: {', '.join(known)}.")
    if len(hits) > 1:
        raise SetupError(f'"{part}" may be {" or ".join(hits)}.', "Give one of them whole.")
    return hits[0], known[hits[0]]


def cleaned(file: Path) -> bytes:
    """The picture of a file as it is kept. Raises SetupError for what is no picture, or too large."""
    try:
        from PIL import Image, ImageOps
    except ImportError as error:
        raise SetupError("What reads pictures is not installed.", "pip install 'gladhand[logbook]'") from error

    try:
        with file.open("rb") as opened:
            data = opened.read(LARGEST + 1)
    except OSError as error:
        raise SetupError(f"{file} cannot be read: {error.strerror}.", "Check the path.") from error
    if len(data) > LARGEST:
        raise SetupError(f"{file} has more than {LARGEST // 1_000_000} MB.", "Make the picture smaller.")
    large = SetupError(f"{file} has more than {MOST_POINTS // 1_000_000} million points.", "Make the picture smaller.")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of large and of odd pictures: both are dealt with here
            with Image.open(io.BytesIO(data), formats=("JPEG", "PNG")) as given:
                if given.width * given.height > MOST_POINTS:
                    raise large
                upright = ImageOps.exif_transpose(given)
            if upright.mode.startswith("I"):  # gray in 16 bits, of which a conversion would make all white
                upright = upright.convert("I").point(lambda value: value / 256).convert("L")
            clear = upright.has_transparency_data
            upright = upright.convert("RGBA" if clear else "RGB")
            upright.thumbnail((EDGE, EDGE))
            # A fresh picture: a converted one still carries the comment, the profile and all else.
            kept = Image.new("RGB", upright.size, "white")
            kept.paste(upright, mask=upright.getchannel("A") if clear else None)
            out = io.BytesIO()
            kept.save(out, "JPEG", quality=QUALITY)
    except GladhandError:
        raise
    except Image.DecompressionBombError:
        raise large from None
    except Exception as error:  # a broken picture is told of by whatever error its reader runs into
        raise SetupError(f"{file} is no picture that can be read.", "Give a JPEG or PNG file.") from error
    return out.getvalue()


def add(folder: Path, defect: str, picture: bytes, who: tuple[str, datetime], key: DeviceKey | None = None) -> Photo:
    """Keeps a picture with its line; both are on the disk when this returns. The session must be locked.

    folder: of the session, below the home's sessions.
    who: name and time.
    key: of the device, signs the line.
    Raises RecordError, SetupError.
    """
    home = folder.parent.parent
    known = [photo.file for photo in photos_of(folder, trusted_keys(home))]
    there = {*known, *(f"photos/{path.name}" for path in (folder / "photos").glob("*"))}
    names = (f"photos/{number:03d}.jpg" for number in range(1, MOST + 1))
    file = next((name for name in names if name not in there), None)
    if file is None:
        raise SetupError(f"{folder.name} has {MOST} photos already.", "No more are kept of one inspection.")
    sha256 = hashlib.sha256(picture).hexdigest()
    made = Photo(record=folder.name, defect=defect, file=file, sha256=sha256, name=who[0], at=who[1])
    try:
        durable.make_folder(folder / "photos")
        durable.replace(folder / file, picture)
    except OSError as error:
        raise RecordError(*durable.trouble(f"{folder / file} cannot be written", error)) from error
    _CHAIN.add(home, photos_file(folder), {"photo": made.model_dump(mode="json")}, key)
    return made
