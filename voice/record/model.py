"""The inspection record: what a walk leaves behind. Published as JSON Schema; read by people and programs."""

from __future__ import annotations

from datetime import datetime
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from voice.measure.level import LevelName
from voice.route.model import Part, Place, Section, Vehicle

SCHEMA_VERSION = 1

Outcome = Literal["ok", "defect", "reading", "choice", "done", "not-applicable", "not-inspected"]


class Model(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class FindingRecord(Model):
    """One result against one limit; see voice.judge.model.Finding. Numbers are exact fractions as text ("4/32")."""

    level: LevelName
    quantity: str
    limit: str
    limit_text: str
    source: str
    known: Literal["read", "memory", "practice"]
    layer: str
    reading: str | None = None
    margin: str | None = None
    unit: str | None = None
    defect: str | None = None
    condition: str = Field("", description="What the criterion also asks and nobody measured; a person decides.")


class Standing(FindingRecord):
    """A finding of the summary. step: None for the vehicle as a whole; name: where, as it is said."""

    step: str | None = None
    name: str = ""
    told: str = Field("", description="What, as it is said; empty where the finding tells it.")


class LayerRecord(Model):
    """A limits file that was in force. sha256: of its bytes."""

    layer: str
    title: str
    file: str
    sha256: str


class ReadingRecord(Model):
    """A measured value. value: exact ("7/32"); decimal: the same for programs; name: gauge or follow-up, if several."""

    quantity: str
    value: str
    decimal: float
    unit: str
    name: str = ""


class DefectRecord(Model):
    """A defect found. key: stable over records of one vehicle (item, place, defect): the logbook follows it by this."""

    key: str = Field(description="item@place#defect, e.g. 'tire-tread@left-3-outer#worn'")
    step: str
    defect: str
    title: str
    details: dict[str, str] = Field(default_factory=dict, description="Answers to follow-up questions, as text.")
    level: LevelName
    finding: FindingRecord | None = None


class Evidence(Model):
    """How an answer was heard. clip: file name beside the record, None if refused."""

    words: str
    confidence: float
    engine: str
    model: str
    noise_db: float | None = None
    clip: str | None = None
    clip_sha256: str | None = None


class EntryRecord(Model):
    """One step of the walk and its answer. seconds: from being asked to being answered."""

    step: str
    item: str
    section: str
    part: Part
    title: str
    place: Place
    spoken_place: str
    outcome: Outcome
    reason: str = ""
    choice: str | None = None
    details: dict[str, str] = Field(default_factory=dict, description="Follow-ups of an item without a defect.")
    asked: datetime | None = None
    answered: datetime | None = None
    seconds: float | None = None
    readings: tuple[ReadingRecord, ...] = ()
    findings: tuple[FindingRecord, ...] = ()
    defects: tuple[DefectRecord, ...] = ()
    evidence: tuple[Evidence, ...] = ()
    corrected: int = Field(0, description="How often the answer was changed.")
    asked_again: int = Field(0, description="How often it had to be asked again because it was not understood.")


class CarriedRecord(Model):
    """An open defect of the previous report and what the driver said of it (49 CFR 396.13)."""

    key: str
    title: str
    found: datetime
    record: str
    answer: Literal["repaired", "still-there", "not-on-this-vehicle", "not-asked"]


class SectionRecord(Section):
    seconds: float = 0.0
    entries: int = 0


class NoteRecord(Model):
    at: datetime
    step: str | None
    text: str
    clip: str | None = None


class SignOff(Model):
    """The driver's spoken sign-off: electronic signature in the sense of 49 CFR 390.32."""

    name: str
    at: datetime
    words: str
    clip: str | None = None
    clip_sha256: str | None = None


class Certification(Model):
    """Mechanic's or carrier's certification per 49 CFR 396.11(a)(3)."""

    key: str
    verdict: Literal["repaired", "repair-unnecessary"]
    name: str
    at: datetime
    remark: str = ""


class Interruption(Model):
    """A gap: the program was stopped or died and went on later, the driver paused, or the microphone was lost."""

    stopped: datetime
    resumed: datetime
    torn_bytes: int = 0
    kind: Literal["stopped", "paused", "microphone-lost"] = "stopped"


class Summary(Model):
    """What stands against leaving, in the words a qualified person decides on. Never says the vehicle is safe."""

    counts: dict[LevelName, int]
    against: tuple[Standing, ...]
    watch: tuple[Standing, ...]
    unmeasured: tuple[str, ...] = Field((), description="Steps whose required reading was not taken.")
    not_inspected: tuple[str, ...] = ()
    unjudged: tuple[str, ...] = Field((), description="Steps whose reading has no limit, for want of a figure.")
    text: tuple[str, ...] = Field((), description="The spoken summary, sentence by sentence.")


class JournalRef(Model):
    """The journal this record was made from. sha256: of the file's bytes up to the sign-off (or to its end)."""

    file: str
    sha256: str
    events: int


class DeviceSignature(Model):
    """The device's signature over record_sha256. key: the public key's fingerprint; public, signature: base64."""

    algorithm: Literal["ed25519"] = "ed25519"
    key: str
    public: str
    signature: str


class InspectionRecord(Model):
    """A whole inspection. id: unique.

    certifications: those the driver could rely on at the review (for defects of earlier reports). Certifications of
    this record's own defects come later and are kept beside it, for a signed record is never changed.
    record_sha256: over the canonical JSON (RFC 8785) with this field empty and device null.
    """

    schema_version: Literal[1] = 1
    id: str
    program: str
    vehicle: Vehicle
    route: str
    route_title: str
    data_sha256: str
    limits: tuple[LayerRecord, ...] = Field((), description="The limits files in force; a later one overrides.")
    driver: str | None
    started: datetime
    ended: datetime | None
    odometer: ReadingRecord | None = None
    sections: tuple[SectionRecord, ...]
    entries: tuple[EntryRecord, ...]
    carried: tuple[CarriedRecord, ...] = ()
    notes: tuple[NoteRecord, ...] = ()
    interruptions: tuple[Interruption, ...] = ()
    summary: Summary
    sign_off: SignOff | None = None
    certifications: tuple[Certification, ...] = ()
    journal: JournalRef
    record_sha256: str = ""
    device: DeviceSignature | None = None

    @property
    def defects(self) -> tuple[DefectRecord, ...]:
        return tuple(defect for entry in self.entries for defect in entry.defects)
