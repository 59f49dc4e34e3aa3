"""Writing that survives a power cut, and that only its owner can read: the one place that changes files of the home.

A file that is replaced is there whole, old or new, at every moment. What is appended is there whole or not at all.
All functions raise OSError; `trouble` turns that into the two sentences of an error.
"""

from __future__ import annotations

import contextlib
import errno
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from pydantic_core import from_json

PRIVATE = 0o600  # mode of a file
PRIVATE_FOLDER = 0o700
_BINARY = getattr(os, "O_BINARY", 0)  # Windows would turn line ends into two bytes
_PERSONAL = (
    "sessions",
    "students",
    "set-aside",
    "repairs.jsonl",
    "cosignatures.jsonl",
    "duty.jsonl",
    "past.json",
    "drivers.yaml",
    "logbook.sqlite",
)


class Calls:
    """The calls to the system that change the disk. A test puts another one into `calls`, of which some fail."""

    def open(self, path: Path, flags: int, mode: int) -> int:
        return os.open(path, flags | _BINARY, mode)

    def write(self, handle: int, data: bytes) -> int:
        return os.write(handle, data)

    def sync(self, handle: int) -> None:
        os.fsync(handle)

    def cut(self, handle: int, size: int) -> None:
        os.ftruncate(handle, size)

    def rename(self, old: Path, new: Path) -> None:
        old.replace(new)

    def link(self, old: Path, new: Path) -> None:
        new.hardlink_to(old)

    def remove(self, path: Path) -> None:
        path.unlink(missing_ok=True)

    def folder(self, path: Path) -> None:
        path.mkdir(PRIVATE_FOLDER, exist_ok=True)


calls = Calls()


# --- whole files -------------------------------------------------------------------------------------------------


def replace(path: Path, data: bytes, *, mode: int = PRIVATE, sync: bool = True) -> None:
    """Put a whole new file in place of the old one.

    sync: False for what can be made again, such as a cache.
    """
    fresh = path.with_name(f"{path.name}.new")
    calls.remove(fresh)  # left by a kill, perhaps with other rights
    try:
        with _opened(fresh, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode) as handle:
            _write(handle, data)
            if sync:
                calls.sync(handle)
        calls.rename(fresh, path)
    except OSError:
        with contextlib.suppress(OSError):
            calls.remove(fresh)
        raise
    if sync:
        sync_folder(path.parent)


def keep_copy(path: Path, copy: Path) -> None:
    """A second name for a file that is about to be replaced; a copy where the disk knows no links."""
    try:
        calls.link(path, copy)
    except OSError as error:
        if error.errno not in (errno.EPERM, errno.ENOTSUP, errno.EMLINK, errno.ENOSYS):
            raise
        replace(copy, path.read_bytes())
    sync_folder(path.parent)


def make_folder(path: Path) -> None:
    """The folder and those above it. What is new is private, and its name is on the disk."""
    missing = [folder for folder in (path, *path.parents) if not folder.is_dir()]
    for folder in reversed(missing):
        calls.folder(folder)
        sync_folder(folder.parent)


def sync_folder(path: Path) -> None:
    """Make new or changed names in a folder durable (a folder can be synced on POSIX only)."""
    if os.name != "posix":
        return
    try:
        with _opened(path, os.O_RDONLY, 0) as handle:
            calls.sync(handle)
    except OSError as error:
        # Some network disks know no such thing, and not every folder that can be used can be read.
        if error.errno not in (errno.EINVAL, errno.ENOTSUP, errno.EACCES):
            raise


# --- files that grow ---------------------------------------------------------------------------------------------


def begin(path: Path) -> int:
    """A new, empty file to append to; its name is on the disk. Raises FileExistsError if there is one."""
    handle = calls.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_APPEND, PRIVATE)
    try:
        sync_folder(path.parent)
    except OSError:
        os.close(handle)
        raise
    return handle


def go_on(path: Path, size: int) -> int:
    """An existing file to append to, of which only the first `size` bytes are kept."""
    handle = calls.open(path, os.O_WRONLY | os.O_APPEND, 0)
    try:
        if os.fstat(handle).st_size != size:
            calls.cut(handle, size)
            calls.sync(handle)
    except OSError:
        os.close(handle)
        raise
    return handle


