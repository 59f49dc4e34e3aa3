"""What a disk would hold if the power went out now: told from the syncs that were asked for, not from what is cached.

A killed program leaves its writes to the kernel, so kill -9 cannot show a missing fsync. Here every fsync is really
done, and noted: what a file held at its last fsync is durable, and a name is durable once its folder was synced after
the name was made. Everything is watched where the program calls the system (os.fsync, os.replace ...), so it holds
whichever way the program writes.
"""

from __future__ import annotations

import os
import stat
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest


@dataclass
class Disk:
    """A folder as a power cut would leave it.

    root: the folder that is watched; what was in it before is durable.
    log: every sync and rename in order, one line each, paths from root; others may add lines of their own.
    unready: renames of files that were not durable yet: after a power cut the name may stand for an empty file.
    """

    root: Path
    log: list[str] = field(default_factory=list)
    unready: list[str] = field(default_factory=list)
    _content: dict[int, bytes] = field(default_factory=dict)  # by inode
    _names: dict[int, dict[str, int]] = field(default_factory=dict)  # by the folder's inode
    _held: list[int] = field(default_factory=list)  # open files: keeps the system from using their inodes again

    def left(self, path: Path) -> bytes | None:
        """The bytes that a power cut would leave of the file; None if it would not be there."""
        inode = self.root.stat().st_ino
        for part in path.relative_to(self.root).parts:
            found = self._names.get(inode, {}).get(part)
            if found is None:
                return None
            inode = found
        return self._content.get(inode, b"")

    def restore(self, target: Path) -> Path:
        """The whole folder as a power cut would leave it, made anew in target."""
        self._restore(self.root.stat().st_ino, target)
        return target

    def _restore(self, folder: int, target: Path) -> None:
        target.mkdir(parents=True)
        for name, inode in self._names.get(folder, {}).items():
            if inode in self._names:
                self._restore(inode, target / name)
            else:
                (target / name).write_bytes(self._content.get(inode, b""))

    def settle(self, folder: Path) -> None:
        """Everything below is durable as it stands."""
        handles = [os.open(path, os.O_RDONLY) for path in [folder, *folder.rglob("*")]]
        for handle in handles:
            self.synced(handle)
            os.close(handle)
        self.log.clear()

    def synced(self, handle: int) -> None:
        """The file or folder behind the handle is durable as it stands."""
        about = os.fstat(handle)
        if not stat.S_ISREG(about.st_mode) and not stat.S_ISDIR(about.st_mode):
            return
        path = Path(f"/proc/self/fd/{handle}").readlink()
        if not path.is_relative_to(self.root):
            return
        self._held.append(os.open(path, os.O_RDONLY))
        where = path.relative_to(self.root)
        if stat.S_ISDIR(about.st_mode):
            self._names[about.st_ino] = {name.name: name.inode() for name in os.scandir(path)}
            for each in os.scandir(path):
                if each.is_dir(follow_symlinks=False):
                    self._names.setdefault(each.inode(), {})
            self.log.append(f"sync folder {where}")
        else:
            self._content[about.st_ino] = _bytes(self._held[-1])
            self.log.append(f"sync {where}")

    def renamed(self, source: Path, target: Path) -> None:
        """Called before the rename."""
        if not source.is_relative_to(self.root):
            return
        line = f"rename {source.relative_to(self.root)} to {target.relative_to(self.root)}"
        if source.is_file() and self._content.get(source.stat().st_ino) != source.read_bytes():
            self.unready.append(line)
        self.log.append(line)

    def close(self) -> None:
        for handle in self._held:
            os.close(handle)
        self._held.clear()


def _bytes(handle: int) -> bytes:
    return os.pread(handle, max(os.fstat(handle).st_size, 1), 0)


@contextmanager
def watched(root: Path) -> Iterator[Disk]:
    """A disk that notes every sync and rename below root, while the block runs. Linux only (/proc/self/fd)."""
    disk = Disk(root.resolve())
    disk.settle(disk.root)

    def after(sync: Callable[[Any], None]) -> Callable[[Any], None]:
        def call(handle: Any) -> None:
            sync(handle)
            disk.synced(handle if isinstance(handle, int) else handle.fileno())

        return call

    def before(rename: Callable[..., None]) -> Callable[..., None]:
        def call(source: Any, target: Any, **more: Any) -> None:
            disk.renamed(Path(source).resolve(), Path(target).resolve())
            rename(source, target, **more)

        return call

    with pytest.MonkeyPatch.context() as patch:
        for name in ("fsync", "fdatasync"):
            patch.setattr(os, name, after(getattr(os, name)))
        for name in ("rename", "replace"):
            patch.setattr(os, name, before(getattr(os, name)))
        try:
            yield disk
        finally:
            disk.close()
