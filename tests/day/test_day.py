"""A day out of a home's files: what is shown, its record, its report, and what verification says of it."""

from __future__ import annotations

import json
import shutil
import subprocess
from collections import Counter
from datetime import timedelta
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from typer.testing import CliRunner

from tests.day.invented import DAY, Home, at
from tests.record.walks import signed
from voice.cli import app
from voice.data.folders import prompts_dir
from voice.day.build import build_day
from voice.day.duty import duty_file, note_duty, read_duty
from voice.day.facts import Asked, Known, local_day, units
from voice.day.files import dump_day, load_day, verify_day
from voice.day.model import DayRecord
from voice.day.report import render_day
from voice.day.rules import day_rules
from voice.day.schema import day_schema, schema_file, schema_text
from voice.day.spans import Duty, Now
from voice.day.today import DayAsked, change_duty, is_due_for, look, signed_day, spans_now
from voice.day.watch import EVERY, watch
from voice.errors import RecordError, SetupError
from voice.record.cosign import CoSignature, cosign
from voice.record.device import device_key, trusted_keys
from voice.record.open_defects import OpenDefect
from voice.route import load_vehicle

TRACTOR, TRAILER = "tractor-trailer-five-axle-tractor", "tractor-trailer-five-axle-trailer"
pdf_tools = pytest.mark.skipif(shutil.which("pdfinfo") is None, reason="poppler-utils is not installed")


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Home:
    """Pre-trip with two faults, one certified; two looks at the cargo, one of them late; post-trip by another."""
    made = Home(tmp_path_factory.mktemp("home"))
    first = made.inspect(
        "pre-trip", "06:30", 412_000, {"triangles": ("defect", "missing"), "glad-hands": ("defect", "worn out")}
    )
    made.repaired(first, "06:50", TRAILER, "glad-hands#worn")
    note_duty(made.path, Duty(at("06:55"), "Rosa Quill", "driving", 412_000))
    made.inspect("en-route", "07:40", 412_048)
    made.inspect("en-route", "10:30", 412_205)
    note_duty(made.path, Duty(at("12:00"), "Rosa Quill", "off-duty", 412_280))
    made.inspect("post-trip", "12:10", 412_280, driver="Ned Marsh")
    return made


@pytest.fixture(scope="module")
def day(home: Home) -> DayRecord:
    return signed_day(home.path, DayAsked(vehicle=TRACTOR, day=DAY), Now(at("12:30")))


def test_the_record_puts_the_inspections_of_a_day_together(day: DayRecord) -> None:
    assert [each.kind for each in day.inspections] == ["pre-trip", "en-route", "en-route", "post-trip"]
    assert day.drivers == ("Rosa Quill", "Ned Marsh")
    assert [unit.id for unit in day.units] == [TRACTOR, TRAILER]
    assert [each.verdict for each in day.checks] == ["met", "late", "not-due"]
    assert [(each.due_mile, each.look_miles) for each in day.checks][:2] == [(412_050, 412_048), (412_198, 412_205)]
    assert day.checks[0].due == at("09:30")
    assert {each.key: (each.unit, each.certification is not None) for each in day.defects} == {
        "triangles#missing": (TRACTOR, False),
        "glad-hands#worn": (TRAILER, True),
    }


def test_a_second_signature_is_named_and_one_of_another_text_is_not(home: Home, tmp_path: Path) -> None:
    copy = tmp_path / "home"
    shutil.copytree(home.path, copy)
    wanted = DayAsked(vehicle=TRACTOR, day=DAY)
    first, second, *_ = look(copy, wanted, Now(at("12:30"))).record.inspections
    key = device_key(copy)
    for each, sha256 in ((first, first.record_sha256), (second, "0" * 64)):
        name = CoSignature(record=each.record, record_sha256=sha256, name="Ned Marsh", at=at("08:00"))
        cosign(copy, name, key)
    day = look(copy, wanted, Now(at("12:30"))).record
    assert [each.seconds for each in day.inspections] == [("Ned Marsh",), (), (), ()]


