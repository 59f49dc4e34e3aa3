"""A process that is a copy of this one: it can be killed like any other, and need not start Python and import anew."""

from __future__ import annotations

import os
import signal
import sys
import traceback
from collections.abc import Callable
from pathlib import Path
from typing import IO


class Forked:
    """Runs `what` in a process of its own; exit code 0, that of a SystemExit, or 70 after a traceback.

    out: what it prints, line by line. errors: the file that gets its stderr.
    """

    def __init__(self, what: Callable[[], object], errors: Path) -> None:
        self.errors = errors
        reading, writing = os.pipe()
        sys.stdout.flush()
        self.pid = os.fork()
        if self.pid == 0:
            os.close(reading)
            self._run(what, writing)
        os.close(writing)
        self.out: IO[bytes] = os.fdopen(reading, "rb", buffering=0)
        self._code: int | None = None

    def _run(self, what: Callable[[], object], writing: int) -> None:
        code = 70
        try:
            os.dup2(writing, 1)
            os.dup2(os.open(self.errors, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), 2)
            sys.stdout, sys.stderr = (
                os.fdopen(number, "w", buffering=1, encoding="utf-8", closefd=False) for number in (1, 2)
            )
            what()
            code = 0
        except SystemExit as stop:
            code = stop.code if isinstance(stop.code, int) else 0 if stop.code is None else 1
        except BaseException:
            traceback.print_exc()
        finally:
            sys.stdout.flush()
            os._exit(code)

    def poll(self) -> int | None:
        """The exit code, minus the signal's number if it was killed; None while it runs."""
        if self._code is None:
            pid, status = os.waitpid(self.pid, os.WNOHANG)
            self._code = os.waitstatus_to_exitcode(status) if pid else None
        return self._code

    def kill(self) -> None:
        """SIGKILL, unless it has ended."""
        if self.poll() is None:
            os.kill(self.pid, signal.SIGKILL)

    def wait(self) -> int:
        """The exit code; what it still prints is read and dropped, so that it can end."""
        while not self.out.closed and self.out.read(65536):
            pass
        if self._code is None:
            self._code = os.waitstatus_to_exitcode(os.waitpid(self.pid, 0)[1])
        self.out.close()
        return self._code
