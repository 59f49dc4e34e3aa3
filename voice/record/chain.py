"""Files of chained lines beside the records: repairs.jsonl, cosignatures.jsonl. Append-only.

A signed record is never changed, so what is said of it later is a line of its own. Each line carries the hash of the
line before it and its own, so one that is changed, lost or moved in the middle is found out, and the device's signature
where the device has a key, so one that is made up is found out too. Lines cut off at the end cannot be noticed from the
file alone.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Generic, TypeVar

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
from filelock import FileLock, Timeout
from pydantic import ValidationError

from voice.data import durable
from voice.errors import RecordError
from voice.record.canonical import canonical, parse_json
from voice.record.device import DeviceKey, trusted_keys

_START = "0" * 64
_RESTORE = "Nothing in the file is trusted until it is put right; restore it from a copy."

Entry = TypeVar("Entry")


@dataclass(frozen=True)
class Chain(Generic[Entry]):
    """One kind of lines.

    context: what a signature of such a line is for, so that none can be taken for another.
    parse: the content of a line to what it says. Raises ValueError, KeyError, TypeError, RecursionError.
    """

    context: bytes
    parse: Callable[[Mapping[str, Any]], Entry]

    def read(self, path: Path, trusted: Mapping[str, bytes]) -> tuple[list[Entry], str, int]:
        """What the lines say, the last line's hash, and the length of the good part in bytes (a torn tail is not part
        of it: a line torn by a crash was never confirmed).

        trusted: public keys by fingerprint.
        Raises RecordError for a file that was damaged or altered.
        """
        try:
            data = path.read_bytes() if path.exists() else b""
        except OSError as error:
            raise RecordError(*durable.trouble(f"{path} cannot be read", error)) from error
        end = data.rfind(b"\n") + 1
        if data[end:] and not durable.is_unfinished(data[end:]):
            raise RecordError(f"{path}: its last line is damaged or altered.", _RESTORE)
        entries: list[Entry] = []
        previous, signed = _START, False
        for number, line in enumerate(data[:end].split(b"\n")[:-1], start=1):
            try:
                content, entry = self._line(line)
                if content["previous"] != previous:
                    raise ValueError("a line before it is missing or was changed")
                if "signature" in content:
                    self._check_signature(content, trusted)
                elif signed:  # once a line is, all later ones must be
                    raise ValueError("it is not signed by the device, but a line before it is")
                entries.append(entry)
            except (ValueError, KeyError, TypeError, RecursionError) as error:
                raise RecordError(f"{path}: line {number} is damaged or altered ({_why(error)}).", _RESTORE) from error
            previous, signed = content["sha256"], signed or "signature" in content
        return entries, previous, end

    def read_line(self, line: bytes, name: str, trusted: Mapping[str, bytes]) -> Entry:
        """What one line says that came without its file: its own hash and the device's signature are checked.

        name: for the error.
        trusted: public keys by fingerprint; with any, a line must be signed by one of them; with none, signatures are
            not looked at.
        Raises RecordError.
        """
        try:
            content, entry = self._line(line)
            if trusted:
                self._check_signature(content, trusted)
        except (ValueError, KeyError, TypeError, RecursionError) as error:
            raise RecordError(
                f"{name} is damaged, altered or forged: {_why(error)}.", "Send it again, from a good copy."
            ) from error
        return entry

    def add(self, home: Path, path: Path, said: Mapping[str, Any], key: DeviceKey | None) -> None:
        """Add a line; it is on the disk when this returns.

        said: its content.
        key: signs it.
        Raises RecordError.
        """
        try:
            durable.make_folder(home)
            with FileLock(f"{path}.lock", timeout=10, mode=durable.PRIVATE):
                _, previous, end = self.read(path, trusted_keys(home))
                content: dict[str, Any] = {"previous": previous, **said}
                content["sha256"] = _digest(content)
                if key is not None:
                    content["device"] = key.name
                    content["signature"] = base64.b64encode(key.sign_text(self.context, content["sha256"])).decode()
                line = json.dumps(content, ensure_ascii=False, separators=(",", ":")) + "\n"
                durable.append(path, line.encode(), keep=end)
        except Timeout as error:
            raise RecordError(f"{path} is in use by another program.", "Try again in a moment.") from error
        except OSError as error:
            raise RecordError(*durable.trouble(f"{path} cannot be written", error)) from error

    def _line(self, line: bytes) -> tuple[dict[str, Any], Entry]:
        """A line and what it says, its own hash checked."""
        content = parse_json(line.decode())
        if not isinstance(content, dict) or content.get("sha256") != _digest(content):
            raise ValueError("its content does not fit its hash")
        return content, self.parse(content)

    def _check_signature(self, content: Mapping[str, Any], trusted: Mapping[str, bytes]) -> None:
        """Raises ValueError."""
        if "signature" not in content:
            raise ValueError("it is not signed by a device")
        device = str(content.get("device"))
        public = trusted.get(device)
        if public is None:
            raise ValueError(f"it is signed by device {device:.16}, which this home does not know")
        try:
            signature = base64.b64decode(content["signature"], validate=True)
            Ed25519PublicKey.from_public_bytes(public).verify(signature, self.context + content["sha256"].encode())
        except (InvalidSignature, binascii.Error, TypeError) as error:
            raise ValueError("the device's signature does not fit it") from error


def _digest(content: Mapping[str, Any]) -> str:
    bare = {key: value for key, value in content.items() if key not in ("sha256", "device", "signature")}
    return hashlib.sha256(canonical(bare)).hexdigest()


def _why(error: Exception) -> str:
    return "it has not the expected form" if isinstance(error, ValidationError | KeyError) else str(error)
