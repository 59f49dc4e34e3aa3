"""The inspection record: what a walk leaves behind. Published as JSON Schema; read by people and programs."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from voice.data.fields import (
    Amount,
    Base64,
    Count,
    FileName,
    Key,
    Moment,
    Name,
    RecordId,
    Sha256,
    Text,
    Title,
    UnitId,
)
from voice.measure.level import LevelName
from voice.record.base import FindingRecord as FindingRecord
from voice.record.base import Model as Model
from voice.record.base import ReadingRecord as ReadingRecord
from voice.record.base import Standing as Standing
from voice.route.model import MOST_STEPS, Part, Place, Section
from voice.route.vehicle import Vehicle

SCHEMA_VERSION = 1

Outcome = Literal["ok", "defect", "reading", "choice", "done", "not-applicable", "not-inspected"]

Details = Annotated[dict[Key, Text], Field(max_length=100)]  # follow-up questions and their answers
MANY = 5000  # of entries, and of what stands beside them; a walk has a few hundred


class LayerRecord(Model):
    """A limits file that was in force."""

    layer: Name
    title: Title
    file: Name
    sha256: Sha256 = Field(description="Of its bytes.")
    call: Name = Field("", exclude_if=lambda call: not call, description="Whose limits they are, as it was said.")


class DefectRecord(Model):
    """A defect found.

    key: stable over records of one vehicle (item, place, defect): the logbook follows it by this.
    """

    key: Key = Field(description="item@place#defect, e.g. 'tire-tread@left-3-outer#worn'")
    step: Key
    defect: Name
    title: Title
    details: Details = Field(default_factory=dict, description="Answers to follow-up questions, as text.")
    level: LevelName
    finding: FindingRecord | None = None


class Evidence(Model):
    """How an answer was heard.

    clip: file name beside the record, None if refused.
    """

    words: Text
    confidence: Amount
    engine: Name
    model: Name
    noise_db: Amount | None = None
    clip: FileName | None = None
    clip_sha256: Sha256 | None = None


class EntryRecord(Model):
    """One step of the walk and its answer.

    seconds: from being asked to being answered.
    """

    step: Key
    item: Name
    section: Name
    part: Part
    title: Title
    place: Place
    spoken_place: Title
    outcome: Outcome
    reason: Text = ""
    choice: Name | None = None
    details: Details = Field(default_factory=dict, description="Follow-ups of an item without a defect.")
    asked: Moment | None = None
    answered: Moment | None = None
    seconds: Amount | None = None
    readings: tuple[ReadingRecord, ...] = ()
    findings: tuple[FindingRecord, ...] = ()
    defects: tuple[DefectRecord, ...] = ()
    evidence: tuple[Evidence, ...] = ()
    corrected: Count = Field(0, description="How often the answer was changed.")
    asked_again: Count = Field(0, description="How often it had to be asked again because it was not understood.")
    # What was said of it that the answer does not say any more. Left out if empty: an earlier record stays the same.
    taken_back: tuple[Text, ...] = Field((), exclude_if=lambda words: not words)
    # The steps that one okay answered, itself among them. Left out if empty: an earlier record stays the same.
    together: tuple[Key, ...] = Field((), max_length=MOST_STEPS, exclude_if=lambda steps: not steps)


class CarriedRecord(Model):
    """An open defect of the previous report and what the driver said of it (49 CFR 396.13).

    unit: whose it is, and the key is that unit's own; empty, as before there were units: the key is the vehicle's.
    """

    unit: UnitId = ""
    key: Key
    title: Title
    found: Moment
    record: RecordId
    answer: Literal["repaired", "still-there", "not-on-this-vehicle", "not-asked"]


class NotDueRecord(Model):
    """What was not asked, because it had been measured lately; due again after days or miles. Never an OK."""

    step: Key
    title: Title
    last: Moment
    days: Count | None = None
    miles: Count | None = None


class SectionRecord(Section):
    seconds: Amount = 0.0
    entries: Count = 0


class NoteRecord(Model):
    at: Moment
    step: Key | None
    text: Text
    clip: FileName | None = None


class SignOff(Model):
    """The driver's spoken sign-off: electronic signature in the sense of 49 CFR 390.32."""

    name: Name
    at: Moment
    words: Text
    clip: FileName | None = None
    clip_sha256: Sha256 | None = None


