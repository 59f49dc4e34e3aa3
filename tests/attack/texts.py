"""Generated texts for what options, files and databases hold: ids, names, numbers, times, ages, addresses, JSON."""

from __future__ import annotations

import json
import random
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from fractions import Fraction
from pathlib import Path
from typing import Any

import rfc8785
from pydantic import TypeAdapter, ValidationError

from tests.attack.run import Case
from tests.attack.spoil import ODD_NUMBERS, ODD_TEXTS, change_value
from voice.cli.options import name_given
from voice.data import fields
from voice.errors import GladhandError, shown
from voice.journal.line import START, Chain, Heading, encode, follows
from voice.logbook import columns
from voice.logbook.database import parse_url
from voice.logbook.database import shown as shown_url
from voice.logbook.prune import cut_off
from voice.measure.measure import exact, is_unit
from voice.record.canonical import canonical, parse_json
from voice.record.table import _cell
from voice.speak.pronounce import readable
from voice.understand.lexicon import plain_name
from voice.walk.event import EVENT, Event

ABOUT = "generated texts for every field and option: kept as they are, or refused in a sentence that tells no password"
SHARE = 4000

NOW = datetime(2026, 5, 31, 8, tzinfo=UTC)
SECRET = "zircon"  # a password
_ID, _RECORD, _FILE, _NAME, _TEXT = (
    TypeAdapter[str](each) for each in (fields.VehicleId, fields.RecordId, fields.FileName, fields.Name, fields.Text)
)
_EXACT, _MOMENT = TypeAdapter[str](fields.Exact), TypeAdapter[datetime](fields.Moment)
# Pieces of which texts of each kind are made: what is right, and what comes near.
_PIECES: dict[str, tuple[str, ...]] = {
    "age": ("3", "12", "100", "9999", "99999", "0", "-1", " ", "day", "days", "week", "month", "Months", "year", "٣"),
    "number": ("1", "0", "12", "/", "32", ".", "5", "-", "+", " ", "e", "9", "_", "1e99", "inf", "nan", "²", "½", "0x"),
    "id": ("truck", "-", "7", "a", "Z", ".", "..", "/", "\\", "_", " ", "é", "con", "nul", "2026", "T", ":", "%2e"),
    "time": ("2026", "-", "03", "02", "T", "06", ":", "00", "Z", "+", "14:00", ".", "5", "13", "45", "W", "e", "1e18"),
    "url": ("postgresql", "sqlite", "://", ":///", "user", ":", SECRET, "@", "host", "/", "depot", "?", "%", "[", "]"),
    "unit": ("in", "psi", "/", "min", "*", "**", "2", "9", "(", ")", "foot", "^", "kPa", "1", " ", "delta_", "°", "."),
    "fraction": ("4", "/", "32", "nds", " in", "1 3", "\"", "-", " ", "lbs", "psi", "0", "th", "999", "of", "ABS", "."),
}  # fmt: skip
_LINE = {"utc": NOW.isoformat(), "mono": 1.0}
_GOOD_EVENTS = (
    '{"at":1.0,"meaning":{"kind":"ok"},"words":"okay","confidence":0.9,"onset":0.5,"kind":"heard"}',
    '{"at":2.5,"meaning":{"value":{"value":"5/32","unit":"in"},"kind":"number"},"words":"five","kind":"heard"}',
    '{"at":3,"kind":"silence"}',
)


def _text(rng: random.Random, kind: str) -> str:
    """A text that comes near one of this kind."""
    if rng.random() < 0.1:
        return rng.choice(ODD_TEXTS)
    pieces = _PIECES[kind]
    made = "".join(rng.choice(pieces) for _ in range(1 + min(40, int(rng.expovariate(0.25)))))
    if rng.random() < 0.15:
        at = rng.randrange(len(made) + 1)
        made = (
            made[:at]
            + rng.choice((chr(rng.randrange(0x250)), chr(rng.randrange(0xD7FF)), rng.choice(ODD_TEXTS)))
            + made[at:]
        )
    return made


def _refused(read: Callable[[], Any]) -> Any:
    """What is read; None if it is refused as it should be."""
    try:
        return read()
    except ValidationError:
        return None
    except GladhandError as error:
        sentence = str(error)
        if not sentence.isprintable() or "Value error" in sentence:
            raise AssertionError(f"not a sentence: {sentence!r:.300}") from error
        if SECRET in sentence:
            raise AssertionError(f"it tells a password: {sentence!r:.300}") from error
        return None


def _age(rng: random.Random) -> str | None:
    text = _text(rng, "age")
    before = _refused(lambda: cut_off(text, NOW))
    return f"{text!r} is {before}" if before is not None and before > datetime(2026, 2, 28, 8, tzinfo=UTC) else None


