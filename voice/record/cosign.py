"""A second driver's signature under a record: home/cosignatures.jsonl, a chain of lines beside the records.

Of a two-driver team one signature is enough, provided both agree as to the defects (49 CFR 396.11(a)(2)(ii), read on
reglogic.com). A second one is for who wants it kept that both did. The signed record is never changed.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from voice.data.fields import Moment, Name, RecordId, Sha256, Text
from voice.errors import RecordError
from voice.record.chain import Chain
from voice.record.device import DeviceKey, trusted_keys
from voice.record.model import InspectionRecord, Model


class CoSignature(Model):
    """The signature of a second driver.

    record, record_sha256: what was signed, by its id and its hash.
    words: what was said; empty where it was typed.
    """

    record: RecordId
    record_sha256: Sha256
    name: Name
    at: Moment
    words: Text = ""


def _parse(content: Mapping[str, Any]) -> CoSignature:
    return CoSignature.model_validate(content["cosignature"])


_CHAIN = Chain(b"gladhand second signature 1\n", _parse)


def cosignatures_file(home: Path) -> Path:
    return home / "cosignatures.jsonl"


def cosignatures(home: Path, record: InspectionRecord) -> list[CoSignature]:
    """Those of one record, oldest first. Raises RecordError for a file that was damaged or altered."""
    found = _CHAIN.read(cosignatures_file(home), trusted_keys(home))[0]
    return [each for each in found if each.record == record.id]


def seconds(home: Path, record: InspectionRecord) -> tuple[str, list[str]] | None:
    """For the verification of a record: who signed it too, and what is wrong with that; None if nobody did."""
    try:
        found = cosignatures(home, record)
    except RecordError as error:
        return "", [error.message]
    # A signature names the hash of what was signed.
    other = [each.name for each in found if each.record_sha256 != record.record_sha256]
    names = " and ".join(each.name for each in found)
    good = f"signed by {names} too, as cosignatures.jsonl says"
    return (good, [f"{name} signed another text of this record." for name in other]) if found else None


def cosign(home: Path, signature: CoSignature, key: DeviceKey | None = None) -> None:
    """Add a signature; it is on the disk when this returns.

    key: of the device, signs the line.
    Raises RecordError.
    """
    _CHAIN.add(home, cosignatures_file(home), {"cosignature": signature.model_dump(mode="json")}, key)
