"""Spoiled records: bytes, structure, values, with the hash made again or not."""

from __future__ import annotations

import contextlib
import io
import json
import random
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.attack.run import Case
from tests.attack.spoil import change_value, spoil_bytes
from tests.record.walks import signed
from voice.cli.records import _verdict
from voice.errors import RecordError
from voice.logbook.rows import check_record
from voice.record.device import trusted_keys
from voice.record.load import read_record
from voice.record.model import InspectionRecord
from voice.record.report import render_html
from voice.record.seal import content_sha256
from voice.record.table import entries_csv, readings_csv

ABOUT = "spoiled records: verify, import, report and tables end in a sentence; none is taken for the signed one"
SHARE = 60
PIECES = (
    b'"', b"\\", b"\\u0000", b"\\ud800", b"\\u00e9", b"{", b"}", b"[", b"]", b",", b":", b"0", b"1e999", b"-", b"NaN",
    b"Infinity", b"null", b"true", b"\xff", b"\x00", b"\xef\xbb\xbf", b"9" * 400, b"[" * 300, b'"id": "x",', b"\n",
    b'"value": "1/0",', b'"driver": "X", ', b"e9", b".5",
)  # fmt: skip


class Scene:
    """A home with one signed session, whose record is spoiled and put back."""

    def __init__(self, home: Path) -> None:
        self.home = home
        self.record = signed(
            home, {"brake-lights": ("defect", "lamp out")}, only=("chocks", "brake-lights", "tire-tread")
        )
        self.path = home / "sessions" / self.record.id / "record.json"
        self.body = self.path.read_bytes()
        self.trusted = trusted_keys(home)

    def case(self, number: int, rng: random.Random) -> str | None:
        body = self._spoiled(rng)
        self.path.write_bytes(body)
        try:
            with contextlib.redirect_stdout(io.StringIO()) as said, contextlib.redirect_stderr(said):
                # In most cases the record by itself; the whole session now and then, for it is made again then.
                alone = rng.random() < 0.95
                copy = self.home / "copy.json"
                shutil.copyfile(self.path, copy)
                code = _verdict(self.home, str(copy) if alone else self.record.id, self.trusted)
        finally:
            self.path.write_bytes(self.body)
        if "Traceback" in said.getvalue() or not said.getvalue().strip():
            return f"verify said {said.getvalue()!r:.200}"
        return self._read(body, code)

    def _read(self, body: bytes, code: int) -> str | None:
        try:
            found = read_record(body, "x.json")
        except RecordError as error:
            return _sentence(error) or (None if code else "verify calls sound what cannot be read")
        with contextlib.suppress(RecordError):
            check_record(body, "x.json", self.trusted)
            if _bare(found) != _bare(self.record):
                return "a changed record was taken for a signed one"
        if code == 0 and _bare(found) != _bare(self.record):
            return "verify calls a changed record sound"
        with contextlib.suppress(RecordError):
            check_record(body, "x.json", {})
        render_html(found)
        entries_csv(found)
        readings_csv(found)
        return None

    def _spoiled(self, rng: random.Random) -> bytes:
        if rng.random() < 0.4:
            return spoil_bytes(self.body, rng, PIECES)
        content = json.loads(self.body)
        for _ in range(rng.randint(1, 3)):
            change_value(content, rng)
        if rng.random() < 0.8:
            with contextlib.suppress(ValueError, RecursionError):
                content["record_sha256"] = content_sha256(content)
        if rng.random() < 0.5:
            content["device"] = None
        return json.dumps(content).encode()


def _bare(record: InspectionRecord) -> InspectionRecord:
    return record.model_copy(update={"device": None})


def _sentence(error: RecordError) -> str | None:
    text = str(error)
    return f"not a sentence: {text!r:.200}" if "\n" in text or "Value error" in text or len(text) > 500 else None


@contextmanager
def prepared(folder: Path) -> Iterator[Case]:
    yield Scene(folder / "home").case