def test_what_stands_against_leaving_is_told_as_the_driver_was_told_it(tmp_path: Path) -> None:
    """49 CFR 396.13 and 393.75(b): an earlier defect that is still there, and a reading beyond its limit, stand too."""
    earlier = [
        OpenDefect(f"horn-air#{number}", f"Air horn: fault {number}", at("05:00"), "r1", "repair", 1, "r1")
        for number in (1, 2)
    ]
    script = {
        "carried@1": ("still there",),
        "carried@2": ("repaired",),
        "tire-tread@right-1": ("three thirty seconds", "yes"),
        "triangles": ("defect", "missing"),
    }
    record = signed(tmp_path, script, only=("triangles", "tire-tread"), carried=earlier, clips=False)
    of = local_day(record.started)
    day = build_day(Known((record,)), Asked(), of, at("12:30"), day_rules())
    (each,) = day.inspections
    assert len(each.against) == len(record.summary.against) == 3
    assert Counter(thing.kind for thing in each.against) == Counter(["found", "still-there", "beyond"])
    assert {thing.level for thing in each.against} <= {"repair", "halt"}
    assert [thing.title for thing in each.against if thing.kind == "still-there"] == ["Air horn: fault 1"]
    html = render_day(day, day_rules())
    assert "3 things stand against leaving: " in html
    for words in ("1 defect found", "1 earlier defect still there", "1 reading beyond a limit", "Air horn: fault 1"):
        assert words in html
    shown = CliRunner().invoke(app, ["day", "--all", "--date", str(of), "--home", str(tmp_path)]).output
    assert "3 things stand against leaving" in shown
    assert "Air horn: fault 1" in shown
    sealed = signed_day(tmp_path, DayAsked(day=of, everything=True), Now(at("12:30")))
    jsonschema.validate(json.loads(dump_day(sealed)), day_schema())


@pytest.mark.parametrize(
    ("said", "told"),
    [
        (("still there",), "1 earlier defect still there"),
        (("finish inspection", "yes"), "1 earlier defect not answered"),
    ],
)
def test_with_only_an_earlier_defect_no_report_says_that_there_is_none(
    tmp_path: Path, said: tuple[str, ...], told: str
) -> None:
    earlier = [OpenDefect("horn-air#1", "Air horn: fault", at("05:00"), "r1", "repair", 1, "r1")]
    record = signed(tmp_path, {"carried@1": said}, only=("triangles",), carried=earlier, clips=False)
    day = build_day(Known((record,)), Asked(), local_day(record.started), at("12:30"), day_rules())
    html = render_day(day, day_rules())
    assert f"1 thing stands against leaving: {told}" in html
    assert "found no new defect" in html
    assert "no defect found" not in html
    assert "found no defect or deficiency" not in html


def test_with_a_driver_only_what_that_driver_signed_is_listed(home: Home, tmp_path: Path) -> None:
    def kinds(**wanted: Any) -> list[str | None]:
        return [each.kind for each in look(copy, DayAsked(day=DAY, **wanted), Now(at("12:30"))).record.inspections]

    copy = tmp_path / "home"
    shutil.copytree(home.path, copy)
    assert kinds(driver="Rosa Quill") == ["pre-trip", "en-route", "en-route"]
    assert kinds(driver="ned marsh", vehicle=TRACTOR) == ["post-trip"]
    first = look(copy, DayAsked(day=DAY, everything=True), Now(at("12:30"))).record.inspections[0]
    name = CoSignature(record=first.record, record_sha256=first.record_sha256, name="Ned Marsh", at=at("08:00"))
    cosign(copy, name, device_key(copy))
    assert kinds(driver="Ned Marsh") == ["pre-trip", "post-trip"]
    assert kinds(driver="Ann Quill") == []
    checks = look(copy, DayAsked(driver="Ann Quill", day=DAY), Now(at("12:30"))).record.checks
    assert checks == ()
    known = ("Ann Quill", "Rosa Quill")
    assert kinds(driver="Ned Marsh", drivers=known) == ["pre-trip", "post-trip"]  # has signed here
    with pytest.raises(SetupError, match=r'no driver "Zed".*Ann Quill'):
        kinds(driver="Zed", drivers=known)
    (copy / "drivers.yaml").write_text("- Ann Quill\n")
    shown = CliRunner().invoke(app, ["day", "--driver", "Zed", "--home", str(copy)])
    assert isinstance(shown.exception, SetupError)  # main makes a sentence and 2 of it


