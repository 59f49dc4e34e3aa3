"""From a session on disk to its record."""

from __future__ import annotations

import hashlib
import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from itertools import accumulate
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.record.walks import SHORT, record_of, signed, walk
from tests.walk.talkative import context
from voice.journal import folder as session
from voice.journal import journal
from voice.journal.line import Line
from voice.judge import judge_reading, load_limits
from voice.judge.answer import Answer
from voice.judge.model import Result, Subject
from voice.measure import Measure
from voice.record.build import journal_ref
from voice.record.entry import EntryMaker, odometer_record
from voice.record.files import make_record
from voice.record.model import InspectionRecord
from voice.record.report import render_html
from voice.record.table import entries_csv
from voice.record.timeline import Timeline, section_seconds, worked
from voice.understand.meaning import Command, Ok, Words
from voice.walk.event import Event, Heard, Lost, Regained, Resumed, Started

SCRIPT = {
    "brake-lights": ("defect", "lamp out"),
    "tire-tread@right-1": ("three thirty seconds", "yes"),
    "wipers": ("take a note", Words("left blade is stiff"), "okay"),
    "horn-air": ("not applicable", Words("no air horn fitted")),
    "mirror-outside@left": ("pause", "resume", "okay"),
    "glad-hands": ("skip",),
}


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("home")


@pytest.fixture(scope="module")
def record(home: Path) -> InspectionRecord:
    return signed(home, SCRIPT, interrupt="rim-lugs@left-2")


def test_every_step_has_one_entry_in_walking_order(home: Path, record: InspectionRecord) -> None:
    plan, _ = session.load_snapshot(session.find(home, record.id))
    assert [entry.step for entry in record.entries] == [step.id for step in plan.steps]
    assert len(record.entries) == len({entry.step for entry in record.entries})
    assert {entry.item for entry in record.entries} == set(SHORT)
    assert all(entry.answered is not None for entry in record.entries)


def test_what_was_said_is_what_is_recorded(record: InspectionRecord) -> None:
    entries = {entry.step: entry for entry in record.entries}
    assert (entries["horn-air"].outcome, entries["horn-air"].reason) == ("not-applicable", "no air horn fitted")
    assert entries["glad-hands"].outcome == "ok"  # put off, and asked again
    tread = entries["tire-tread@right-1"]
    assert [(r.quantity, Fraction(r.value), r.unit) for r in tread.readings] == [("tread-depth", Fraction(3, 32), "in")]
    assert tread.readings[0].decimal == 0.09375
    leak = entries["air-leak-applied"]
    assert {r.quantity for r in leak.readings} >= {"gauge-start", "gauge-end", "hold-time"}
    (note,) = record.notes
    assert (note.step, note.text) == ("wipers", "left blade is stiff")
    assert record.driver == "Rosa Quill"
    assert record.odometer is not None
    assert record.odometer.decimal == 412345.0


def test_a_named_defect(record: InspectionRecord) -> None:
    (defect,) = [d for d in record.defects if d.step == "brake-lights"]
    assert defect.key == "brake-lights#lamp-out"
    assert defect.title == "Brake lights: lamp out"
    assert defect.details == {"side": "Left"}
    assert defect.level == "repair"
    assert defect.finding is not None
    assert defect.finding.source.startswith("49 CFR 393.9")  # the rule on lamps that must work


def test_of_two_defects_that_were_named_each_keeps_its_own_level(tmp_path: Path) -> None:
    said = {"tire-condition@left-1": ("cut", "cords showing", "no")}
    entries = {entry.step: entry for entry in signed(tmp_path, said, only=("tire-condition",)).entries}
    named = [(defect.defect, defect.level) for defect in entries["tire-condition@left-1"].defects]
    assert sorted(named) == [("cords", "halt"), ("cut", "repair")]