class Certification(Model):
    """Mechanic's or carrier's certification per 49 CFR 396.11(a)(3).

    unit: in a record, as in CarriedRecord.
    """

    unit: UnitId = ""
    key: Key
    verdict: Literal["repaired", "repair-unnecessary"]
    name: Name
    at: Moment
    remark: Text = ""


class Interruption(Model):
    """A gap: the program was stopped or died and went on later, the driver paused, or the microphone was lost.

    clock-set-back: no gap; the computer's clock went from stopped back to resumed, so times of day do not compare.
    """

    stopped: Moment
    resumed: Moment
    torn_bytes: Count = 0
    kind: Literal["stopped", "paused", "microphone-lost", "clock-set-back"] = "stopped"


class Summary(Model):
    """What stands against leaving, in the words a qualified person decides on. Never says the vehicle is safe."""

    counts: dict[LevelName, Count]
    against: tuple[Standing, ...] = Field(max_length=MANY)
    watch: tuple[Standing, ...] = Field(max_length=MANY)
    unmeasured: tuple[Key, ...] = Field((), max_length=MANY, description="Steps whose required reading was not taken.")
    not_inspected: tuple[Key, ...] = Field((), max_length=MANY)
    unjudged: tuple[Key, ...] = Field(
        (), max_length=MANY, description="Steps whose reading has no limit, for want of a figure."
    )
    text: tuple[Text, ...] = Field((), description="The spoken summary, sentence by sentence.")


class JournalRef(Model):
    """The journal this record was made from.

    sha256: of the file's bytes up to the sign-off (or to its end).
    """

    file: FileName
    sha256: Sha256
    events: Count


class DeviceSignature(Model):
    """The device's signature over record_sha256.

    key: the public key's fingerprint.
    public, signature: base64.
    """

    algorithm: Literal["ed25519"] = "ed25519"
    key: Name
    public: Base64
    signature: Base64


class InspectionRecord(Model):
    """A whole inspection.

    id: unique.
    kind, kind_title: which kind of inspection it was ("post-trip"). Left out of records of before there were kinds.
    certifications: those the driver could rely on at the review (for defects of earlier reports). Certifications of
    this record's own defects come later and are kept beside it, for a signed record is never changed.
    odometer, hubodometer: of the unit at the head, and of the trailer.
    remarks: what was odd about it in view of earlier ones, as it was said at the beginning. Left out if there are none.
    record_sha256: over the canonical JSON (RFC 8785) with this field empty and device null.
    """

    schema_version: Literal[1] = 1
    id: RecordId
    program: Name
    vehicle: Vehicle
    route: Name
    route_title: Title
    kind: Name = Field("", exclude_if=lambda kind: not kind)
    kind_title: Title = Field("", exclude_if=lambda title: not title)
    data_sha256: Sha256
    limits: tuple[LayerRecord, ...] = Field((), description="The limits files in force; a later one overrides.")
    driver: Name | None
    started: Moment
    ended: Moment | None
    odometer: ReadingRecord | None = None
    hubodometer: ReadingRecord | None = Field(None, exclude_if=lambda reading: reading is None)
    remarks: tuple[Text, ...] = Field((), exclude_if=lambda remarks: not remarks)
    sections: tuple[SectionRecord, ...]
    entries: tuple[EntryRecord, ...] = Field(max_length=MANY)
    not_due: tuple[NotDueRecord, ...] = Field((), max_length=MANY, exclude_if=lambda steps: not steps)
    carried: tuple[CarriedRecord, ...] = ()
    notes: tuple[NoteRecord, ...] = ()
    interruptions: tuple[Interruption, ...] = ()
    summary: Summary
    sign_off: SignOff | None = None
    certifications: tuple[Certification, ...] = ()
    journal: JournalRef
    record_sha256: Sha256 | Literal[""] = ""
    device: DeviceSignature | None = None

    @property
    def defects(self) -> tuple[DefectRecord, ...]:
        return tuple(defect for entry in self.entries for defect in entry.defects)
