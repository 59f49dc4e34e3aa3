"""One line of a device's repairs file on its own, as it travels to the depot.

The file's chain of hashes is checked on the device when it is read; here the line's own hash and the device's
signature are checked.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
from collections.abc import Mapping
from pathlib import Path

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
from pydantic import ValidationError

from voice.errors import RecordError
from voice.record.canonical import canonical, parse_json
from voice.record.model import Certification
from voice.record.repairs import Repair, read_repairs, repairs_file

_CONTEXT = b"gladhand repair certification 1\n"  # as voice.record.repairs signs it


def lines(home: Path) -> list[bytes]:
    """The whole lines of home's repairs file, checked as a whole first. Raises RecordError."""
    count = len(read_repairs(home))
    file = repairs_file(home)
    return file.read_bytes().split(b"\n")[:count] if file.exists() else []


def read_line(body: bytes, name: str, trusted: Mapping[str, bytes]) -> Repair:
    """The certification of one line. trusted: as for records; with any, an unsigned line is refused."""
    try:
        content = parse_json(body.decode("utf-8"))
        bare = {key: value for key, value in content.items() if key not in ("sha256", "device", "signature")}
        if content.get("sha256") != hashlib.sha256(canonical(bare)).hexdigest():
            raise ValueError("its content does not fit its hash")
        if trusted:
            _check_signature(content, trusted)
        certification = Certification.model_validate(content["certification"])
        return Repair(str(content["vehicle"]), str(content["record"]), certification)
    except ValidationError as error:
        raise RecordError(f"{name} is broken: it has not the expected form.", "Send it again.") from error
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise RecordError(f"{name} is broken, altered or forged: {error}.", "Restore it from a copy.") from error


def _check_signature(content: Mapping[str, object], trusted: Mapping[str, bytes]) -> None:
    public = trusted.get(str(content.get("device")))
    if public is None:
        raise ValueError("it is not signed by a device that is known here")
    try:
        signature = base64.b64decode(str(content.get("signature", "")), validate=True)
        Ed25519PublicKey.from_public_bytes(public).verify(signature, _CONTEXT + str(content["sha256"]).encode())
    except (InvalidSignature, binascii.Error) as error:
        raise ValueError("the device's signature does not fit it") from error