def test_a_reading_beyond_its_limit_is_a_defect_though_none_was_named(record: InspectionRecord) -> None:
    # 49 CFR 393.75(b): at least 4/32 in on a steer axle.
    (defect,) = [d for d in record.defects if d.step == "tire-tread@right-1"]
    assert defect.key == "tire-tread@right-1#beyond-tread-depth"
    assert defect.level == "repair"
    assert defect.finding is not None
    assert defect.finding.source == "49 CFR 393.75(b)"
    assert Fraction(defect.finding.reading or "0") == Fraction(3, 32)
    assert Fraction(defect.finding.margin or "0") == Fraction(-1, 32)
    assert defect.finding.layer


def test_a_defect_that_is_a_reading_names_the_quantity_if_it_is_not_the_items_own() -> None:
    plan = context(only=("tire-tread",)).plan
    step, subject = plan.steps[0], Subject(plan.vehicle, "tire-tread", plan.steps[0].place)
    readings = (("tread-depth", Measure(Fraction(1, 32), "in")), ("loose-fasteners", Measure(Fraction(9), "count")))
    found = [each for name, value in readings for each in judge_reading(load_limits(), subject, name, value)]
    result = Result(step.id, step.name, subject, "tires", "reading", tuple(found))
    maker = EntryMaker(plan, (), {}, Timeline((), START), ())
    made = maker.entry(step, Answer(step.id, "reading", 0, 1), result).defects
    titles = {each.defect: (each.title.rpartition(": ")[2], each.finding and each.finding.quantity) for each in made}
    assert titles == {
        "beyond-tread-depth": ("beyond its limit", "tread-depth"),
        "beyond-loose-fasteners": ("loose or missing wheel fasteners beyond its limit", "loose-fasteners"),
    }


def test_an_entry_has_a_defect_only_if_it_was_named_or_a_limit_is_not_met(record: InspectionRecord) -> None:
    for entry in record.entries:
        beyond = any(finding.level in ("repair", "halt") for finding in entry.findings)
        assert bool(entry.defects) == (beyond or entry.outcome == "defect"), entry.step


def test_the_summary_is_what_the_judge_says(record: InspectionRecord) -> None:
    summary = record.summary
    against = {finding.step for finding in summary.against}
    assert {"brake-lights", "tire-tread@right-1"} <= against
    assert summary.counts["repair"] + summary.counts["halt"] == len(summary.against)
    assert not summary.unmeasured
    assert not summary.not_inspected
    assert summary.text[-1].endswith("a qualified person decides whether the vehicle may go.")
    assert not any(word in " ".join(summary.text).lower() for word in ("passed", "is safe"))


def test_evidence_names_words_engine_and_clip(home: Path, record: InspectionRecord) -> None:
    folder = home / "sessions" / record.id
    entry = next(entry for entry in record.entries if entry.step == "brake-lights")
    assert [e.words for e in entry.evidence][:2] == ["defect", "lamp out"]
    for heard in entry.evidence:
        assert (heard.engine, heard.noise_db) == ("tests", -40.5)
        assert heard.clip is not None
        assert hashlib.sha256((folder / heard.clip).read_bytes()).hexdigest() == heard.clip_sha256
    assert record.sign_off is not None
    assert record.sign_off.clip_sha256 == hashlib.sha256((folder / str(record.sign_off.clip)).read_bytes()).hexdigest()
    # Every answer rests on something heard, but for a timed check that ends in silence too.
    assert all(entry.evidence for entry in record.entries)


def test_without_clips_there_are_none(tmp_path: Path) -> None:
    record = signed(tmp_path, only=("chocks", "brake-lights"), clips=False)
    assert not any(e.clip or e.clip_sha256 for entry in record.entries for e in entry.evidence)
    assert record.sign_off is not None
    assert record.sign_off.clip is None


def test_the_journals_hash_is_of_its_bytes(home: Path, record: InspectionRecord) -> None:
    path = home / "sessions" / record.id / "journal.jsonl"
    assert record.journal.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert record.journal.events == len(journal.read(path).lines)


