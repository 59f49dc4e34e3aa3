"""The device's own key: signs records, so that one that was changed and hashed again is still found out.

The secret stays in home/device.key (mode 0600), its public half beside it in home/device.pub. Who can read the secret
can sign: it proves that a record left this device's program, not that what the driver said is true. Public keys of
other devices are trusted when their .pub files lie in home/trusted/.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
import os
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Protocol

from cryptography.exceptions import InvalidSignature, UnsupportedAlgorithm
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from filelock import FileLock, Timeout

from voice.data import durable
from voice.errors import RecordError, tell
from voice.record.model import DeviceSignature, InspectionRecord
from voice.record.seal import replace_file

_CONTEXT = b"gladhand inspection record 1\n"  # a signature for one purpose cannot be shown for another


def fingerprint(public: bytes) -> str:
    """A public key's short name: the first 16 hex digits of the SHA-256 of its 32 bytes."""
    return hashlib.sha256(public).hexdigest()[:16]


@dataclass(frozen=True, slots=True)
class DeviceKey:
    """A key pair. Nothing of the secret is shown."""

    _secret: Ed25519PrivateKey

    @property
    def public(self) -> bytes:
        return self._secret.public_key().public_bytes_raw()

    @property
    def name(self) -> str:
        return fingerprint(self.public)

    def sign_text(self, context: bytes, text: str) -> bytes:
        """A signature over a text, for one purpose only: the context."""
        return self._secret.sign(context + text.encode())

    def sign(self, record: InspectionRecord) -> InspectionRecord:
        """The sealed record with this device's signature."""
        return record.model_copy(update={"device": self.signature(_CONTEXT, record.record_sha256)})

    def signature(self, context: bytes, sha256: str) -> DeviceSignature:
        """The signature of a hash, for one purpose only: the context."""
        return DeviceSignature(
            key=self.name,
            public=base64.b64encode(self.public).decode(),
            signature=base64.b64encode(self.sign_text(context, sha256)).decode(),
        )


def _public_pem(public: Ed25519PublicKey) -> bytes:
    return public.public_bytes(serialization.Encoding.PEM, serialization.PublicFormat.SubjectPublicKeyInfo)


def load_key(home: Path) -> DeviceKey | None:
    """This device's key, or None if it has none. Raises RecordError for one that cannot be read or is open to all."""
    path = home / "device.key"
    if not path.exists():
        return None
    try:
        if os.name == "posix" and path.stat().st_mode & 0o077:
            raise RecordError(f"{path} can be read by others, so its signatures prove nothing.", f"chmod 600 {path}")
        secret = serialization.load_pem_private_key(path.read_bytes(), None)
    except OSError as error:
        raise RecordError(f"{path} cannot be read: {error.strerror}.", "Check its permissions.") from error
    except (ValueError, TypeError, UnsupportedAlgorithm) as error:
        raise RecordError(f"{path} is not a key.", "Put the right file back, or move it away for a new key.") from error
    if not isinstance(secret, Ed25519PrivateKey):
        raise RecordError(f"{path} is not an Ed25519 key.", "Move it away; a new key is made.")
    return DeviceKey(secret)


def device_key(home: Path) -> DeviceKey:
    """This device's key; made at the first use. Two programs that start at once end up with the same key."""
    path = home / "device.key"
    try:
        durable.make_folder(home)
        with FileLock(home / "device.key.lock", timeout=10, mode=durable.PRIVATE):
            if (key := load_key(home)) is not None:
                return key
            secret = Ed25519PrivateKey.generate()
            pem = secret.private_bytes(
                serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
            )
            # The public half first: a key without it would be of no use to others.
            replace_file(home / "device.pub", _public_pem(secret.public_key()))
            replace_file(path, pem)
            return DeviceKey(secret)
    except Timeout as error:
        raise RecordError(f"{path} is in use by another program.", "Try again in a moment.") from error
    except OSError as error:
        raise RecordError(*durable.trouble(f"{path} cannot be made", error)) from error


def trusted_keys(home: Path) -> dict[str, bytes]:
    """Public keys that this home trusts, by fingerprint: its own and those in home/trusted/*.pub.

    A file that is no such key is told once and left aside. Raises RecordError if its own secret key cannot be read, or
    if there are files but none is a key: without any key, records would be taken unsigned.
    """
    keys: dict[str, bytes] = {}
    wrong: list[RecordError] = []
    if (own := load_key(home)) is not None:
        keys[own.name] = own.public
    for path in [home / "device.pub", *sorted((home / "trusted").glob("*.pub"))]:
        if not path.exists():
            continue
        try:
            public = read_public(path)
        except RecordError as error:
            wrong.append(error)
        else:
            keys[fingerprint(public)] = public
    if wrong and not keys:
        raise wrong[0]
    for fault in wrong:
        _tell_once(f"{fault.message} It is left aside. {fault.hint}")
    return keys


@cache
def _tell_once(sentence: str) -> None:
    tell(sentence)


def read_public(path: Path) -> bytes:
    """A public key file (PEM). Raises RecordError."""
    try:
        public = serialization.load_pem_public_key(path.read_bytes())
    except (OSError, ValueError, UnsupportedAlgorithm) as error:
        raise RecordError(f"{path} is not a public key.", "Give a device.pub that this program wrote.") from error
    if not isinstance(public, Ed25519PublicKey):
        raise RecordError(f"{path} is not an Ed25519 key.", "Give a device.pub that this program wrote.")
    return public.public_bytes_raw()


class Signed(Protocol):
    """A record with a device's signature, or with none."""

    @property
    def record_sha256(self) -> str: ...
    @property
    def device(self) -> DeviceSignature | None: ...


def signature_fault(record: Signed, trusted: dict[str, bytes] | None, context: bytes = _CONTEXT) -> str | None:
    """What is wrong with the device's signature on a record, in one sentence; None if it is good.

    trusted: public keys by fingerprint; None where nobody is known: it must at least fit the key that it names.
    context: what it was signed as.

    A missing signature is a fault as soon as any key is trusted: else it would be enough to take it off.
    """
    device = record.device
    if device is None:
        return "It is not signed by a device, though this home has a device key." if trusted else None
    try:
        public, signature = (
            base64.b64decode(device.public, validate=True),
            base64.b64decode(device.signature, validate=True),
        )
        key = Ed25519PublicKey.from_public_bytes(public)
        key.verify(signature, context + record.record_sha256.encode())
    except (InvalidSignature, binascii.Error, ValueError):
        return "The device's signature does not fit the record."
    if fingerprint(public) != device.key:
        return "The device's signature names another key than the one it was made with."
    if trusted is not None and trusted.get(device.key) != public:
        return f"It is signed by device {device.key}, which this home does not know."
    return None