def test_an_odometer_below_the_last_one_is_refused_unless_it_is_meant(home: Home, tmp_path: Path) -> None:
    copy = tmp_path / "home"
    shutil.copytree(home.path, copy)
    rosa = DayAsked("Rosa Quill")
    before = len(read_duty(copy))
    with pytest.raises(SetupError, match=r"80,000 miles is below the 412,280 miles.*--meant"):
        change_duty(copy, rosa, "driving", Now(at("13:00"), 80_000))
    assert len(read_duty(copy)) == before
    change_duty(copy, rosa, "driving", Now(at("13:00"), 412_280))
    change_duty(copy, rosa, "off-duty", Now(at("13:10")))
    change_duty(copy, rosa, "driving", Now(at("13:20"), 80_000), meant=True)
    change_duty(copy, rosa, "off-duty", Now(at("13:30"), 80_020))  # from what was meant on
    change_duty(copy, DayAsked("Ann Quill"), "driving", Now(at("13:40"), 9_000))  # of another's vehicle
    with pytest.raises(SetupError, match="is below the 9,000"):
        change_duty(copy, DayAsked("Ann Quill"), "driving", Now(at("13:50"), 8_000))
    other = made_of_another_unit(copy)
    change_duty(copy, rosa, "driving", Now(at("14:10"), 70_001))
    with pytest.raises(SetupError, match="is below the 70,001"):
        change_duty(copy, rosa, "driving", Now(at("14:20"), 70_000 - 5))
    assert other != TRACTOR


def test_the_day_refuses_an_odometer_below_the_last_one_too(home: Home) -> None:
    lower, wanted = Now(at("12:30"), 80_000), DayAsked(vehicle=TRACTOR)
    with pytest.raises(SetupError, match=r"80,000 miles is below the 412,280 miles of 2026-11-27 12:10\..*--meant"):
        look(home.path, wanted, lower)
    assert look(home.path, wanted, lower, lower=True).record.inspections
    assert look(home.path, wanted, Now(at("12:30"), 412_280)).record.inspections
    for other in (DayAsked(everything=True), DayAsked(vehicle=TRAILER)):  # whose odometer is not told
        assert look(home.path, other, lower).record.inspections


def test_an_odometer_of_days_ago_counts_too(tmp_path: Path) -> None:
    twelve = load_vehicle(prompts_dir() / "vehicles" / "tractor-twelve.yaml")
    Home(tmp_path).inspect("pre-trip", "06:30", 412_000, vehicle=twelve)
    later = at("06:30") + timedelta(days=4)
    with pytest.raises(SetupError, match="below the 412,000 miles of 2026-11-27"):
        look(tmp_path, DayAsked(vehicle=twelve.id), Now(later, 80_000))
    assert not look(tmp_path, DayAsked(vehicle=twelve.id), Now(later, 412_001)).record.inspections


def test_the_command_says_in_one_sentence_that_the_odometer_is_too_low(home: Home) -> None:
    at_home = ["--date", str(DAY), "--vehicle", TRACTOR, "--home", str(home.path)]
    shown = CliRunner().invoke(app, ["day", "--odometer", "80000", *at_home])
    assert isinstance(shown.exception, SetupError)
    assert CliRunner().invoke(app, ["day", "--odometer", "80000", "--meant", *at_home]).exit_code == 0


