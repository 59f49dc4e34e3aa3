"""Damaged journals: flipped bits, cuts, zeroed blocks, lines moved, doubled, lost, and lines made up."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from fractions import Fraction
from pathlib import Path

from tests.attack.run import Case
from voice.errors import JournalError
from voice.journal import journal
from voice.journal import line as journal_line
from voice.journal.journal import Journal
from voice.journal.line import Heading
from voice.measure import Measure
from voice.understand.meaning import Chosen, Command, Number, Ok, Words
from voice.walk.event import Event, Heard, Resumed, Silence, Started, Unclear

ABOUT = "a damaged journal gives all acknowledged events, or damage is said"
SHARE = 600

_KINDS: list[Event] = [
    Heard(0.0, Ok(), "okay – ça va", 0.93, 1.2),
    Heard(0.0, Number(Measure(Fraction(5, 32), "in")), "five thirty-seconds"),
    Heard(0.0, Chosen("left"), "left"),
    Heard(0.0, Words('a note with "quotes" and \\ and a tab\t'), "a note"),
    Heard(0.0, Command("change", "tire-tread@left-1"), "change"),
    Silence(0.0),
    Unclear(0.0),
    Resumed(0.0, torn=3),
]
_PIECES = (
    "null",
    "true",
    "-1",
    "1e999",
    "NaN",
    '"x"',
    "[]",
    "{}",
    "1" + "0" * 400,
    '"\\ud800"',
    "[" * 500,
    '"\\u0000"',
)


def _events(count: int) -> list[Event]:
    from dataclasses import replace

    return [Started(0.0), *(replace(_KINDS[n % len(_KINDS)], at=float(n + 1)) for n in range(count))]


@contextmanager
def prepared(folder: Path) -> Iterator[Case]:
    path = folder / "journal.jsonl"
    heading = Heading("s", "gladhand", datetime.now(UTC).astimezone(), "0" * 64, plan_sha256="1" * 64)
    events = _events(20)
    log = Journal.create(path, heading)
    for event in events:
        log.append(event, event.at, {"engine": "tests", "words": "w"} if isinstance(event, Heard) else None)
    log.close()
    good = path.read_bytes()
    names = sorted(_DAMAGES)

    def case(number: int, rng: random.Random) -> str | None:
        name = names[number % len(names)]
        data = _DAMAGES[name](good, rng)
        path.write_bytes(data)
        try:
            file = journal.read(path)
        except JournalError as error:
            return None if "\n" not in str(error) else f"{name}: {error!r}"
        if name == "made_up":
            return None  # its checksums fit: what is asked is only that it is refused or read
        read = [line.event for line in file.lines]
        wanted = events
        if name == "cut":
            lines = data.count(b"\n") + good[len(data) :].startswith(b"\n")  # one may be whole but for its line end
            wanted = events[: max(0, lines - 1)]
        if name == "spliced" and file.torn:
            wanted = events[:-1]  # text over the end of the last line may look like a torn one; that is reported
        return None if read == wanted and file.heading == heading else f"{name}: {len(read)} events of {len(wanted)}"

    yield case


def _flip(data: bytes, rng: random.Random) -> bytes:
    changed = bytearray(data)
    changed[rng.randrange(len(data))] ^= 1 << rng.randrange(8)
    return bytes(changed)


def _flips(data: bytes, rng: random.Random) -> bytes:
    for _ in range(rng.randint(2, 6)):
        data = _flip(data, rng)
    return data


def _flip_at_end(data: bytes, rng: random.Random) -> bytes:
    changed = bytearray(data)
    changed[-rng.randint(1, 20)] ^= 1 << rng.randrange(8)
    return bytes(changed)


def _cut(data: bytes, rng: random.Random) -> bytes:
    return data[: rng.randrange(len(data) + 1)]


def _zeroed(data: bytes, rng: random.Random) -> bytes:
    at = rng.randrange(len(data))
    length = min(rng.choice((1, 16, 512, 4096)), len(data) - at)
    return data[:at] + bytes(length) + data[at + length :]


def _zero_tail(data: bytes, rng: random.Random) -> bytes:
    return data[: rng.randrange(len(data))].ljust(len(data), b"\0")


def _lines(data: bytes) -> list[bytes]:
    return data.splitlines(keepends=True)


def _doubled(data: bytes, rng: random.Random) -> bytes:
    lines = _lines(data)
    at = rng.randrange(len(lines))
    return b"".join([*lines[: at + 1], *lines[at:]])


def _lost(data: bytes, rng: random.Random) -> bytes:
    lines = _lines(data)
    del lines[rng.randrange(len(lines) - 1)]  # the last one's loss is a cut
    return b"".join(lines)


def _moved(data: bytes, rng: random.Random) -> bytes:
    lines = _lines(data)
    one, two = rng.sample(range(len(lines)), 2)
    lines[one], lines[two] = lines[two], lines[one]
    return b"".join(lines)


def _garbage(data: bytes, rng: random.Random) -> bytes:
    return data + rng.choice((rng.randbytes(rng.randint(1, 300)), _cut(_lines(data)[-1][:-1], rng), b"\n", b"{"))


def _spliced(data: bytes, rng: random.Random) -> bytes:
    """Bytes of one place over those of another."""
    length = rng.randint(1, 400)
    source, target = rng.randrange(len(data)), rng.randrange(len(data))
    piece = data[source : source + length]
    changed = data[:target] + piece + data[target + len(piece) :]
    return changed[: len(data)] if changed[: len(data)] != data else _flip(data, rng)


def _made_up(data: bytes, rng: random.Random) -> bytes:
    """Values of other kinds in place of those that were written, with checksums that fit."""
    lines, previous = _lines(data), journal_line.START
    chosen = rng.randrange(len(lines))
    made = []
    for index, line in enumerate(lines):
        body = line.rpartition(b"\t")[0]
        if index == chosen:
            parts = body.split(b":")
            at = rng.randrange(1, len(parts))
            value, comma, rest = parts[at].partition(b",")
            closing = value[len(value.rstrip(b"}]")) :] if not comma else b""
            parts[at] = rng.choice(_PIECES).encode() + closing + comma + rest
            body = b":".join(parts)
        previous = journal_line.chained(previous, body)
        made.append(b"%s\t%s\n" % (body, previous.encode()))
    return b"".join(made)


_DAMAGES: dict[str, Callable[[bytes, random.Random], bytes]] = {
    "flip": _flip, "flips": _flips, "flip_at_end": _flip_at_end, "cut": _cut, "zeroed": _zeroed,
    "zero_tail": _zero_tail, "doubled": _doubled, "lost": _lost, "moved": _moved, "garbage": _garbage,
    "spliced": _spliced, "made_up": _made_up,
}  # fmt: skip
