"""A file system of which one call fails, for the attacks and the tests."""

from __future__ import annotations

import errno
import os
import signal
from pathlib import Path

from voice.data import durable

ERRORS = (errno.ENOSPC, errno.EIO, errno.EROFS)


class FailingCalls(durable.Calls):
    """The calls that change the disk, of which number `at` (from 1) fails; a write does half of it first.

    count: how many calls there were. stuck: every later call fails too, as on a disk that is full or gone.
    """

    def __init__(self, at: int, error: int, *, stuck: bool = False) -> None:
        self.at, self.error, self.stuck, self.count = at, error, stuck, 0

    @property
    def failed(self) -> bool:
        return self.count >= self.at

    def _step(self) -> None:
        self.count += 1
        if self.count == self.at or (self.stuck and self.count > self.at):
            raise OSError(self.error, os.strerror(self.error))

    def open(self, path: Path, flags: int, mode: int) -> int:
        self._step()
        return super().open(path, flags, mode)

    def write(self, handle: int, data: bytes) -> int:
        if self.count + 1 == self.at:
            super().write(handle, data[: len(data) // 2])
        self._step()
        return super().write(handle, data)

    def sync(self, handle: int) -> None:
        self._step()
        super().sync(handle)

    def cut(self, handle: int, size: int) -> None:
        self._step()
        super().cut(handle, size)

    def rename(self, old: Path, new: Path) -> None:
        self._step()
        super().rename(old, new)

    def link(self, old: Path, new: Path) -> None:
        self._step()
        super().link(old, new)

    def remove(self, path: Path) -> None:
        self._step()
        super().remove(path)

    def folder(self, path: Path) -> None:
        self._step()
        super().folder(path)


class KillingCalls(FailingCalls):
    """Kills its own process, as kill -9 does, where the others fail. Of a write, half is done before."""

    def __init__(self, at: int) -> None:
        super().__init__(at, 0)

    def _step(self) -> None:
        self.count += 1
        if self.count == self.at:
            os.kill(os.getpid(), signal.SIGKILL)
