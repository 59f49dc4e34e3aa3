"""A second driver signs a finished inspection: aloud right after the first, or later by command."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

from voice.errors import GladhandError, SetupError, tell
from voice.journal.folder import Session
from voice.measure.cardinal import cardinal
from voice.record.cosign import CoSignature, cosign, cosignatures
from voice.record.device import load_key
from voice.record.files import write_report
from voice.record.load import load_record
from voice.record.model import InspectionRecord
from voice.session.asking import Asker
from voice.session.driving import driver_of
from voice.session.resources import Resources, known_drivers


def ask_co_driver(resources: Resources, asker: Asker, found: Session, record: InspectionRecord, name: str) -> bool:
    """Whether the second driver agrees and has signed. The record is whole without: nothing here ends the program."""
    talk, count = resources.driving, len(record.defects)
    said = talk.co_sign_defects
    defects = said.none if not count else said.one if count == 1 else said.many.format(count=cardinal(count))
    later = f"Not signed by {name}. Later: 'gladhand cosign {record.id} --driver \"{name}\"'."
    if record.sign_off is None or not asker.can_ask("co-sign"):
        tell(later)
        return False
    try:
        if asker.yes("co-sign", talk.co_sign.format(name=name, defects=defects)):
            co_sign(resources.home, found, name, words="yes")
            asker.tell(talk.co_signed.format(name=name))
            return True
        asker.tell(talk.co_sign_not.format(name=name))
    except GladhandError as error:
        tell(error)
    tell(later)
    return False


def co_sign(home: Path, found: Session, name: str, words: str = "") -> InspectionRecord:
    """Adds the second driver's signature and writes the report anew. Raises GladhandError.

    name: as it is to stand there; see `driving.driver_of`.
    words: what was said; empty where it was typed.
    """
    if not found.signed:
        raise SetupError(f"Inspection {found.id} is not signed yet.", f"Finish it first: 'gladhand resume {found.id}'.")
    record = load_record(found.record)
    first = record.sign_off
    if first is None:
        raise SetupError(f"Inspection {found.id} has no signature.", "A second driver signs after the first.")
    drivers = known_drivers(home)
    if _same(first.name, name, drivers):
        raise SetupError(f"{name} has signed {found.id} already, as the first.", "Give the second driver's name.")
    if any(_same(each.name, name, drivers) for each in cosignatures(home, record)):
        raise SetupError(f"{name} has co-signed {found.id} already.", "Nothing is left to do.")
    signature = CoSignature(
        record=record.id, record_sha256=record.record_sha256, name=name, at=datetime.now(UTC).astimezone(), words=words
    )
    cosign(home, signature, load_key(home))
    write_report(found, record)
    return record


def _same(signed: str, name: str, drivers: Sequence[str]) -> bool:
    """Whether who signed is that person; a part of a name that signed before is taken for its only driver."""
    if signed.casefold().split() == name.casefold().split():
        return True
    try:
        return bool(drivers) and driver_of(signed, drivers) == name
    except SetupError:
        return False