def test_the_journals_hash_up_to_an_event_is_that_of_its_first_lines(home: Path, record: InspectionRecord) -> None:
    file = journal.read(session.find(home, record.id).journal)
    content, whole = file.path.read_bytes(), len(file.lines)
    for last in (0, whole // 2, whole - 2, whole - 1):
        heading_and_events = re.match(rb"(?:[^\n]*\n){%d}" % (last + 2), content)
        assert heading_and_events is not None
        ref = journal_ref(file, last)
        assert (ref.events, ref.sha256) == (last + 1, hashlib.sha256(heading_and_events[0]).hexdigest())
    assert journal_ref(file, None) == journal_ref(file, whole - 1)


def test_the_same_session_gives_the_same_record(home: Path, record: InspectionRecord) -> None:
    found = session.find(home, record.id)
    before = found.record.read_bytes()
    plan, limits = session.load_snapshot(found)
    _, known = walk(home / "other", only=("chocks",))
    known = replace(known, plan=plan, limits=limits)
    again = record_of(found, known)
    assert again == record
    assert found.record.read_bytes() == before


def test_an_open_walk_gives_a_draft_and_no_record(tmp_path: Path) -> None:
    found, known = walk(tmp_path, SCRIPT, stop_at="glad-hands")
    record = record_of(found, known)
    assert record.sign_off is None
    assert record.ended is None
    assert not found.record.exists()
    assert not found.signed
    assert "not finished" in found.report.read_text()
    left = [entry for entry in record.entries if entry.outcome == "not-inspected"]
    assert {"glad-hands", "brake-lights"} <= {entry.step for entry in left}
    assert all(entry.answered is None and not entry.evidence for entry in left)
    assert set(record.summary.unmeasured) >= {"air-leak-applied", "air-build-up"}
    assert "glad-hands" in record.summary.not_inspected


def test_finishing_early_lists_what_was_left_out(tmp_path: Path) -> None:
    record = signed(tmp_path, {"wipers": ("finish inspection", "yes")})
    left = {entry.step: entry for entry in record.entries if entry.outcome == "not-inspected"}
    assert "tire-tread@left-1" in left
    assert left["tire-tread@left-1"].reason
    assert "tire-tread@left-1" in record.summary.unmeasured
    assert "brake-lights" in record.summary.not_inspected


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("412345", 412345, "mi"),
        ("412,345", 412345, "mi"),
        ("663 000 km", 663000, "km"),
        ("99.5 MI", 99.5, "mi"),
    ],
)
def test_odometer(text: str, value: float, unit: str) -> None:
    reading = odometer_record(text)
    assert reading is not None
    assert (reading.decimal, reading.unit) == (value, unit)


@pytest.mark.parametrize("text", [None, "", "a lot", "12 furlongs", "-5"])
def test_an_odometer_that_is_no_number_is_left_out(text: str | None) -> None:
    assert odometer_record(text) is None


# --- time --------------------------------------------------------------------------------------------------------

START = datetime(2026, 3, 2, 5, 0, tzinfo=UTC)


def _lines(*events: Event, walls: tuple[float, ...] = ()) -> list[Line]:
    walls = walls or tuple(event.at for event in events)
    return [Line(n, START + timedelta(seconds=w), w, e) for n, (e, w) in enumerate(zip(events, walls, strict=True))]


def _heard(at: float, name: str | None = None) -> Heard:
    return Heard(at, Ok() if name is None else Command(name), name or "okay")  # type: ignore[arg-type]


def test_interruptions_of_every_kind() -> None:
    lines = _lines(
        Started(0.0), _heard(10.0), Resumed(10.0, torn=33), _heard(20.0, "pause"), _heard(80.0, "resume"),
        _heard(90.0), Lost(95.0), Regained(99.0), _heard(100.0, "pause"), Resumed(100.0), _heard(101.0, "resume"),
        walls=(0.0, 10.0, 500.0, 510.0, 570.0, 580.0, 585.0, 589.0, 590.0, 900.0, 901.0),
    )  # fmt: skip
    time = Timeline(lines, START)
    found = [
        (gap.kind, (gap.stopped - START).total_seconds(), (gap.resumed - START).total_seconds(), gap.torn_bytes)
        for gap in time.interruptions()
    ]
    assert found == [
        ("stopped", 10.0, 500.0, 33),
        ("paused", 510.0, 570.0, 0),
        ("microphone-lost", 585.0, 589.0, 0),
        ("stopped", 590.0, 900.0, 0),
    ]
    assert time.gaps() == [(10.0, 10.0), (20.0, 80.0), (95.0, 99.0), (100.0, 100.0)]


