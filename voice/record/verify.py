"""Was a record, its journal or a recording changed since? Says what differs, and where.

Five things are looked at, each for what it can show:
- the record's hash: a change by accident, or by someone who did not work the hash out again;
- the device's signature: also a change by someone who did, but has not the device's key;
- the journal's chain of checksums and its hash in the record, the recordings' hashes in both;
- the photos' hashes, in a chain of lines of their own;
- the record made once more from the journal: names each field that differs, with both values.
Whoever holds the device's key and rewrites everything is not found out by any of it.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from voice.data.fields import FILE_NAME
from voice.errors import GladhandError, RecordError
from voice.journal import journal
from voice.journal.journal import JournalFile
from voice.record.build import journal_ref
from voice.record.cosign import seconds
from voice.record.device import signature_fault
from voice.record.load import parse_record, read_content
from voice.record.model import InspectionRecord
from voice.record.open_defects import certified_of
from voice.record.past import pasts_of
from voice.record.photos import photos_checked
from voice.record.repairs import read_repairs
from voice.record.seal import content_sha256
from voice.route.units import units_of


@dataclass(frozen=True, slots=True)
class Rebuilt:
    """A record made once more from its journal.

    same_files: the route files are still those that the session began with; else titles may differ.
    program: what made it now, if that is another version than the session's; then differences may come from that, and
        are no fault.
    """

    record: InspectionRecord
    same_files: bool = True
    program: str | None = None


Rebuild = Callable[[], Rebuilt]

_SHOWN = 12  # differences told one by one; the rest is counted
# Wording that the record takes from today's route files, not from the session's own copy of the plan.
_TITLES = ("title", "text")


@dataclass(frozen=True, slots=True)
class Check:
    """One thing that was looked at.

    faults: one sentence each, none if all is well.
    good: said in that case.
    """

    name: str
    good: str
    faults: tuple[str, ...] = ()


@dataclass
class Verification:
    """What came of a verification.

    record: None if it could not even be read.
    """

    checks: list[Check] = field(default_factory=list)
    record: InspectionRecord | None = None

    @property
    def sound(self) -> bool:
        return not any(check.faults for check in self.checks)

    def add(self, name: str, good: str, faults: Sequence[str] = ()) -> None:
        self.checks.append(Check(name, good, tuple(faults)))


def verify_record(path: Path, trusted: Mapping[str, bytes]) -> Verification:
    """A record by itself: its form, its hash, its device's signature."""
    checked = Verification()
    try:
        content = read_content(path)
    except RecordError as error:
        checked.add("record", "", [str(error)])
        return checked
    try:
        checked.record = parse_record(content, path.name)
        checked.add("record", f"unchanged since it was sealed, {checked.record.record_sha256[:16]}")
    except RecordError as error:
        checked.add("record", "", [error.message])
        checked.record = _unsealed(content, path.name)
    if checked.record is not None:
        fault = signature_fault(checked.record, dict(trusted))
        device = checked.record.device
        good = "not signed by a device: whoever can write the file could have made it"
        checked.add("device", good if device is None else f"signed by {device.key}", [fault] if fault else [])
    return checked


def _unsealed(content: Mapping[str, Any], name: str) -> InspectionRecord | None:
    """A record whose hash does not fit, as far as it can be read at all."""
    try:
        return parse_record({**content, "record_sha256": content_sha256(content)}, name)
    except (RecordError, ValueError, RecursionError):  # the last two: content that has no canonical text
        return None


def verify_session(folder: Path, home: Path, trusted: Mapping[str, bytes], rebuild: Rebuild) -> Verification:
    """A session's folder: record, journal, recordings, photos.

    rebuild: makes the record from the journal again.
    """
    checked = verify_record(folder / "record.json", trusted)
    try:
        file = journal.read(folder / "journal.jsonl")
    except GladhandError as error:
        whole = "The sealed record is whole; restore journal.jsonl from a copy, or keep both as they are."
        advice = whole if checked.sound else "Restore journal.jsonl from a copy."
        checked.add("journal", "", [f"{error.message} {advice}"])
        return checked
    _check_journal(checked, file)
    _check_clips(checked, folder, file)
    if checked.record is not None:
        _check_certifications(checked, checked.record, home)
        if (second := seconds(home, checked.record)) is not None:
            checked.add("second driver", *second)
        if (photos := photos_checked(folder, checked.record, trusted)) is not None:
            checked.add("photos", *photos)
        _check_rebuilt(checked, checked.record, rebuild)
    return checked


def _check_journal(checked: Verification, file: JournalFile) -> None:
    faults = []
    record = checked.record
    if record is not None:
        last = record.journal.events - 1 if record.sign_off is not None else None
        if record.journal.events > len(file.lines):
            faults.append(f"It has {len(file.lines)} events; the record was made from {record.journal.events}.")
        elif journal_ref(file, last).sha256 != record.journal.sha256:
            faults.append("It is not the journal that the record was made from.")
        if file.heading.session != record.id:
            faults.append(f"It is of session {file.heading.session}, the record of {record.id}.")
    tail = f"; {file.torn} bytes of an unfinished line at its end" if file.torn else ""
    old = "; of version 1, without checksums of the plan and the limits" if file.heading.version == 1 else ""
    checked.add("journal", f"{len(file.lines)} events, every checksum fits{tail}{old}", faults)


