"""A zip from somewhere, unpacked so that it can do no harm: not beside its folder, not without end."""

from __future__ import annotations

import stat
import zipfile
import zlib
from pathlib import Path, PurePosixPath

from voice.errors import SetupError
from voice.models.disk import MOST_BYTES, MOST_FILES, require_room

_PIECE = 1 << 20


def unpack(file: Path, target: Path) -> Path:
    """Unpacks into target, which must not exist yet, and returns it. Raises SetupError, one sentence."""
    try:
        with zipfile.ZipFile(file) as archive:
            members = [member for member in archive.infolist() if not member.is_dir()]
            if len(members) > MOST_FILES:
                raise SetupError(f"{file.name} holds {len(members)} files: that is no speech model.", "")
            paths = [_safe(member, file) for member in members]
            if len({path.as_posix().casefold() for path in paths}) != len(paths):
                raise SetupError(f"{file.name} holds a file twice.", "Get it again.")
            target.mkdir()
            require_room(sum(member.file_size for member in members), target)
            left = MOST_BYTES
            for member, path in zip(members, paths, strict=True):
                left -= _extract(archive, member, target / path, left)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError) as error:
        # the last two: a compression or an encryption that Python's zipfile does not know
        raise SetupError(f"{file.name} is not a whole zip file ({error}).", "Get it again, or give a folder.") from None
    return target


def _safe(member: zipfile.ZipInfo, file: Path) -> PurePosixPath:
    """The member's path if it stays inside. (zipfile itself would silently bend it.)"""
    path = PurePosixPath(member.filename)
    kind = stat.S_IFMT(member.external_attr >> 16)
    if (
        path.is_absolute()
        or not path.parts
        or any(part in ("..", "") or ":" in part or "\\" in part or "\0" in part for part in path.parts)
        or "\\" in member.orig_filename
        or kind not in (0, stat.S_IFREG)
    ):
        raise SetupError(f'{file.name} is not safe to unpack: it holds "{member.filename}".', "Get it from its maker.")
    return path


def _extract(archive: zipfile.ZipFile, member: zipfile.ZipInfo, target: Path, left: int) -> int:
    """Writes one file, counting what really comes out: a header may lie."""
    target.parent.mkdir(parents=True, exist_ok=True)
    written = 0
    with archive.open(member) as source, target.open("xb") as out:
        while piece := source.read(_PIECE):
            written += len(piece)
            if written > min(member.file_size, left):
                raise zipfile.BadZipFile(f"{member.filename} is larger than it says")
            out.write(piece)
    if written != member.file_size:
        raise zipfile.BadZipFile(f"{member.filename} is smaller than it says")
    return written