def test_a_clock_that_was_set_back_is_remarked_and_changes_no_duration() -> None:
    lines = _lines(Started(0.0), _heard(10.0), _heard(20.0), _heard(30.0), walls=(0.0, 10.0, -3580.0, -3570.0))
    time = Timeline(lines, START)
    (gap,) = time.interruptions()
    assert (gap.kind, gap.stopped, gap.resumed) == (
        "clock-set-back", START + timedelta(seconds=10), START - timedelta(seconds=3580),
    )  # fmt: skip
    assert time.gaps() == []
    assert time.utc(30.0) == START - timedelta(seconds=3570)


def test_session_seconds_become_wall_time_over_a_stop() -> None:
    lines = _lines(Started(0.0), _heard(10.0), Resumed(10.0), _heard(15.0), walls=(0.0, 10.0, 3600.0, 3605.0))
    time = Timeline(lines, START)
    assert time.utc(4.0) == START + timedelta(seconds=4)
    assert time.utc(12.0) == START + timedelta(seconds=3602)
    assert time.utc(99.0) == START + timedelta(seconds=3605 + 84)
    assert time.utc(-1.0) == START


@given(st.lists(st.floats(0.0, 100.0), min_size=1, max_size=20), st.data())
def test_section_times_add_up_to_the_whole(steps: list[float], data: st.DataObject) -> None:
    ends = list(accumulate(steps))
    answers = [Answer(f"s{n}", "ok", end, end) for n, end in enumerate(ends)]
    sections = {answer.step: data.draw(st.sampled_from("abc")) for answer in answers}
    spent = section_seconds(data.draw(st.permutations(answers)), sections, ())
    assert sum(spent.values()) == pytest.approx(ends[-1])


def test_pauses_do_not_count_for_a_section() -> None:
    answers = [Answer("x", "ok", 0.0, 10.0), Answer("y", "ok", 10.0, 100.0)]
    assert section_seconds(answers, {"x": "one", "y": "two"}, [(20.0, 80.0)]) == {"one": 10.0, "two": 30.0}
    assert worked(0.0, 50.0, [(-5.0, 5.0), (45.0, 70.0)]) == 40.0


def test_sections_of_a_walk(record: InspectionRecord) -> None:
    assert sum(section.entries for section in record.sections) == len(record.entries)
    assert sum(section.seconds for section in record.sections) > 0
    kinds = [gap.kind for gap in record.interruptions]
    assert sorted(kinds) == ["paused", "stopped"]
    assert next(gap for gap in record.interruptions if gap.kind == "stopped").torn_bytes == 17


def test_corrections_and_repeats_are_counted(tmp_path: Path) -> None:
    script = {"wipers": ("okay", "correct that", "defect")}
    found, known = walk(tmp_path, script, only=("chocks", "wipers", "triangles"))
    file = journal.read(found.journal)
    record = make_record(known.plan, file, session.replay(known, file), known.limits, known.defects)
    assert next(entry for entry in record.entries if entry.step == "wipers").corrected == 1


def test_a_defect_that_was_taken_back_is_told_of(tmp_path: Path) -> None:
    script = {"wipers": ("loose", "skip", "no", "correct that", "okay", "nothing wrong")}
    record = signed(tmp_path, script, only=("chocks", "wipers", "triangles"))
    entry = next(entry for entry in record.entries if entry.step == "wipers")
    assert (entry.outcome, entry.taken_back) == ("ok", ("loose",))
    assert "said before: loose" in render_html(record)
    assert any(row.endswith(",loose") for row in entries_csv(record).splitlines())