def add(handle: int, data: bytes) -> None:
    """Append to an open file; on the disk when this returns. On an error nothing was added."""
    before = os.fstat(handle).st_size
    try:
        _write(handle, data)
        calls.sync(handle)
    except OSError:
        # A part may be there: take it off again, so that the file ends where it ended. A disk that refuses even that
        # leaves an unfinished line, which readers know how to tell.
        with contextlib.suppress(OSError):
            calls.cut(handle, before)
        raise


def append(path: Path, data: bytes, *, keep: int | None = None) -> None:
    """Append to a file, which is made if it is not there.

    keep: cut it to so many bytes first.
    """
    new = not path.exists()
    with _opened(path, os.O_WRONLY | os.O_CREAT | os.O_APPEND, PRIVATE) as handle:
        if keep is not None and os.fstat(handle).st_size != keep:
            calls.cut(handle, keep)
        add(handle, data)
    if new:
        sync_folder(path.parent)


def is_unfinished(text: bytes) -> bool:
    """Whether this is the beginning of a JSON object and nothing else: what a kill leaves of a line.

    Zeros, as a power cut may leave them, and a flipped bit that makes it no JSON are not: they are damage.
    """
    try:
        from_json(text)
    except ValueError as error:
        return text.startswith(b"{") and str(error).startswith("EOF")
    return text.startswith(b"{")


def _write(handle: int, data: bytes) -> None:
    written = 0
    while written < len(data):
        written += calls.write(handle, data[written:])


@contextmanager
def _opened(path: Path, flags: int, mode: int) -> Iterator[int]:
    handle = calls.open(path, flags, mode)
    try:
        yield handle
    finally:
        os.close(handle)


# --- rights ------------------------------------------------------------------------------------------------------


def tighten(home: Path) -> None:
    """Take from others the right to read what an earlier version of the program left open to them.

    A folder is looked through only while it is open itself: its own mode is changed last.
    """
    if os.name != "posix":
        return
    for name in _PERSONAL:
        for path in (home / name, home / f"{name}-wal", home / f"{name}-shm"):
            with contextlib.suppress(OSError):  # a disk that can only be read, or a file of another user
                _close_to_others(path)


def _close_to_others(path: Path) -> None:
    if path.is_symlink() or not path.exists() or not path.stat().st_mode & 0o077:
        return
    if path.is_dir():
        for inner in path.iterdir():
            _close_to_others(inner)
    path.chmod(path.stat().st_mode & 0o700)


# --- errors ------------------------------------------------------------------------------------------------------

_FULL = ("the disk is full", "Free some space and try again.")
_OPEN = ("too many files are open", "Close other programs, or allow more with 'ulimit -n 1024'.")
_RIGHTS = ("its rights do not allow it", "Change its rights, or give another folder.")
_KNOWN = {
    errno.ENOSPC: _FULL,
    errno.EDQUOT: _FULL,
    errno.EFBIG: _FULL,
    errno.EROFS: ("the disk can only be read", "Give a folder on another disk."),
    errno.ENAMETOOLONG: ("its name is too long", "Give a shorter name."),
    errno.EMFILE: _OPEN,
    errno.ENFILE: _OPEN,
    errno.EACCES: _RIGHTS,
    errno.EPERM: _RIGHTS,
    errno.EIO: ("the disk has failed", "Copy what is on it to another disk."),
    errno.ENOENT: ("there is no such file or folder", "Check its name."),
    errno.ENOTDIR: ("a part of its path is no folder", "Check its name."),
    errno.EISDIR: ("it is a folder", "Give the name of a file."),
    errno.EEXIST: ("there is one already", "Give another name."),
}


def why(error: OSError) -> str:
    """The reason in a few words, to stand after a colon."""
    return _KNOWN.get(error.errno or 0, (error.strerror or str(error), ""))[0]


def trouble(what: str, error: OSError) -> tuple[str, str]:
    """Message and hint of an error.

    what: what could not be done ("FILE cannot be written").
    """
    return f"{what}: {why(error)}.", _KNOWN.get(error.errno or 0, ("", "Check the disk and the rights."))[1]