def made_of_another_unit(home: Path) -> str:
    """Rosa Quill has gone over to another vehicle. Returns its id."""
    made = Home(home)
    vehicle = load_of(made).model_copy(update={"id": "tractor-nine", "units": ()})
    return units(made.inspect("pre-trip", "14:00", 70_000, vehicle=vehicle))[0]


def test_a_unit_that_was_driven_is_reported_on_at_the_end_of_the_day(home: Home, tmp_path: Path) -> None:
    """49 CFR 396.11(a)(1), from memory: a report at the end of each day's work on each vehicle driven."""
    wanted = DayAsked(vehicle=TRACTOR, day=DAY)
    assert not any("end of the day" in text for text in look(home.path, wanted, Now(at("12:30"))).due)
    copy = tmp_path / "home"
    shutil.copytree(home.path, copy)
    for path in (copy / "sessions").iterdir():
        if "-po" in path.name:
            shutil.rmtree(path)
    told = look(copy, wanted, Now(at("12:30"))).due[-1]
    assert told.startswith("At the end of the day: a post trip inspection of tractor twelve, trailer forty,")
    assert told.endswith("federal rule three ninety six point eleven, paragraph a one.")


def test_it_keeps_to_its_published_schema(day: DayRecord) -> None:
    assert schema_file().read_text(encoding="utf-8") == schema_text(), "run: python -m voice.day.schema"
    jsonschema.Draft202012Validator.check_schema(day_schema())
    jsonschema.validate(json.loads(dump_day(day)), day_schema())


def test_verify_finds_a_change_of_the_day_and_of_what_it_names(home: Home, day: DayRecord, tmp_path: Path) -> None:
    file = tmp_path / "day.json"
    file.write_text(dump_day(day))
    assert load_day(file) == day
    trusted = trusted_keys(home.path)
    assert verify_day(file, home.path, trusted).sound
    assert "4 of 4" in verify_day(file, home.path, trusted).checks[-1].good
    changed = dump_day(day).replace('"verdict": "late"', '"verdict": "met"')
    file.write_text(changed)
    assert not verify_day(file, home.path, trusted).sound
    forged = day.model_copy(update={"device": None})
    file.write_text(dump_day(forged))
    assert not verify_day(file, home.path, trusted).sound  # it has lost its signature
    file.write_text(dump_day(day))
    copy = tmp_path / "copy"
    shutil.copytree(home.path, copy)
    first, last = day.inspections[0].record, day.inspections[-1].record
    shutil.copy(copy / "sessions" / last / "record.json", copy / "sessions" / first / "record.json")
    assert not verify_day(file, copy, trusted).sound


def test_the_commands_show_export_and_verify_it(home: Home, tmp_path: Path) -> None:
    def run(*words: str) -> tuple[int, str]:
        result = CliRunner().invoke(app, [*words, "--home", str(home.path)])
        return result.exit_code, result.output

    code, text = run("day", "--date", str(DAY), "--vehicle", TRAILER)
    assert code == 0
    assert "again due 09:30 / mile 412,050, looked at 07:40: in time" in text
    assert "repaired: Ada Finch" in text
    code, text = run("day", "export", "--date", str(DAY), "--all", "--out", str(tmp_path))
    assert code == 0, text
    file = next(tmp_path.glob("*.json"))
    assert run("verify", str(file))[0] == 0
    file.write_text(file.read_text().replace("412,048", "1").replace("412048", "412050"))
    assert run("verify", str(file))[0] == 1
    assert run("day", "--date", "yesterday")[1] == ""  # an error is a sentence on stderr, told by main


