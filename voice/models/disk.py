"""Files of a model on the disk: listing, hashing, copying, and whether there is room."""

from __future__ import annotations

import hashlib
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Literal

from voice.errors import SetupError

ROOM = 64 * 2**20  # bytes to leave free: an inspection must still fit
MOST_BYTES = 8 * 2**30  # of a whole model; the largest English one known is some 4 GB unpacked
MOST_FILES = 10_000


def size_text(size: int) -> str:
    """In the unit a person would say: "41 MB"."""
    for unit, bytes_ in (("GB", 10**9), ("MB", 10**6), ("kB", 10**3)):
        if size >= bytes_:
            return f"{size / bytes_:.{1 if size < 10 * bytes_ else 0}f} {unit}"
    return f"{size} bytes"


def files_of(folder: Path) -> Iterator[tuple[str, Path]]:
    """Every file below the folder, in order: its path with slashes, and where it is."""
    for path in sorted(folder.rglob("*")):
        if path.is_file():
            yield path.relative_to(folder).as_posix(), path


def hash_of(file: Path, kind: Literal["sha256", "md5"] = "sha256") -> str:
    with file.open("rb") as source:
        return hashlib.file_digest(source, kind).hexdigest()


def require_room(needed: int, folder: Path) -> None:
    """Raises SetupError if so many bytes are too many for a model, or for the disk."""
    if needed > MOST_BYTES:
        raise SetupError(f"{size_text(needed)} is too much for a speech model.", "Give the model alone.")
    free = shutil.disk_usage(folder).free
    if free < needed + ROOM:
        raise SetupError(
            f"The model needs {size_text(needed)}, and the disk has {size_text(free)} left.", "Make room and try again."
        )


def copy_files(source: Path, target: Path) -> None:
    """Copies all files, through links. Raises SetupError if they are too many or too large."""
    files = list(files_of(source))
    if len(files) > MOST_FILES:
        raise SetupError(f"{source} holds {len(files)} files: that is no speech model.", "Give the model's own folder.")
    require_room(sum(path.stat().st_size for _, path in files), target.parent)
    for name, path in files:
        (target / name).parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(path, target / name)