def _clips(record: InspectionRecord | None, file: JournalFile) -> dict[str, str | None]:
    """Every recording that the journal or the record names, with its hash. What they disagree on has hash ""."""
    named: list[tuple[Any, Any]] = [(line.hearing.get("clip"), line.hearing.get("clip_sha256")) for line in file.lines]
    if record is not None:
        named += [(heard.clip, heard.clip_sha256) for entry in record.entries for heard in entry.evidence]
        if record.sign_off is not None:
            named.append((record.sign_off.clip, record.sign_off.clip_sha256))
        named += [(note.clip, None) for note in record.notes]
    clips: dict[str, str | None] = {}
    for name, sha256 in named:
        if not isinstance(name, str) or not isinstance(sha256, str | None):
            continue  # a journal is made up that has something else there: the record made again from it differs
        known = clips.get(name)
        clips[name] = "" if known and sha256 and known != sha256 else known or sha256
    return clips


def _check_clips(checked: Verification, folder: Path, file: JournalFile) -> None:
    faults = []
    clips = _clips(checked.record, file)
    for name, sha256 in clips.items():
        if fault := _clip_fault(folder, name, sha256):
            faults.append(fault)
    kept = {path.resolve() for path in (folder / "clips").glob("*")}
    known = {(folder / name).resolve() for name in clips if FILE_NAME.fullmatch(name)}
    strange = sorted(path.name for path in kept - known)
    more = f"; {len(strange)} more that no answer names" if strange else ""
    checked.add("recordings", (f"{len(clips)}, all unchanged" if clips else "none were kept") + more, faults)


def _clip_fault(folder: Path, name: str, sha256: str | None) -> str | None:
    """What is wrong with a recording, in one sentence.

    sha256: "" if the journal and the record disagree.
    """
    if not FILE_NAME.fullmatch(name):
        return f"{name!r:.60} cannot be the name of a recording."
    path = (folder / name).resolve()
    if not path.is_relative_to(folder.resolve()):
        return f"{name} is not in the session's folder."
    if sha256 == "":
        return f"{name}: the journal and the record give different hashes."
    if not path.is_file():
        return f"{name} is missing."
    try:
        with path.open("rb") as file:
            found = hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        return f"{name} cannot be read: {error.strerror}."
    return None if sha256 in (None, found) else f"{name} was altered."


def _check_certifications(checked: Verification, record: InspectionRecord, home: Path) -> None:
    if not record.certifications:
        return
    try:
        repairs = read_repairs(home)
    except RecordError as error:
        checked.add("repairs", "", [error.message])
        return
    known = {(repair.vehicle, repair.certification) for repair in repairs}
    # A certification of before units is kept under the combination; the record names the unit's key.
    for unit in units_of(record.vehicle):
        own = [past for past in pasts_of(record) if past.vehicle == unit.id]
        known |= {(unit.id, repair.certification) for repair in certified_of(unit.id, repairs, own)}
    faults = [
        f"{given.key}, {given.name}: not in repairs.jsonl."
        for given in record.certifications
        if (given.unit or record.vehicle.id, given.model_copy(update={"unit": ""})) not in known
    ]
    checked.add("repairs", "the certifications it relied on are in repairs.jsonl", faults)


def _check_rebuilt(checked: Verification, record: InspectionRecord, rebuild: Rebuild) -> None:
    name = "made again"
    try:
        made = rebuild()
    except GladhandError as error:
        checked.add(name, "", [f"The record cannot be made from the journal again: {error.message}"])
        return
    left_out = {"record_sha256", "device", "certifications"}
    # Of both all fields: what an earlier version had not, and what has its usual value now, is no difference.
    found = [
        difference
        for difference in differences(
            record.model_dump(mode="json", exclude=left_out), made.record.model_dump(mode="json", exclude=left_out)
        )
        if made.same_files or difference.path.rpartition(".")[2].partition("[")[0] not in _TITLES
    ]
    if found and made.program is not None:
        # Another version may hear, judge or word the same events otherwise; that is not for a fault.
        checked.add(name, f"by {made.program}, another version: {len(found)} fields differ, first {found[0]}")
        return
    faults = [str(difference) for difference in found[:_SHOWN]]
    if len(found) > _SHOWN:
        faults.append(f"and {len(found) - _SHOWN} more differences.")
    good = "from the journal, the same in every field"
    if not made.same_files:
        good += " (the route files have changed since; titles were not compared)"
    checked.add(name, good, faults)


@dataclass(frozen=True, slots=True)
class Difference:
    """A field with two values: as the record has it, and as the journal gives it."""

    path: str
    here: Any
    there: Any

    def __str__(self) -> str:
        return f"{self.path}: the record says {_short(self.here)}, the journal {_short(self.there)}."


def _short(value: Any) -> str:
    if value is _NOTHING:
        return "nothing"
    text = repr(value)
    return text if len(text) <= 60 else f"{text[:57]}..."


_NOTHING = object()


def differences(here: Any, there: Any, path: str = "") -> Iterator[Difference]:
    """Where two JSON values differ, field by field. List items that have a step are named by it."""
    if isinstance(here, dict) and isinstance(there, dict):
        for key in dict.fromkeys((*here, *there)):
            below = f"{path}.{key}" if path else key
            yield from differences(here.get(key, _NOTHING), there.get(key, _NOTHING), below)
    elif isinstance(here, list) and isinstance(there, list):
        for index in range(max(len(here), len(there))):
            one = here[index] if index < len(here) else _NOTHING
            two = there[index] if index < len(there) else _NOTHING
            known = two if isinstance(two, dict) else one
            name = known.get("step", index) if isinstance(known, dict) else index
            yield from differences(one, two, f"{path}[{name}]")
    elif here != there or isinstance(here, bool) != isinstance(there, bool):
        yield Difference(path, here, there)
