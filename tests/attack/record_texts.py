"""Spoiled records and certifications in memory: small ones, so that there can be very many of them."""

from __future__ import annotations

import contextlib
import json
import random
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from tests.attack.records import PIECES
from tests.attack.run import Case
from tests.attack.spoil import change_value, spoil_bytes
from tests.logbook.data import (
    certification,
    content_of,
    day,
    defect,
    record,
    signed_bytes,
    signed_line,
    still,
    tread,
)
from voice.errors import RecordError
from voice.logbook.rows import Checked, check_record, fitting_repair
from voice.record.device import DeviceKey, device_key
from voice.record.load import read_record
from voice.record.repairs import read_line
from voice.record.seal import content_sha256
from voice.record.table import entries_csv, readings_csv

ABOUT = "spoiled records and certifications in memory: refused in a sentence, or just what was signed"
SHARE = 500


class Scene:
    """A record and a certification, signed by a device that is trusted; another device is not."""

    def __init__(self, folder: Path) -> None:
        self.key, self.stranger = device_key(folder / "cab"), device_key(folder / "stranger")
        self.trusted = {self.key.name: self.key.public}
        horn = defect("horn#not-working", "halt")
        made = record(
            "r1", day(0), defects=[horn], carried=[still(horn, record("r0", day(-1)))], odometer=1000,
            readings=[tread("9/32"), tread("8/32")], certifications=[certification(horn.key, day(0))],
        )  # fmt: skip
        self.content = content_of(made)
        self.body = signed_bytes(self.content, self.key)
        self.good = check_record(self.body, "r1", self.trusted)
        self.line_content: dict[str, Any] = {
            "previous": "0" * 64, "vehicle": "unit-0001", "record": "r1",
            "certification": certification(horn.key, day(0)).model_dump(mode="json"),
        }  # fmt: skip
        self.line = signed_line(self.line_content, self.key)
        self.repair = read_line(self.line, "line", self.trusted)

    def case(self, number: int, rng: random.Random) -> str | None:
        return self._line(rng) if number % 4 == 0 else self._record(rng)

    def _record(self, rng: random.Random) -> str | None:
        body, signed = self._spoiled(self.content, self.body, rng)
        found: Checked | None = None
        try:
            read = read_record(body, "x.json")
            entries_csv(read)
            readings_csv(read)
            found = check_record(body, "x.json", self.trusted)
        except RecordError as error:
            if fault := _sentence(error):
                return fault
        if found is not None and not signed and not _same(found, self.good):
            return f"a changed record was taken for a signed one: {body!r:.300}"
        with contextlib.suppress(RecordError):
            check_record(body, "x.json", {})  # of a home that trusts everybody
        return None

    def _line(self, rng: random.Random) -> str | None:
        body, signed = self._spoiled(self.line_content, self.line, rng)
        try:
            found = fitting_repair(read_line(body, "line 1", self.trusted))
        except RecordError as error:
            return _sentence(error)
        same = found == self.repair
        return None if signed or same else f"a changed certification was taken for a signed one: {body!r:.300}"

    def _spoiled(self, content: dict[str, Any], body: bytes, rng: random.Random) -> tuple[bytes, bool]:
        """The bytes, and whether the trusted device has signed them."""
        if rng.random() < 0.4:
            return spoil_bytes(body, rng, PIECES), False
        changed = json.loads(json.dumps(content))
        for _ in range(rng.randint(1, 3)):
            change_value(changed, rng)
        sign = signed_bytes if content is self.content else signed_line
        what = rng.randrange(4)
        if what == 0:  # a signature that fits: only its form can be wrong
            return sign(changed, self.key), True
        if what == 1:
            return self._forged(sign(changed, self.stranger), self.stranger, rng), False
        original = json.loads(body)
        kept = {name: original[name] for name in ("device", "signature", "sha256", "record_sha256") if name in original}
        made = {**changed, **kept}
        if what == 2 and "record_sha256" in made:
            with contextlib.suppress(ValueError, RecursionError):
                made["record_sha256"] = content_sha256(made)
        return json.dumps(made).encode(), False

    def _forged(self, body: bytes, by: DeviceKey, rng: random.Random) -> bytes:
        """Signed by another device, which now and then says that it is the trusted one."""
        return body.replace(by.name.encode(), self.key.name.encode()) if rng.random() < 0.5 else body


def _same(found: Checked, good: Checked) -> bool:
    return bool(json.loads(found.json()) == json.loads(good.json()))


def _sentence(error: RecordError) -> str | None:
    text = str(error)
    bad = not text.isprintable() or "Value error" in text or len(text) > 500
    return f"not a sentence: {text!r:.300}" if bad else None


@contextmanager
def prepared(folder: Path) -> Iterator[Case]:
    yield Scene(folder).case
