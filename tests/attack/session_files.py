"""Damaged files of one session: it is refused with a sentence, and the other session goes on."""

from __future__ import annotations

import random
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.attack.run import Case
from tests.record.walks import walk
from voice.errors import JournalError
from voice.session.resources import load, open_resources, open_sessions

ABOUT = "a flipped bit in a session's plan, limits or heading is refused, and other sessions go on"
SHARE = 120

_FEW = ("chocks", "wipers", "tire-tread")
_FILES = ("plan.json", "limits.json", "heading")


@contextmanager
def prepared(folder: Path) -> Iterator[Case]:
    resources = open_resources(folder)
    one, _ = walk(folder, only=_FEW, stop_at="tire-tread@left-1", clips=False)
    two, _ = walk(folder, only=_FEW, stop_at="tire-tread@left-1", clips=False)
    ids = {one.id, two.id}
    said: list[str] = []

    def open_now() -> set[str]:
        return {found.id for found, _ in open_sessions(resources, lambda what: said.append(str(what)))}

    if open_now() != ids:
        raise AssertionError("both sessions are open")

    def case(number: int, rng: random.Random) -> str | None:
        name = _FILES[number % len(_FILES)]
        path = one.path / ("journal.jsonl" if name == "heading" else name)
        good = path.read_bytes()
        bad = _damaged(good, good.index(b"\n") if name == "heading" else len(good), rng)
        said.clear()
        path.write_bytes(bad)
        try:
            try:
                load(resources, one)
            except JournalError as error:
                if "\n" in str(error):
                    return f"{name}: not one sentence: {error}"
            else:
                return f"{name}: taken though it was changed"
            if open_now() != {two.id}:
                return f"{name}: the other session does not go on"
            return None if said else f"{name}: nothing was said"
        finally:
            path.write_bytes(good)

    yield case


def _damaged(good: bytes, end: int, rng: random.Random) -> bytes:
    """One bit flipped, mostly; else some bytes zeroed, cut off or put in, before `end`."""
    at = rng.randrange(end)
    match rng.randrange(10):
        case 0:
            bad = good[:at] + bytes(min(64, end - at)) + good[min(at + 64, end) :]
        case 1:
            bad = good[:at] + good[end:]
        case 2:
            bad = good[:at] + rng.randbytes(3) + good[at:]
        case _:
            bad = good[:at] + bytes([good[at] ^ 1 << rng.randrange(8)]) + good[at + 1 :]
    return bad