def _number(rng: random.Random) -> str | None:
    text = _text(rng, "number")
    try:
        found = exact(text)
    except ValueError:
        found = None
    if found is not None and text.strip().isdecimal() and text.isascii() and found != int(text.strip()):
        return f"{text!r} is {found}"
    stored = _refused(lambda: columns.exact(text, "A reading"))
    if stored is not None and found is not None and stored != found:
        return f"{text!r} is {found} here and {stored} there"
    kept = _refused(lambda: _EXACT.validate_python(text, strict=True))
    if kept is not None and (kept != text or Fraction(kept) is None):
        return f"{text!r} was changed to {kept!r}"
    return None


def _id(rng: random.Random) -> str | None:
    text = _text(rng, "id")
    for form in (_ID, _RECORD, _FILE):
        kept = _refused(lambda form=form: form.validate_python(text, strict=True))  # type: ignore[misc]
        if kept is None:
            continue
        if kept != text:
            return f"{text!r} was changed to {kept!r}"
        beside = Path("/home/x") / kept
        if not beside.is_relative_to("/home/x") or ".." in beside.parts or len(beside.name) > 255:
            return f"{text!r} leads out of its folder"
    for free in (_NAME, _TEXT):
        kept = _refused(lambda free=free: free.validate_python(text, strict=True))  # type: ignore[misc]
        if kept is not None and kept != text:
            return f"{text!r} was changed to {kept!r}"
    given = _refused(lambda: name_given(text))
    if given is not None and given.split() != text.split():
        return f"the name {text!r} was changed to {given!r}"
    if not shown(text).isprintable():
        return f"{text!r} is shown as {shown(text)!r}"
    if _cell(text)[:1] in ("=", "+", "@", "\t", "\r"):
        return f"{text!r} is a formula in a table"
    plain_name(text)
    return None


def _time(rng: random.Random) -> str | None:
    text = _text(rng, "time")
    kept = _refused(lambda: _MOMENT.validate_python(text))
    if kept is not None:
        stored = _refused(lambda: columns.moment(kept, "The start"))
        if stored is not None and stored != kept:
            return f"{text!r} is {kept} here and {stored} there"
    return None


def _url(rng: random.Random) -> str | None:
    text = _text(rng, "url")
    url = _refused(lambda: parse_url(text, "depot.url"))
    if url is not None and shown_url(url) != shown_url(url.set(username="another", password="another")):
        return f"{text!r} is shown as {shown_url(url)!r}"
    return None


def _unit(rng: random.Random) -> str | None:
    text = _text(rng, "unit")
    return None if isinstance(is_unit(text), bool) else f"{text!r}"


def _said(rng: random.Random) -> str | None:
    text = _text(rng, "fraction")
    said = readable(text)
    return f"{text!r} is read as {said!r}" if not said and text.split() else None


def _json(rng: random.Random) -> str | None:
    """Against the reference implementation of RFC 8785; and read again it is what was written."""
    content: Any = {"a": [1, 0.5, "x"], "b": {"c": None, "d": True}, "é": rng.choice(ODD_NUMBERS)}
    for _ in range(rng.randint(1, 4)):
        change_value(content, rng)
        content[rng.choice(("n", "\U0001f69a", "\ufb33", ""))] = rng.uniform(-1, 1) * 10.0 ** rng.randint(-30, 30)
    try:
        text = canonical(content)
    except ValueError:
        return None
    try:
        if text != rfc8785.dumps(content):
            return f"{content!r:.300}: not the canonical text"
    except rfc8785.CanonicalizationError:
        pass  # of whole numbers beyond a double's range it has none
    try:
        again = parse_json(text.decode())
    except ValueError as error:
        return None if "digits" in str(error) else f"{content!r:.300}: {error}"
    return None if canonical(again) == text else f"{content!r:.300}: read as {again!r:.300}"


def _event(rng: random.Random) -> str | None:
    """An event as a journal's line: whatever can be written is read as the same event, and written as that again."""
    event = json.loads(rng.choice(_GOOD_EVENTS))
    for _ in range(rng.randint(1, 2)):
        change_value(event, rng)
    at = event.get("at")
    if not isinstance(at, int | float) or not follows(at, 0.0):
        return None  # no journal takes it
    try:
        line, _ = encode(START, {**_LINE, "event": event})
    except ValueError:
        return None
    read = _read(line)
    again = _read(encode(START, {**_LINE, "event": EVENT.dump_python(read, mode="json")})[0])
    return None if again == read else f"{event!r:.300}: written as {again!r:.300}"


def _read(line: bytes) -> Event:
    chain = Chain(Path("journal.jsonl"))
    chain.heading = Heading("s", "attack", NOW, "0" * 64)
    chain.take(line[:-1])
    return chain.lines[-1].event


@contextmanager
def prepared(folder: Path) -> Iterator[Case]:
    ways = (_age, _number, _id, _time, _url, _said, _json, _event)

    def case(number: int, rng: random.Random) -> str | None:
        if number % 100 == 99:  # the reader of units takes its time
            return _unit(rng)
        return ways[number % len(ways)](rng)

    yield case
