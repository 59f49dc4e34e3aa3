"""Ways to spoil a file's bytes, and values that no field expects; several attacks use them."""

from __future__ import annotations

import random
from typing import Any

# Values that have been trouble somewhere: to a number's reader, a file system, a terminal, a database, a page.
# They are tried as names of outputs, too: none may be a path that could be written.
ODD_TEXTS = (
    "", " ", "\x00", "A\x00B", "\x1b[2J", "a\nb", "\u202eabc", "../victim", "/dev/null/victim", "con", ".", "..", "-",
    "--",
    "1/0", "NaN", "inf", "-Infinity", "1e999", "1e99999999", "0x1F", "9" * 400, "x" * 300, "x" * 5000, "=1+1",
    "2026-13-45", "0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-14:00", "2026-01-01T00:00:00", "\ufeff", "é" * 200,
    "\U0001f69a", "{{ 7*7 }}", "<script>", "%s%n", "'; --", "foot**9**9", "null", "true", "~", "*a", "&a", "!!float x",
)  # fmt: skip
ODD_NUMBERS: tuple[int | float, ...] = (
    0, -1, 1, 2**31, 2**63, 2**64, -(2**70), 10**29, 1e300, -1e300, 5e-324, 0.1, 1e15,
)  # fmt: skip


def odd(rng: random.Random) -> Any:
    """Some value of some type."""
    kind = rng.randrange(8)
    if kind < 4:
        return rng.choice(ODD_TEXTS)
    if kind < 6:
        return rng.choice(ODD_NUMBERS)
    return rng.choice((None, True, False, [], {}, [1], {"a": 1}, [[[[]]]], [""]))


def change_value(content: Any, rng: random.Random) -> None:
    """Somewhere within: another value, one taken out, one twice, or a field that is not known. In place."""
    here = content
    while True:
        keys = list(here) if isinstance(here, dict) else range(len(here))
        if not keys:
            break
        key = rng.choice(list(keys))
        if isinstance(here[key], dict | list) and here[key] and rng.random() < 0.85:
            here = here[key]
            continue
        what = rng.randrange(4)
        if what == 0:
            del here[key]
        elif what == 1 and isinstance(here, list):
            here.append(here[key])
        elif what == 1:
            here[rng.choice(("extra", "id", "", "x" * 400))] = odd(rng)
        else:
            here[key] = odd(rng)
        return


def spoil_bytes(body: bytes, rng: random.Random, pieces: tuple[bytes, ...]) -> bytes:
    """One to three places changed: a bit turned, a piece put in or over, a stretch cut out or doubled, the end cut."""
    for _ in range(rng.randint(1, 3)):
        at = rng.randrange(len(body) + 1)
        size = min(len(body) - at, rng.choice((1, 1, 2, 8, 64, 1000)))
        match rng.randrange(7):
            case 0 if at < len(body):
                body = body[:at] + bytes([body[at] ^ 1 << rng.randrange(8)]) + body[at + 1 :]
            case 1 | 2:
                body = body[:at] + rng.choice(pieces) + body[at:]
            case 3:
                body = body[:at] + rng.choice(pieces) + body[at + size :]
            case 4:
                body = body[:at] + body[at + size :]
            case 5:
                body = body[: at + size] + body[at:]
            case _ if rng.random() < 0.2:
                body = body[:at]
    return body