@pdf_tools
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_report_has_two_pages(day: DayRecord, tmp_path: Path, paper: str) -> None:
    pytest.importorskip("weasyprint")
    from voice.logbook.pdf import to_pdf

    file = tmp_path / "day.pdf"
    file.write_bytes(to_pdf(render_day(day, day_rules(), paper=paper)))  # type: ignore[arg-type]
    told = subprocess.run(["pdfinfo", file], capture_output=True, text=True, check=True).stdout
    assert "Pages:           2" in told
    text = subprocess.run(["pdftotext", "-layout", file, "-"], capture_output=True, text=True, check=True).stdout
    first, second = text.split("\f")[:2]
    assert "Looks at the cargo on the road" in first
    assert "late" in first
    assert "not certified" in second
    assert day.record_sha256[:8] in second


def test_a_damaged_record_and_a_damaged_line_stop_nothing(
    home: Home, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    copy = tmp_path / "home"
    shutil.copytree(home.path, copy)
    name = next(path for path in sorted((copy / "sessions").iterdir()) if "-en" in path.name)
    record = name / "record.json"
    record.write_text(record.read_text().replace("Rosa", "Rose"))
    with duty_file(copy).open("ab") as file:
        file.write(b'{"at": 3}\n{"at":"2026-11-27T')
    found = look(copy, DayAsked(vehicle=TRACTOR, day=DAY), Now(at("12:30"))).record
    assert len(found.inspections) == 3
    assert len(read_duty(copy)) == 2
    told = capsys.readouterr().err
    assert "The day is told without it" in told
    assert "line 3 is damaged" in told
    note_duty(copy, Duty(at("12:20"), "Rosa Quill", "driving"))  # the torn end is gone, the damage stays
    assert [duty.status for duty in read_duty(copy)] == ["driving", "off-duty", "driving"]


def test_a_walk_is_told_what_is_due(home: Home, tmp_path: Path) -> None:
    vehicle = load_of(home)
    copy = tmp_path / "home"
    shutil.copytree(home.path, copy)
    for path in (copy / "sessions").iterdir():
        if "-po" in path.name:
            shutil.rmtree(path)
    assert is_due_for(copy, vehicle, Now(at("11:00"), 412_210)) == ()
    assert is_due_for(copy, vehicle, Now(at("11:00"), 412_360))[0] == "The cargo check is due."


def load_of(home: Home):  # type: ignore[no-untyped-def]
    from voice.record.load import load_record

    return load_record(next((home.path / "sessions").glob("*/record.json"))).vehicle


class Over(Exception):  # noqa: N818
    """The watched time is over."""


def test_the_watch_says_each_thing_once_when_it_comes_due(home: Home, tmp_path: Path) -> None:
    copy = tmp_path / "home"
    shutil.copytree(home.path, copy)
    for path in (copy / "sessions").iterdir():
        if "-pr" not in path.name:
            shutil.rmtree(path)
    duty_file(copy).unlink()
    now, heard = at("06:31"), []

    def wait(seconds: float) -> None:
        nonlocal now
        assert seconds == EVERY
        now += timedelta(minutes=5)
        if now > at("10:00"):
            raise Over

    def say(sentence: str) -> None:
        heard.append(f"{now:%H:%M} {sentence}")

    with pytest.raises(Over):
        watch(lambda: spans_now(copy, DayAsked(vehicle=TRACTOR), DAY), lambda: now, wait, say, day_rules())
    assert heard[0] == "06:31 The next cargo check is due by mile 412,050 or 09:30."
    assert heard[1].startswith("07:11 Fifty miles may be behind you.")
    assert heard[2] == "09:31 The cargo check is due."
    assert heard[3].startswith("09:31 Three hours since the last look")
    assert len(heard) == 4


def test_an_inspection_file_and_a_day_are_told_apart(home: Home, day: DayRecord, tmp_path: Path) -> None:
    from voice.record.load import load_record

    file = tmp_path / "day.json"
    file.write_text(dump_day(day))
    with pytest.raises(RecordError, match="record of a day"):
        load_record(file)


def test_the_logbook_takes_old_and_new_records(home: Home, tmp_path: Path) -> None:
    """Records of version 0.2.0, of today's kinds, and of a rig that is one profile, in one logbook; and as days."""
    pytest.importorskip("sqlalchemy")
    from tests.record.test_earlier import EARLIER
    from voice.day.depot import known_of
    from voice.logbook.database import open_local, reading
    from voice.logbook.importer import import_home
    from voice.record.load import load_record

    copy = tmp_path / "home"
    shutil.copytree(home.path, copy)
    old = load_record(EARLIER / "record-0.2.0.json")
    (copy / "sessions" / old.id).mkdir()
    shutil.copy(EARLIER / "record-0.2.0.json", copy / "sessions" / old.id / "record.json")
    (copy / "trusted").mkdir()
    shutil.copy(EARLIER / "device-0.2.0.pub", copy / "trusted" / "old.pub")
    engine = open_local(copy)
    records = [each for each in import_home(engine, copy) if each.kind == "inspection"]
    assert [each.verdict for each in records] == ["imported"] * 5
    then = signed_day(copy, DayAsked(vehicle=old.vehicle.id, day=old.started.date()), Now(at("12:30")))
    assert [each.kind for each in then.inspections] == [None]
    assert then.inspections[0].record_sha256 == old.record_sha256
    with reading(engine) as session:
        known = known_of(session, DAY)
    engine.dispose()
    found = look(copy, DayAsked(vehicle=TRACTOR, day=DAY), Now(at("12:30")), known).record
    assert [each.kind for each in found.inspections] == ["pre-trip", "en-route", "en-route", "post-trip"]
    assert sum(each.certification is not None for each in found.defects) == 1


def test_a_walk_that_begins_while_a_look_is_due_says_so_first(home: Home, tmp_path: Path) -> None:
    from typing import cast

    from tests.walk.talkative import context
    from voice.session.asking import Asker
    from voice.session.chosen import tell_due
    from voice.session.resources import Resources, open_resources

    class Told:
        def __init__(self) -> None:
            self.said: list[str] = []

        def tell(self, text: str) -> None:
            self.said.append(text)

    copy = tmp_path / "home"
    shutil.copytree(home.path, copy)
    for path in (copy / "sessions").iterdir():
        if "-pr" not in path.name:
            shutil.rmtree(path)
    resources: Resources = open_resources(copy)
    plan = context().plan.model_copy(update={"vehicle": load_of(home)})

    def told(kind: str, miles: float) -> list[str]:
        asker: Any = Told()
        tell_due(resources, cast(Asker, asker), plan.model_copy(update={"kind": kind}), Now(at("07:00"), miles))
        return cast(Told, asker).said

    assert told("post-trip", 412_060)[0] == "The cargo check is due."
    assert told("en-route", 412_060) == []  # that is what this one is
    assert told("midday", 412_060) != []
    own_kind(copy)
    assert told("midday", 412_060) == []


def own_kind(home: Path) -> None:
    (home / "prompts").mkdir(exist_ok=True)
    (home / "prompts" / "kinds.yaml").write_text(
        "midday: {title: Midday check, call: [midday check], purpose: A look., rests_on: ours, known: practice,"
        " routes: {tractor-semitrailer: en-route}, cargo: true}\n"
    )


def test_a_kind_of_ones_own_with_cargo_is_a_look_at_it(tmp_path: Path) -> None:
    home = Home(tmp_path)
    home.inspect("pre-trip", "06:30", 412_000)
    home.inspect("midday", "07:30", 412_048)

    def looks() -> list[str | None]:
        day = look(tmp_path, DayAsked(vehicle=TRACTOR, day=DAY), Now(at("08:00"), 412_048))
        return [check.look for check in day.record.checks]

    assert looks() == [None]
    own_kind(tmp_path)
    first, then = looks()
    assert first is not None
    assert first.endswith("-miab")
    assert then is None
    (tmp_path / "prompts" / "kinds.yaml").write_text("midday: nonsense\n")  # told, and the day goes on without it
    assert looks() == [None]
